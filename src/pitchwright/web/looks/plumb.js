// The plumb view: a bob hangs from the reading, and its point comes over the aim on the floor.
//
// Everything across the picture is cents from the aim, flat on the left, sharp on the right. Above
// the floor is now; below it lie the last seconds, newest at the bob's point, oldest at the bottom.
// The server says how wide the picture is (`half_cents`) and when that changes; here it is only
// drawn. Motion is smoothed over a few hundredths of a second so that twenty readings a second
// look like one bob; where the system asks for less motion nothing is smoothed.

const SVG = 'http://www.w3.org/2000/svg';
const TRAIL_S = 7;
const STEPS = [0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000];

const calm = window.matchMedia('(prefers-reduced-motion: reduce)');

function make(kind, className, parent) {
  const mark = document.createElementNS(SVG, kind);
  if (className) mark.setAttribute('class', className);
  parent.appendChild(mark);
  return mark;
}

function place(mark, at) {
  for (const [name, to] of Object.entries(at)) mark.setAttribute(name, to);
}

function plain(cents) {
  return String(Math.round(Math.abs(cents) * 100) / 100);
}

// Every mark is made once; drawing only moves it, so a slow phone keeps up.
class PlumbView {
  constructor(host) {
    this.host = host;
    this.words = { flat: '', sharp: '', aim: '', stop: '' };
    this.reading = null; // the newest message
    this.shown = { off: 0, half: 10 }; // what is on the screen at this moment
    this.trail = []; // {t, off}, oldest first
    this.arrived_ms = 0;
    this.svg = make('svg', 'plumb', host);
    // The picture says nothing that the words beside it do not say; they are what is read out.
    place(this.svg, { 'aria-hidden': 'true', focusable: 'false' });
    this.band = make('rect', 'plumb-aim', this.svg);
    this.centre = make('line', 'plumb-centre', this.svg);
    this.stops = [make('line', 'plumb-stop', this.svg), make('line', 'plumb-stop', this.svg)];
    this.stopWords = [make('text', 'plumb-small', this.svg), make('text', 'plumb-small', this.svg)];
    this.older = make('path', 'plumb-trail plumb-older', this.svg);
    this.path = make('path', 'plumb-trail', this.svg);
    this.floor = make('line', 'plumb-floor', this.svg);
    this.ticks = Array.from({ length: 13 }, () => ({
      line: make('line', 'plumb-tick', this.svg),
      word: make('text', 'plumb-figure', this.svg),
    }));
    this.thread = make('line', 'plumb-thread', this.svg);
    this.whisker = make('path', 'plumb-unsure', this.svg);
    this.bob = make('path', 'plumb-bob', this.svg);
    this.beyond = make('path', 'plumb-beyond', this.svg);
    this.sides = [make('text', 'plumb-side', this.svg), make('text', 'plumb-side', this.svg)];
    this.resize = new ResizeObserver(() => this.draw());
    this.resize.observe(host);
    this.frame = null;
  }

  // {turn, t_s, off_cents, u_cents, window_cents, half_cents, inside, low_cents, high_cents}
  take(message) {
    if (!message) return;
    if (!this.reading || message.turn !== this.reading.turn) {
      this.trail = [];
      this.shown = { off: message.off_cents, half: message.half_cents };
    }
    this.reading = message;
    this.arrived_ms = performance.now();
    this.trail.push({ t: message.t_s, off: message.off_cents });
    while (this.trail.length && this.trail[0].t < message.t_s - TRAIL_S - 1) this.trail.shift();
    if (this.frame === null) this.frame = requestAnimationFrame((ms) => this.step(ms));
  }

  say(words) {
    this.words = { ...this.words, ...words };
    this.draw();
  }

  step(ms) {
    this.frame = null;
    const since = Math.min(100, ms - (this.last_ms ?? ms));
    this.last_ms = ms;
    const { reading, shown } = this;
    const follow = calm.matches ? 1 : 1 - Math.exp(-since / 45);
    const widen = calm.matches ? 1 : 1 - Math.exp(-since / 140);
    shown.off += (reading.off_cents - shown.off) * follow;
    shown.half *= (reading.half_cents / shown.half) ** widen;
    this.draw();
    const still = Math.abs(shown.off - reading.off_cents) < 1e-3 * shown.half
      && Math.abs(shown.half / reading.half_cents - 1) < 1e-3;
    // The trail slides on for a moment after the last message, then everything rests.
    if (!still || ms - this.arrived_ms < 400) this.frame = requestAnimationFrame((next) => this.step(next));
    else this.last_ms = undefined;
  }

