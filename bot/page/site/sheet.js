// The sheet over the answers: a line to type, more commands, one row, papers to keep, what was said before.

import { at, button, make, show } from "./make.js";
import { told } from "./rows.js";
import { say } from "./words.js";
import * as voice from "./voice.js";

const COMMANDS = ["skip", "back", "done", "what_left", "help", "cancel"];
const PAPERS = [["last_run", "run"], ["night", "night"], ["record", "record"]];

let opened = "";

export const which = () => opened;

export function close() {
  opened = "";
  show(at("sheet"));
  document.body.classList.remove("sheeted");
  at("more").setAttribute("aria-expanded", "false");
}

function open(name, ...inside) {
  opened = name;
  document.body.classList.add("sheeted");
  show(at("sheet"), ...inside, button(say("close"), close));
  at("more").setAttribute("aria-expanded", String(name === "more"));
  at("sheet").scrollTop = 0;
}

export function line(tell) {
  const field = make("input", { id: "any-words", type: "text", maxlength: 1000, autocomplete: "off", enterkeyhint: "send" });
  const form = make("form", { class: "typed" }, make("label", { for: "any-words", text: say("line") }), field,
    make("button", { type: "submit", class: "strong", text: say("send") }));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const text = field.value.trim();
    if (!text) return;
    close();
    tell(text);
  });
  open("line", form);
  field.focus();
}

export function more(view, tell, redraw) {
  const press = (key) => button(say(key), () => {
    close();
    tell(say(`${key}_says`));
  });
  const speech = button(say("say_aloud"), () => {
    voice.turn();
    more(view, tell, redraw);
  });
  speech.setAttribute("aria-pressed", String(voice.aloud()));
  const operator = view.kind === "view";
  open(
    "more",
    ...(operator ? [make("div", { class: "wide two" }, ...COMMANDS.map(press))] : []),
    make("h2", { text: say("papers") }),
    make("div", { class: "wide" }, ...PAPERS.map(([key, name]) => button(say(key), () => paper(name)))),
    make("h2", { text: say("language") }),
    make("div", { class: "wide" }, ...(view.languages || []).map((one) => button(one.label, () => {
      close();
      tell(one.says);
    })), voice.canSpeak() ? speech : null),
    ...(operator ? before(view) : []),
  );
}

function before(view) {
  const lines = [...view.before].reverse().map((one) => make("li", {},
    make("span", { class: "heard", text: `${one.heard}\n` }), make("span", { text: one.reply })));
  return [make("h2", { text: say("earlier") }), make("ul", { class: "before" }, ...lines)];
}

export function row(tile, grid, watches, tell) {
  const press = (key) => button(say(key), () => {
    close();
    tell(say(`${key}_says`, { row: tile.row }));
  });
  const reports = tile.standing === "down" ? ["row_runs", "row_stopped", "row_high"] : ["row_stopped", "row_high", "row_runs"];
  open(
    "row",
    make("h2", { text: told(tile, grid.tolerance) }),
    watches ? make("div", { class: "wide" }, ...reports.map(press)) : null,
    button(say("row_years"), () => paper(`row-${tile.row}`)),
  );
}

async function paper(name) {
  let found = null;
  try {
    found = await (await fetch(`/paper/${name}.json`)).json();
  } catch {
    open("paper", make("p", { text: say("out_of_reach") }));
    return;
  }
  const file = (address, key) => (address ? make("a", { class: "file", href: address, download: "", text: say(key) }) : null);
  open(
    "paper",
    make("h2", { text: found.title }),
    ...found.lines.map((text) => make("p", { text })),
    found.lacks ? make("p", { text: found.lacks }) : null,
    found.picture ? make("img", { src: found.picture, alt: found.title }) : null,
    file(found.picture, "picture"),
    file(found.pages, "pages"),
  );
}
