// Sound of the page itself: a tick for each beat, and two tones that beat with each other. It comes
// from the device that shows the page, starts only where somebody pressed a key for it, starts
// quiet and fades in.

const FADE_S = 0.4;
const QUIET = 0.03; // of full scale, about −30 dB
const LOUDEST = 0.25;
const FASTEST_TICKS_HZ = 12;

let context = null;

function wake() {
  context ??= new AudioContext();
  if (context.state === 'suspended') context.resume();
  return context;
}

// ---- ticks
let ticking = false;
let phase = 0;
let last = 0;

export function setTicking(on) {
  ticking = on;
}

// A browser lets sound start only where somebody has touched the page.
for (const touch of ['pointerdown', 'keydown']) {
  document.addEventListener(touch, () => { if (ticking) wake(); }, { capture: true });
}

// Counts the beat between reading and aim along, and ticks as each one comes round.
export function beatAt(rate_hz) {
  const now = performance.now() / 1000;
  const since = Math.min(0.2, now - last);
  last = now;
  if (!ticking || context?.state !== 'running' || rate_hz > FASTEST_TICKS_HZ) return;
  phase += rate_hz * since;
  if (phase < 1) return;
  phase %= 1;
  const at = context.currentTime;
  const tone = new OscillatorNode(context, { frequency: 1200 });
  const loud = new GainNode(context, { gain: 0 });
  loud.gain.setTargetAtTime(0.06, at, 0.002);
  loud.gain.setTargetAtTime(0, at + 0.012, 0.012);
  tone.connect(loud).connect(context.destination);
  tone.start(at);
  tone.stop(at + 0.12);
}

// ---- two tones
const PAUSE_MS = 800;
let pair = null;
let share = 0.3;
let newest_ms = 0;

export function setLoudness(to) {
  share = to;
  if (pair) pair.loud.gain.setTargetAtTime(loudness(), context.currentTime, 0.1);
}

function loudness() {
  return QUIET * (LOUDEST / QUIET) ** share / 2;
}

export function hearing() {
  return pair !== null;
}

// `following` tones fall silent while no reading comes: another note is heard meanwhile.
export function hear(one_hz, other_hz, following = false) {
  const there = wake();
  const at = there.currentTime;
  newest_ms = following ? performance.now() : Infinity;
  if (!pair) {
    const loud = new GainNode(there, { gain: 0 });
    // A triangle has the odd partials that make beats easy to hear and is gentler than a sawtooth.
    const tones = [one_hz, other_hz].map(
      (frequency) => new OscillatorNode(there, { type: 'triangle', frequency }),
    );
    for (const tone of tones) {
      tone.connect(loud);
      tone.start();
    }
    loud.connect(there.destination);
    loud.gain.setTargetAtTime(loudness(), at, FADE_S);
    pair = { loud, tones, silent: false };
  }
  if (pair.silent) {
    pair.silent = false;
    pair.loud.gain.setTargetAtTime(loudness(), at, FADE_S);
  }
  pair.tones[0].frequency.setTargetAtTime(one_hz, at, 0.05);
  pair.tones[1].frequency.setTargetAtTime(other_hz, at, 0.005);
}

setInterval(() => {
  if (!pair || pair.silent || performance.now() - newest_ms < PAUSE_MS) return;
  if (newest_ms === Infinity) return;
  pair.silent = true;
  pair.loud.gain.setTargetAtTime(0, context.currentTime, 0.1);
}, 200);

export function hush() {
  if (!pair) return;
  const { loud, tones } = pair;
  pair = null;
  const at = context.currentTime;
  loud.gain.cancelScheduledValues(at);
  loud.gain.setTargetAtTime(0, at, 0.05);
  for (const tone of tones) tone.stop(at + 0.4);
}
