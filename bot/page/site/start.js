// The page: what the computer shows of the conversation, and what is said to it.

import { at, button, make, show } from "./make.js";
import * as answers from "./answers.js";
import * as bell from "./bell.js";
import * as line from "./line.js";
import { grid } from "./rows.js";
import * as sheet from "./sheet.js";
import * as store from "./store.js";
import * as voice from "./voice.js";
import * as words from "./words.js";
import { say } from "./words.js";

const LONG = 90;
const BRIEF = 60;   // what is longer than a read-back is to be read before the rows
const SETTLES_MS = 1500;

let view = store.remembered("view", null);
let waiting = [];
let isNear = false;
let isPaired = true;
let keeps = true;
let rests = { seq: -1, until: 0 };
let spoken = view ? view.seq : 0;
let drawn = -1;

async function begin() {
  await words.learn();
  keeps = await store.open();
  at("undo").addEventListener("click", () => tell(say("undo_says")));
  at("type").addEventListener("click", () => (sheet.which() === "line" ? sheet.close() : sheet.line(typed)));
  at("more").addEventListener("click", () => (sheet.which() === "more" ? sheet.close() : view && sheet.more(view, tell, draw)));
  at("sound").addEventListener("change", recorded);
  bell.begin();
  await moved();
  draw();
  line.begin({ near, view: take, moved, forgotten });
}

// ---------------------------------------------------------------- what comes

function near(now) {
  isNear = now;
  if (now) isPaired = true;
  reach();
}

function forgotten() {
  isPaired = false;
  reach();
}

function take(now) {
  if (now.version !== document.documentElement.dataset.version) {
    renew();
    return;
  }
  view = now;
  store.remember("view", now);
  draw();
  if (now.kind === "view") {
    bell.ring(now.calls, (call, text) => tell(text, { call: call.key }));
    if (now.seq > spoken) voice.speak(now.speech, now.language);
    spoken = now.seq;
  }
}

// The computer has other files than this page was made of: once, so that nothing turns in circles.
function renew() {
  if (sessionStorage.getItem("renewed") === document.documentElement.dataset.version) return;
  sessionStorage.setItem("renewed", document.documentElement.dataset.version);
  fetch("/", { cache: "reload" }).finally(() => location.reload());
}

async function moved() {
  waiting = await store.all();
  reach();
  drawWaiting();
  rest();
}

// ---------------------------------------------------------------- what goes

function tell(text, about = {}) {
  rests = { seq: view ? view.seq : 0, until: Date.now() + SETTLES_MS };
  setTimeout(rest, SETTLES_MS + 50);
  line.say({ text, seq: view ? view.seq : 0, tapped: true, call: null, ...about });
}

function typed(text) {
  line.say({ text, seq: view ? view.seq : 0, tapped: false, call: null });
}

async function recorded() {
  const file = at("sound").files[0];
  at("sound").value = "";
  if (!file || !file.size) {
    show(at("held"), make("p", { class: "held", text: say("recording_failed") }));
    return;
  }
  const seq = view ? view.seq : 0;
  const at_ = Date.now();
  line.say({ sound: await voice.plain(file), seq, at: at_ });
}

// ---------------------------------------------------------------- what is shown

function draw() {
  if (view === null) return;
  if (words.language() !== view.language) words.speak(view.language);
  const operator = view.kind === "view";
  for (const one of ["undo", "speak", "type"]) at(one).hidden = !operator;
  if (operator) drawTalk();
  else drawCards();
  reach();
  drawWaiting();
  rest();
}

function drawTalk() {
  put(at("said"), view.said);
  put(at("question"), view.question);
  at("question").classList.toggle("long", view.question.length > LONG);
  answers.ask(view, tell);
  show(at("cards"));
  drawRows();
  drawAnswers();
  if (view.seq === drawn) return;
  drawn = view.seq;
  at("scroll").scrollTop = 0;
  const asked = at("rows").querySelector(".asked");
  if (asked && view.said.length < BRIEF) asked.scrollIntoView({ block: "nearest" });
}

