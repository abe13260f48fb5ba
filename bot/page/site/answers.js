// The answers to what is asked: wide buttons, a pad for numbers, names that are known.

import { button, make } from "./make.js";
import { say } from "./words.js";

const LONGEST = 8;
const SHORT = 14;

let view = null;
let tell = () => {};
let place = { pad: 0, unit: 0, row: null, every: false, typed: "", words: "", about: "" };

export const row = () => place.row;

// A number that was begun belongs to what was asked then: it is not carried over to another question.
export function ask(now, said) {
  view = now;
  tell = said;
  const about = JSON.stringify([now.opened, now.seq, now.question]);
  if (place.about !== about) place = { pad: 0, unit: 0, row: null, every: false, typed: "", words: "", about };
}

export function choose(chosen) {
  const asked = view.pads[place.pad];
  if (!(asked && asked.rows) && view.row_buttons.length === 0) return false;
  place = { ...place, row: chosen, every: false };
  return true;
}

export function drawn(again) {
  const parts = [];
  const folded = view.buttons.length > 0 && view.pads.length > 0;
  if (folded && place.opened) {
    return [...pad(again), button(say("close"), () => {
      place = { ...place, opened: false };
      again();
    }, "whose")];
  }
  const opens = folded ? button(view.pads[0].name, () => {
    place = { ...place, opened: true };
    again();
  }) : null;
  if (view.buttons.length) parts.push(wide(view.buttons, (says) => says, opens));
  if (view.names.length) parts.push(wide(view.names));
  if (view.row_buttons.length) parts.push(whose(again), wide(view.row_buttons, (says) => ofRows(says)));
  else if (view.pads.length && !folded) parts.push(...pad(again));
  if (view.types && !view.buttons.length) parts.push(field());
  if (view.skips && (view.buttons.length || !view.pads.length)) parts.push(wide([{ label: say("skip"), says: say("skip_says") }]));
  return parts;
}

function field() {
  const input = make("input", { id: "words", type: "text", maxlength: 1000, autocomplete: "off", enterkeyhint: "send", value: place.words });
  input.addEventListener("input", () => {
    place.words = input.value;
  });
  const form = make("form", { class: "typed" }, make("label", { for: "words", text: say("line") }), input,
    make("button", { type: "submit", class: "strong", text: say("send") }));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const text = input.value.trim();
    if (!text) return;
    place.words = "";
    tell(text);
  });
  return form;
}

function wide(buttons, words = (says) => says, more = null) {
  const two = buttons.length > 1 && buttons.every((one) => one.label.length <= SHORT);
  return make(
    "div",
    { class: two ? "wide two" : "wide" },
    ...buttons.map((one) => button(one.label, () => tell(words(one.says)), buttons.length === 2 && !more ? "strong" : "")),
    more,
  );
}

const target = () => place.row ?? (view.pads[place.pad] ? view.pads[place.pad].row : null) ?? asked();

const asked = () => (view.grid.tiles.find((tile) => tile.standing === "asked") || { row: 1 }).row;

function ofRows(text) {
  return place.every ? say("all_says", { text }) : say("row_says", { row: target(), text });
}

// For which row it is: pressed, it is for every row.
function whose(again) {
  const made = button(place.every ? say("every_row") : say("for_row", { row: target() }), () => {
    place = { ...place, every: !place.every, row: null };
    again("whose");
  }, "whose");
  made.setAttribute("aria-pressed", String(place.every));
  return made;
}

function pad(again) {
  const now = view.pads[place.pad] || view.pads[0];
  const head = make("div", { class: "shown" }, now.rows ? whose(again) : null, shown(now));
  return [head, keys(now, again)];
}

function shown(now) {
  const unit = now.units[place.unit] ? now.units[place.unit].label : "";
  const given = { id: "number", "aria-live": "polite", "aria-label": `${now.name}: ${place.typed || "–"} ${unit}` };
  return make("output", given, make("span", { class: "for", text: now.name }),
    make("span", { class: "typing", text: `${place.typed || "–"} ` }, make("span", { class: "unit", text: unit })));
}

function keys(now, again) {
  const type = (sign) => () => {
    const next = sign === "." ? (place.typed.includes(".") ? place.typed : `${place.typed || "0"}.`) : place.typed + sign;
    place = { ...place, typed: next.slice(0, LONGEST) };
    again(sign);
  };
  const rub = button("⌫", () => {
    place = { ...place, typed: place.typed.slice(0, -1) };
    again("rub");
  });
  rub.setAttribute("aria-label", say("rub_out"));
  const point = button(".", type("."));
  point.setAttribute("aria-label", say("point"));
  const digits = (...wanted) => wanted.map((one) => button(one, type(one)));
  const beside = [unitKey(now, again), otherKey(again) || skipKey(now)].filter(Boolean);
  const send = button(say("send"), () => give(now), `send strong over${4 - beside.length}`);
  return make(
    "div",
    { class: "keys", role: "group", "aria-label": now.name },
    ...digits("1", "2", "3"), rub, ...digits("4", "5", "6"), point, ...digits("7", "8", "9", "0"), ...beside, send,
  );
}

function unitKey(now, again) {
  if (now.units.length < 2) return null;
  const unit = now.units[place.unit];
  const made = button(unit.label, () => {
    place = { ...place, unit: (place.unit + 1) % now.units.length };
    again("unit");
  }, "unit");
  made.setAttribute("aria-label", say("unit", { unit: unit.label }));
  return made;
}

function skipKey(now) {
  return view.skips && !now.rows ? button(say("skip"), () => tell(say("skip_says")), "unit") : null;
}

// What else may be told now, such as the time over the course among the catches.
function otherKey(again) {
  if (view.pads.length < 2) return null;
  const next = (place.pad + 1) % view.pads.length;
  return button(view.pads[next].name, () => {
    place = { ...place, pad: next, unit: 0, row: null, every: false, typed: "" };
    again("other");
  }, "unit");
}

function give(now) {
  const value = place.typed.replace(/\.$/, "");
  if (value === "") return;
  const unit = now.units[place.unit] ? now.units[place.unit].says : "";
  tell(words(now, value, unit).trim());
  place = { ...place, typed: "" };
}

function words(now, value, unit) {
  if (now.says === "acres_says") return say("acres_says", { value, unit });
  if (!now.rows) return say("value_says", { value, unit });
  return place.every ? say("all_value_says", { value, unit }) : say("row_value_says", { row: target(), value, unit });
}
