// What happens on the device itself: live readings into the picture, keys and taps that go on,
// speech, ticks and tones. Elements are found by their `data-part` and `data-live` names.

import { plumbView } from './plumb.js';
import { beatAt, hear, hearing, hush, setLoudness, setTicking } from './sound.js';

const part = (name) => document.querySelector(`[data-part="${name}"]`);
const kept = {
  get: (name) => { try { return localStorage.getItem(`pitchwright.${name}`); } catch { return null; } },
  set: (name, to) => { try { localStorage.setItem(`pitchwright.${name}`, to); } catch { /* as it is */ } },
};

// ---- live readings
let view = null;
let viewHost = null;
let newest = null;

function showPlumb(message) {
  const host = part('plumb');
  if (!host) return;
  if (host !== viewHost) {
    view?.close();
    host.replaceChildren();
    view = plumbView(host);
    viewHost = host;
    view.say(JSON.parse(host.dataset.words));
  }
  for (const [t_s, off_cents] of message.points) view.take({ ...message, t_s, off_cents });
}

function live(message) {
  newest = message;
  for (const place of document.querySelectorAll('[data-live]')) {
    const words = message.words?.[place.dataset.live] ?? '';
    if (place.textContent !== words) place.textContent = words;
  }
  part('turn')?.classList.toggle('pw-at-aim', Boolean(message.inside));
  part('advance')?.style.setProperty('--rest', message.rest ?? 0);
  if (message.points) showPlumb(message);
  if (message.beat_hz !== undefined) beatAt(Math.abs(message.beat_hz));
  if (hearing() && pressed(part('hear')) && message.f_hz) hear(message.f_hz, message.aim_hz, true);
}

// Another turn: what was read in the last one is not to be read beside the new sentence.
function begin() {
  for (const place of document.querySelectorAll('[data-live]')) place.textContent = '';
}

// ---- keys, pedals, taps: whatever is meant for nothing else goes on
const TAKEN = 'button, a, input, select, textarea, summary, label, [role="slider"], [data-own-keys]';
const SOON_MS = 350; // a pedal bounces, and a key repeats
let advanced_ms = -1e9;

function advance() {
  const button = part('advance');
  if (!button || button.disabled || !button.offsetParent) return false;
  const now = performance.now();
  if (now - advanced_ms < SOON_MS) return true;
  advanced_ms = now;
  button.click();
  return true;
}

document.addEventListener('keydown', (event) => {
  if (event.repeat || event.altKey || event.ctrlKey || event.metaKey) return;
  const onOwn = event.target.closest?.(TAKEN);
  const typing = event.target.closest?.('input:not([type="range"]), select, textarea');
  const pedal = event.key === 'PageDown' && !typing;
  const onSlider = event.target.closest?.('input[type="range"]') && [' ', 'Enter'].includes(event.key);
  const free = [' ', 'Enter', 'ArrowRight', 'PageDown'].includes(event.key) && !onOwn;
  if ((pedal || onSlider || free) && advance()) event.preventDefault();
});

document.addEventListener('click', (event) => {
  if (event.target.closest?.('[data-tap]') && !event.target.closest(TAKEN)) advance();
});

// ---- switches that live on this device
function pressed(button) {
  return button?.getAttribute('aria-pressed') === 'true';
}

function press(button, on) {
  button.setAttribute('aria-pressed', String(on));
}

const switches = {
  speak(on) {
    if (!on) window.speechSynthesis?.cancel();
    else utter(part('said')?.textContent);
  },
  tick: setTicking,
  hear(on) {
    if (on && newest?.f_hz) hear(newest.f_hz, newest.aim_hz, true);
    else hush();
  },
};

document.addEventListener('click', (event) => {
  const button = event.target.closest?.('[data-switch]');
  if (button) {
    const on = !pressed(button);
    press(button, on);
    if (button.dataset.keep) kept.set(button.dataset.switch, on);
    switches[button.dataset.switch](on);
    return;
  }
  const note = event.target.closest?.('[data-hear]');
  if (note) {
    const on = !pressed(note);
    press(note, on);
    if (on) hear(...note.dataset.hear.split(' ').map(Number));
    else hush();
  }
});

document.addEventListener('input', (event) => {
  if (event.target.matches?.('[data-part="loudness"]')) setLoudness(Number(event.target.value));
});

// ---- recordings dropped onto the page
async function send(file) {
  const fault = part('drop-fault');
  fault.textContent = '';
  const answer = await fetch(`/drop?name=${encodeURIComponent(file.name)}`, { method: 'POST', body: file })
    .catch(() => null);
  if (answer?.ok) return;
  const said = await answer?.json().catch(() => null);
  fault.textContent = said?.sentence ?? answer?.statusText ?? '…';
}

document.addEventListener('change', (event) => {
  if (!event.target.matches?.('[data-part="drop-file"]')) return;
  for (const file of event.target.files) send(file);
  event.target.value = '';
});

for (const kind of ['dragover', 'dragleave', 'drop']) {
  document.addEventListener(kind, (event) => {
    const box = part('drop');
    if (!box) return;
    event.preventDefault(); // a recording let go beside the box must not replace the page
    box.classList.toggle('pw-over', kind === 'dragover');
    if (kind === 'drop') for (const file of event.dataTransfer.files) send(file);
  });
}

// Another note was chosen while one sounds: go along with it.
new MutationObserver(([change]) => {
  const note = change.target;
  if (pressed(note) && note.dataset.hear) hear(...note.dataset.hear.split(' ').map(Number));
}).observe(document.body, { subtree: true, attributeFilter: ['data-hear'] });

// ---- speech
function utter(words) {
  const speech = window.speechSynthesis;
  if (!speech || !words) return;
  speech.cancel();
  const said = new SpeechSynthesisUtterance(words);
  said.lang = document.documentElement.lang || 'en';
  speech.speak(said);
}

let said = '';
new MutationObserver(() => {
  const words = part('said')?.textContent ?? '';
  if (words !== said) {
    said = words;
    if (pressed(part('speak'))) utter(words);
  }
  // What is kept on this device is set again on whatever was drawn anew.
  for (const button of document.querySelectorAll('[data-keep]:not([data-set])')) {
    button.dataset.set = '1';
    if (kept.get(button.dataset.switch) === 'true') {
      press(button, true);
      if (button.dataset.switch === 'tick') setTicking(true); // sounds after the first touch
    }
  }
}).observe(document.body, { childList: true, subtree: true, characterData: true });

// ---- sliders of the practice rig: a wrist turns half a turn either way and takes hold anew
function turned(event) {
  const slider = event.target;
  const now = Number(slider.value);
  const by = now - Number(slider.dataset.was ?? 0);
  slider.dataset.was = now;
  return by;
}

document.addEventListener('change', (event) => {
  if (event.target.matches?.('[data-wrist]')) {
    event.target.value = 0;
    event.target.dataset.was = 0;
  }
});

// A phone that leans on the instrument must not go dark meanwhile, where the browser allows that.
let awake = null;
async function stayAwake() {
  const turning = Boolean(part('advance')?.offsetParent);
  try {
    if (turning && !awake && navigator.wakeLock) {
      awake = await navigator.wakeLock.request('screen');
      awake.addEventListener('release', () => { awake = null; });
    } else if (!turning && awake) await awake.release();
  } catch { /* refused: the person's own setting holds */ }
}
setInterval(stayAwake, 3000);

document.addEventListener('keydown', (event) => {
  const menu = part('menu');
  if (event.key === 'Escape' && menu?.open) {
    menu.open = false;
    menu.querySelector('summary').focus();
  }
});

window.pitchwright = { begin, live, turned };
