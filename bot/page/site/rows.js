// The rows as a grid: each a button with its mark, its value, and where it stands by the band.

import { make, shape } from "./make.js";
import { say } from "./words.js";

const WIDE = 100;
const REACH = 3;   // so many bands fit on the gauge on both sides

const MARKS = {
  open: () => [shape("rect", { class: "line", x: 3, y: 3, width: 14, height: 14, "stroke-dasharray": "3 3" })],
  asked: () => [shape("path", { class: "fill", d: "M4 2 L18 10 L4 18 Z" })],
  told: () => [shape("path", { class: "line", d: "M2 11 L8 17 L18 3" })],
  down: () => [shape("path", { class: "fill", d: "M10 1 L20 19 L0 19 Z" })],
  nothing: () => [shape("path", { class: "line", d: "M4 10 L16 10" })],
  on_target: () => [shape("circle", { class: "fill", cx: 10, cy: 10, r: 9 })],
  closest: () => [shape("circle", { class: "line", cx: 10, cy: 10, r: 8 }), shape("circle", { class: "fill", cx: 10, cy: 10, r: 3.5 })],
  not_sure: () => [shape("path", { class: "line", d: "M10 1 L19 10 L10 19 L1 10 Z" })],
  again: () => [shape("path", { class: "line", d: "M6 2 L6 18 M14 2 L14 18" })],
  move: (low) => [shape("path", { class: "fill", d: low ? "M10 1 L19 12 L13 12 L13 19 L7 19 L7 12 L1 12 Z" : "M10 19 L1 8 L7 8 L7 1 L13 1 L13 8 L19 8 Z" })],
  fault: () => [shape("path", { class: "way", d: "M3 3 L17 17 M17 3 L3 17" })],
  no_catch: () => [shape("rect", { class: "line", x: 3, y: 3, width: 14, height: 14 })],
  left_out: () => [shape("path", { class: "line", d: "M2 10 L18 10" })],
};

export function grid(rows, chosen, choose) {
  if (rows.tiles.length === 0) return [];
  const tiles = rows.tiles.map((tile) => one(tile, rows.tolerance, chosen, choose));
  const list = make("div", { class: "tiles", role: "group", "aria-label": rows.title || say("every_row") }, ...tiles);
  const asks = rows.tiles.some((tile) => tile.standing === "asked");
  return [asks ? null : make("h2", { text: rows.title }), rows.summary ? make("p", { text: rows.summary }) : null, list];
}

function one(tile, tolerance, chosen, choose) {
  const mark = shape("svg", { class: "mark", viewBox: "0 0 20 20", "aria-hidden": "true" }, ...MARKS[tile.standing](tile.off < 0));
  const short = tile.value || tile.word;
  return make(
    "button",
    {
      type: "button",
      class: `tile ${tile.standing}`,
      "data-row": tile.row,
      "aria-pressed": choose ? String(tile.row === chosen) : null,
      "aria-label": told(tile, tolerance),
      on: () => choose && choose(tile.row),
    },
    make("span", { class: "top" }, mark, make("span", { text: String(tile.row) })),
    make("span", { class: tile.value ? "value" : "word", text: short }),
    tile.value && tile.word ? make("span", { class: "word", text: tile.word }) : null,
    gauge(tile, tolerance),
  );
}

// What a reader of the screen says of a row: all that the tile shows, in words.
export function told(tile, tolerance) {
  const parts = [say("row", { row: tile.row }), tile.word, tile.value, tile.detail];
  if (tile.off !== null && tolerance !== null) {
    parts.push(Math.abs(tile.off) <= tolerance ? say("in_band") : say("off_by", { percent: signed(tile.off) }));
  }
  return parts.filter(Boolean).join(", ");
}

export const signed = (percent) => `${percent > 0 ? "+" : percent < 0 ? "−" : ""}${Math.abs(percent)}`;

function gauge(tile, tolerance) {
  if (tile.off === null || tolerance === null) return null;
  const place = (percent) => Math.min(Math.max((percent / (REACH * tolerance) + 1) / 2, 0.04), 0.96) * WIDE;
  const [first, last] = [place(-tolerance), place(tolerance)];
  const drawn = [
    shape("rect", { class: "band", x: first, y: 0, width: last - first, height: 15 }),
    shape("line", { class: "middle", x1: WIDE / 2, x2: WIDE / 2, y1: 0, y2: 15 }),
  ];
  if (tile.low !== null && tile.high !== null) {
    drawn.push(shape("line", { class: "reach", x1: place(tile.low), x2: place(tile.high), y1: 7.5, y2: 7.5 }));
  }
  const x = place(tile.off);
  drawn.push(shape("path", { class: "at", d: `M${x} 1 L${x + 5} 7.5 L${x} 14 L${x - 5} 7.5 Z` }));
  return shape("svg", { class: "gauge", viewBox: `0 0 ${WIDE} 15`, preserveAspectRatio: "none", "aria-hidden": "true" }, ...drawn);
}
