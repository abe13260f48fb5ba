// The line to the computer: it is opened again and again, and what waits on the phone goes out over it in order.

import * as store from "./store.js";

const BEAT_MS = 4000;
const SILENT_MS = 10000;
const AGAIN_MS = [300, 600, 1000, 2000, 4000];
const HEARD_MS = 120000;
const FORGOTTEN_MS = 15000;
const FORGOTTEN = 4001;
const HELD = ["moved_on", "unheard", "refused"];

let socket = null;
let tries = 0;
let heardAt = 0;
let sending = null;
let settle = null;
let pumping = false;
let again = 0;
let tell = { near: () => {}, view: () => {}, moved: () => {}, forgotten: () => {} };

export const isNear = () => socket !== null && socket.readyState === WebSocket.OPEN;

export function begin(listeners) {
  tell = listeners;
  setInterval(beat, BEAT_MS);
  for (const sign of ["online", "focus", "pageshow"]) window.addEventListener(sign, () => connect(true));
  document.addEventListener("visibilitychange", () => document.hidden || connect(true));
  connect(true);
}

function connect(now) {
  clearTimeout(again);
  if (socket !== null) return;
  if (!now) {
    again = setTimeout(() => connect(true), AGAIN_MS[Math.min(tries, AGAIN_MS.length - 1)]);
    tries += 1;
    return;
  }
  const opening = new WebSocket(`ws://${location.host}/line`);
  socket = opening;
  const given = setTimeout(() => opening.readyState === WebSocket.CONNECTING && lost(opening, 0), SILENT_MS);
  opening.onopen = () => {
    tries = 0;
    heardAt = Date.now();
    tell.near(true);
    pump();
  };
  opening.onmessage = (event) => {
    heardAt = Date.now();
    take(JSON.parse(event.data));
  };
  opening.onclose = (event) => {
    clearTimeout(given);
    lost(opening, event.code);
  };
}

function lost(which, code) {
  if (socket !== which) return;
  socket = null;
  which.onclose = which.onmessage = which.onopen = null;
  which.close();
  if (settle !== null) settle(null);
  tell.near(false);
  const known = code === FORGOTTEN ? Promise.resolve(true) : refused();
  known.then((gone) => {
    if (!gone) return connect(false);
    tell.forgotten();
    again = setTimeout(() => connect(true), FORGOTTEN_MS);
    return null;
  });
}

// Whether the computer is there and does not know this phone any more.
async function refused() {
  try {
    const version = document.documentElement.dataset.version;
    const answer = await fetch(`/site/${version}/make.js`, { cache: "no-store", signal: AbortSignal.timeout(3000) });
    return answer.status === 403;
  } catch {
    return false;
  }
}

function beat() {
  if (socket === null) return;
  if (Date.now() - heardAt > SILENT_MS && socket.readyState === WebSocket.OPEN) lost(socket, 0);
  else if (isNear()) socket.send('{"kind":"beat"}');
}

function take(message) {
  if (message.kind === "settled") {
    if (settle !== null && message.id === sending) settle(message);
  } else if (message.kind !== "beat") tell.view(message);
}

export function shown(key) {
  if (isNear()) socket.send(JSON.stringify({ kind: "shown", key }));
}

export async function say(line) {
  await store.put({ id: store.name(), at: Date.now(), how: "waiting", ...line });
  tell.moved();
  pump();
}

export async function sayAgain(line, seq) {
  await store.replace({ ...line, how: "waiting", seq, tapped: false, call: null, id: store.name() });
  tell.moved();
  pump();
}

export async function pump() {
  if (pumping) return;
  pumping = true;
  try {
    for (;;) {
      const next = (await store.all()).find((one) => one.how === "waiting");
      if (!next || !isNear()) return;
      const settled = next.sound ? await deliverSound(next) : await deliver(next);
      if (settled === null) {
        setTimeout(pump, 1000);
        return;
      }
      if (settled.how === "failed") {
        setTimeout(pump, 3000);
        return;
      }
      if (HELD.includes(settled.how)) await store.replace({ ...next, how: settled.how, why: settled.text });
      else await store.remove(next);
      tell.moved(settled, next);
    }
  } finally {
    pumping = false;
  }
}

function deliver(line) {
  return new Promise((done) => {
    sending = line.id;
    const patience = setTimeout(() => settle && settle(null), HEARD_MS);
    settle = (settled) => {
      clearTimeout(patience);
      sending = settle = null;
      done(settled);
    };
    const { id, at, seq, text, tapped, call } = line;
    socket.send(JSON.stringify({ kind: "said", id, at, seq, text, tapped: !!tapped, call: call || null, now: Date.now() }));
  });
}

async function deliverSound(line) {
  const about = new URLSearchParams({ id: line.id, at: line.at, seq: line.seq, now: Date.now() });
  try {
    const answer = await fetch(`/recording?${about}`, {
      method: "POST", body: line.sound, signal: AbortSignal.timeout(HEARD_MS),
    });
    if (answer.ok) return await answer.json();
    return answer.status === 413 || answer.status === 400 ? { how: "unheard", text: "" } : { how: "failed" };
  } catch {
    return { how: "failed" };
  }
}