  draw() {
    const width = this.host.clientWidth;
    const height = this.host.clientHeight;
    const { reading, shown, words } = this;
    if (!width || !height) return;
    place(this.svg, { viewBox: `0 0 ${width} ${height}`, width, height });
    this.svg.classList.toggle('plumb-waits', !reading);
    const middle = width / 2;
    const margin = 14;
    const floor = Math.round(height * 0.5);
    const half = shown.half;
    const across = (cents) => middle + (cents / half) * (middle - margin);
    const held = (x) => Math.min(Math.max(x, margin), width - margin);

    const window_cents = reading ? reading.window_cents : half / 10;
    const wide = Math.max(2, across(window_cents) - middle);
    place(this.band, { x: middle - wide, y: 0, width: 2 * wide, height });
    place(this.centre, { x1: middle, x2: middle, y1: floor - 10, y2: floor + 10 });
    place(this.floor, { x1: 0, x2: width, y1: floor, y2: floor });
    this.drawTicks(across, floor, half, width);
    this.drawStops(across, width, height, reading);
    place(this.sides[0], { x: 12, y: 24, 'text-anchor': 'start' });
    place(this.sides[1], { x: width - 12, y: 24, 'text-anchor': 'end' });
    this.sides[0].textContent = `‹ ${words.flat}`;
    this.sides[1].textContent = `${words.sharp} ›`;
    if (!reading) return;

    const x = held(across(shown.off));
    const size = Math.max(48, Math.min(150, height * 0.26));
    place(this.thread, { x1: x, x2: x, y1: 0, y2: floor - size });
    this.bob.setAttribute('d', bobAt(x, floor, size));
    this.svg.classList.toggle('plumb-inside', Boolean(reading.inside));
    // Its point reads true; the bar through it is where the reading may truly be.
    const unsure = Math.max(1, across(reading.u_cents) - middle);
    const [left, right] = [held(x - unsure), held(x + unsure)];
    const seen = right - left > 12; // narrower than its own caps it says nothing; words do
    this.whisker.setAttribute('d', seen ? `M${left} ${floor - 7}v14M${left} ${floor}H${right}M${right} ${floor - 7}v14` : '');
    // What leaves the picture gets an arrow; how far it is stands in the large figure.
    const out = Math.abs(shown.off) > half;
    const edge = shown.off > 0 ? width - 4 : 4;
    const way = shown.off > 0 ? -1 : 1;
    this.beyond.setAttribute('d', out ? `M${edge} ${floor - size - 20}l${16 * way} -11v22z` : '');
    this.drawTrail(across, held, floor, height);
  }

  drawTicks(across, floor, half, width) {
    // At most three figures either side, however wide the picture.
    const step = STEPS.find((s) => half / s <= 3.01) ?? half / 2;
    this.ticks.forEach((tick, i) => {
      const cents = (i - 6) * step;
      const x = across(cents);
      const there = Math.abs(cents) <= half * 1.001;
      tick.line.style.display = tick.word.style.display = there ? '' : 'none';
      if (!there) return;
      place(tick.line, { x1: x, x2: x, y1: floor - (i === 6 ? 0 : 7), y2: floor + (i === 6 ? 0 : 7) });
      const anchor = x < 24 ? 'start' : x > width - 24 ? 'end' : 'middle';
      place(tick.word, { x: Math.min(Math.max(x, 3), width - 3), y: floor + 26, 'text-anchor': anchor });
      tick.word.textContent = i === 6 ? this.words.aim : plain(cents);
    });
  }

  drawStops(across, width, height, reading) {
    [reading?.low_cents, reading?.high_cents].forEach((cents, i) => {
      const x = cents === undefined || cents === null ? -1 : across(cents);
      const there = x > 0 && x < width;
      this.stops[i].style.display = this.stopWords[i].style.display = there ? '' : 'none';
      if (!there) return;
      place(this.stops[i], { x1: x, x2: x, y1: 0, y2: height });
      place(this.stopWords[i], { x: x + (i ? 7 : -7), y: height - 12, 'text-anchor': i ? 'start' : 'end' });
      this.stopWords[i].textContent = this.words.stop;
    });
  }

  drawTrail(across, held, floor, height) {
    const now = this.reading.t_s + Math.min(0.2, (performance.now() - this.arrived_ms) / 1000);
    const deep = height - floor - 4;
    const points = this.trail.map(({ t, off }) => [across(off), floor + ((now - t) / TRAIL_S) * deep]);
    points.push([across(this.shown.off), floor]);
    // What lay outside the picture is left out rather than drawn along its edge.
    const drawn = (from, to) => {
      let pen = 'M';
      let path = '';
      for (const [x, y] of points) {
        const there = y >= from && y <= to && x === held(x);
        if (there) path += `${pen}${x.toFixed(1)} ${y.toFixed(1)}`;
        pen = there ? 'L' : 'M';
      }
      return path;
    };
    const recent = floor + deep * 0.4;
    this.older.setAttribute('d', drawn(recent - 2, height));
    this.path.setAttribute('d', drawn(floor, recent));
  }

  close() {
    this.resize.disconnect();
    if (this.frame !== null) cancelAnimationFrame(this.frame);
  }
}

// A turned weight: a collar at the thread, shoulders, and a long point on the floor.
function bobAt(x, floor, size) {
  const top = floor - size;
  const w = size * 0.165;
  const at = (dx, share) => `${(x + dx * w).toFixed(1)} ${(top + share * size).toFixed(1)}`;
  return `M${at(-0.3, 0)}L${at(0.3, 0)}L${at(0.3, 0.12)}C${at(1.25, 0.14)} ${at(1.15, 0.44)} ${at(0.85, 0.52)}`
    + `L${at(0, 1)}L${at(-0.85, 0.52)}C${at(-1.15, 0.44)} ${at(-1.25, 0.14)} ${at(-0.3, 0.12)}Z`;
}

export function plumbView(host) {
  return new PlumbView(host);
}

