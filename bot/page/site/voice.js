// A voice note as the phone recorded it becomes plain sound that every computer can read: one channel, 16 000 a second.

import { remember, remembered } from "./store.js";

const RATE = 16000;
const LONGEST_S = 120;
const SPOKEN = "spoken";

let isAloud = remembered(SPOKEN, false);

export const canSpeak = () => "speechSynthesis" in window;
export const aloud = () => isAloud;

export function turn() {
  isAloud = !isAloud;
  remember(SPOKEN, isAloud);
  if (!isAloud && canSpeak()) speechSynthesis.cancel();
}

export function speak(text, language) {
  if (!isAloud || !canSpeak() || !text) return;
  speechSynthesis.cancel();
  const said = new SpeechSynthesisUtterance(text);
  said.lang = language;
  speechSynthesis.speak(said);
}

// What the phone itself cannot read goes as it is: the computer may.
export async function plain(file) {
  try {
    const shelf = new OfflineAudioContext(1, RATE, RATE);
    const heard = await shelf.decodeAudioData(await file.arrayBuffer());
    const seconds = Math.min(heard.duration, LONGEST_S);
    const whole = new OfflineAudioContext(1, Math.max(Math.ceil(seconds * RATE), 1), RATE);
    const source = whole.createBufferSource();
    source.buffer = heard;
    source.connect(whole.destination);
    source.start();
    return wave((await whole.startRendering()).getChannelData(0));
  } catch {
    return new Blob([file], { type: "application/octet-stream" });
  }
}

function wave(samples) {
  const bytes = new DataView(new ArrayBuffer(44 + samples.length * 2));
  const word = (place, text) => [...text].forEach((sign, number) => bytes.setUint8(place + number, sign.charCodeAt(0)));
  word(0, "RIFF");
  bytes.setUint32(4, 36 + samples.length * 2, true);
  word(8, "WAVEfmt ");
  bytes.setUint32(16, 16, true);
  bytes.setUint16(20, 1, true);
  bytes.setUint16(22, 1, true);
  bytes.setUint32(24, RATE, true);
  bytes.setUint32(28, RATE * 2, true);
  bytes.setUint16(32, 2, true);
  bytes.setUint16(34, 16, true);
  word(36, "data");
  bytes.setUint32(40, samples.length * 2, true);
  samples.forEach((one, number) => bytes.setInt16(44 + number * 2, Math.max(-1, Math.min(1, one)) * 32767, true));
  return new Blob([bytes], { type: "audio/wav" });
}
