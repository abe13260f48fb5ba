// Calls: a tone that is made here, a shake where the phone allows it, the title, and a band that stays until answered.

import { button, make, show, at } from "./make.js";
import { say } from "./words.js";
import * as line from "./line.js";

const EACH_MS = 20000;
const TONES = [660, 880];
const SHAKE = [400, 200, 400, 200, 800];

let sound = null;
let rung = new Set();
let quiet = new Set();
let calls = [];
let again = 0;

// A browser lets a page sound only after it was touched once.
export function begin() {
  const wake = () => {
    sound = sound || new AudioContext();
    if (sound.state === "suspended") sound.resume().then(redraw);
  };
  for (const sign of ["pointerdown", "keydown"]) window.addEventListener(sign, wake, { passive: true });
}

export function ring(now, answer) {
  const known = new Set(now.map((one) => one.key));
  rung = new Set([...rung].filter((key) => known.has(key)));
  calls = now.map((one) => ({ ...one, answer }));
  draw();
  const loud = calls.filter((one) => one.asks && !quiet.has(one.key));
  for (const one of calls) {
    if (rung.has(one.key)) continue;
    rung.add(one.key);
    sounds(one.attempt);
    if (one.asks) line.shown(one.key);
  }
  clearInterval(again);
  again = loud.length ? setInterval(() => sounds(Math.max(...loud.map((one) => one.attempt))), EACH_MS) : 0;
}

function redraw() {
  if (calls.length) draw();
}

function draw() {
  document.title = calls.length ? `● ${say("call", { count: calls[0].attempt })} – ${say("title")}` : say("title");
  show(at("calls"), ...calls.map(one));
}

function one(call) {
  const answers = call.buttons.map((wanted) => button(wanted.label, () => call.answer(call, wanted.says)));
  const hush = call.asks
    ? button(say("quiet"), () => {
      quiet.add(call.key);
      ring(calls, call.answer);
    })
    : button(say("close"), () => line.shown(call.key));
  const silent = !sound || sound.state === "suspended" ? make("p", { text: say("ring_on") }) : null;
  return make(
    "div",
    { class: call.attempt > 1 ? "call loud" : "call", "data-key": call.key },
    make("p", { text: call.text }),
    silent,
    make("div", { class: "pairs" }, ...answers, quiet.has(call.key) ? null : hush),
  );
}

function sounds(attempt) {
  document.body.dataset.rang = String(Number(document.body.dataset.rang || 0) + 1);
  if (navigator.vibrate) navigator.vibrate(SHAKE);
  if (!sound || sound.state !== "running") return;
  for (let beat = 0; beat < 2 + Math.min(attempt, 3); beat += 1) {
    const from = sound.currentTime + beat * 0.45;
    const tone = sound.createOscillator();
    const loud = sound.createGain();
    tone.type = "triangle";
    tone.frequency.value = TONES[beat % TONES.length];
    loud.gain.setValueAtTime(0, from);
    loud.gain.linearRampToValueAtTime(0.9, from + 0.03);
    loud.gain.linearRampToValueAtTime(0, from + 0.38);
    tone.connect(loud).connect(sound.destination);
    tone.start(from);
    tone.stop(from + 0.4);
  }
}