// Only what changed is written, so that a reader of the screen hears it once.
function put(place, text) {
  if (place.textContent !== text) place.textContent = text;
}

function drawRows() {
  const asksRow = view.pads.some((one) => one.rows) || view.row_buttons.length > 0;
  const chosen = asksRow ? answers.row() : null;
  show(at("rows"), ...grid(view.grid, chosen, chooseRow));
  at("rows").className = "rows";
}

function chooseRow(row) {
  if (answers.choose(row)) {
    drawRows();
    drawAnswers();
    return;
  }
  const tile = view.grid.tiles.find((one) => one.row === row);
  const watches = view.grid.tiles.every((one) => ["down", "nothing"].includes(one.standing));
  sheet.row(tile, view.grid, watches && view.kind === "view", tell);
}

function drawAnswers(pressed) {
  const place = at("answers");
  const before = place.contains(document.activeElement) ? document.activeElement.textContent : null;
  show(place, ...answers.drawn((sign) => {
    drawRows();
    drawAnswers(sign);
  }));
  if (pressed !== undefined || before !== null) {
    const same = [...place.querySelectorAll("button")].find((one) => one.textContent === before);
    if (same) same.focus({ preventScroll: true });
  }
}

function drawCards() {
  put(at("said"), say("looking_on"));
  put(at("question"), "");
  show(at("answers"));
  show(at("rows"));
  show(at("cards"), ...view.cards.map((card) => make(
    "article",
    { class: "card" },
    make("h2", { text: card.name }),
    make("p", { text: card.open }),
    make("p", { text: card.last }),
    ...card.calls.map((text) => make("p", { class: "ringing", text })),
    make("div", { class: "rows" }, ...grid(card.grid, null, null)),
    make("p", { class: "lines", text: card.lines.join("\n") }),
  )));
  at("cards").className = "open";
}

// ---------------------------------------------------------------- what waits

function reach() {
  document.body.classList.toggle("near", isNear);
  document.body.classList.toggle("far", !isNear);
  const key = !isPaired ? "not_paired" : isNear ? "in_reach" : "out_of_reach";
  put(at("reach-text"), keeps || isNear ? say(key) : `${say(key)} ${say("not_kept")}`);
  const open = waiting.filter((one) => one.how === "waiting").length;
  const count = waiting.length - open;
  put(at("reach-count"), [open && say("waiting", { count: open }), count && say("held", { count })].filter(Boolean).join(" · "));
}

function drawWaiting() {
  const open = waiting.filter((one) => one.how === "waiting");
  show(at("waiting"), ...open.map((one) => make("li", { text: say("waits", { text: named(one) }) })));
  const again = isPaired ? null : make("a", { class: "file", href: "/pair", text: say("pair_again") });
  show(at("held"), again, ...waiting.filter((one) => one.how !== "waiting").map(held));
}

const named = (one) => (one.sound ? say("sound") : one.text);

function held(one) {
  const sound = one.sound ? make("audio", { controls: true, src: URL.createObjectURL(one.sound), "aria-label": say("sound") }) : null;
  return make(
    "div",
    { class: "held" },
    make("p", { text: `“${named(one)}”` }),
    make("p", { text: one.why || "" }),
    sound,
    make("div", { class: "pairs" },
      button(say("send_again"), () => line.sayAgain(one, view.seq)),
      button(say("drop"), () => store.remove(one).then(moved))),
  );
}

// While an answer to what is asked is on its way, or waits here, nothing else is taken for an answer to it.
function rest() {
  if (view === null) return;
  const answered = waiting.some((one) => one.how === "waiting" && one.tapped && one.seq === view.seq);
  const settles = rests.seq === view.seq && Date.now() < rests.until;
  const place = at("answers");
  place.inert = answered || settles;
  place.classList.toggle("resting", answered && !isNear);
}

begin();
