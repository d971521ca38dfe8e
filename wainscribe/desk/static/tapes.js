/** Tape readings: from and to chosen by tapping names, the length on the keypad. */

import { sameTape } from "./apply.js";
import { h } from "./dom.js";
import { keypad } from "./keypad.js";
import { shown } from "./lengths.js";
import { KINDS } from "./mark_kinds.js";
import { picture } from "./pictures.js";
import { ask, sheet } from "./sheets.js";
import { tapeWidth } from "./wall_form.js";

const EDGES = { left: "its left edge", right: "its right edge", top: "its top", bottom: "its bottom" };
const SILL = { stool: "the top of its stool", apron: "the underside of its apron" };

/** The readings that a wall is measured by, as the laptop counts them: those not held back, and its width. */
export function readings({ tapes, width }) {
  const used = tapes.filter((tape) => !tape.check_only);
  return width ? [...used, { start: "left end", end: "right end", length: width }] : used;
}

/** Ask for a reading and note it. @param {number[]} cards numbers found on the wall */
export async function askTape(state, wallName, cards, begin = {}) {
  const wall = state.wall(wallName); // somebody else may take it away meanwhile
  const from = begin.start ?? (await askPlace("Tape from", wall, cards));
  if (!from) return;
  const to = begin.end ?? (await askPlace(`From ${from} to`, wall, cards, from));
  if (!to) return;
  await askLength(state, wallName, { start: from, end: to, check_only: false });
}

async function askPlace(title, wall, cards, not = "") {
  const place = await sheet(title, (close) => {
    const chip = (name, sign) =>
      name !== not &&
      h("button", { class: "place", onclick: () => close(name) },
        sign && picture(sign, { mirrored: name === "right end" }), h("span", { dir: "auto" }, name));
    const marks = wall.marks.filter((mark) => !["wall end", "floor point", "in front", "damage"].includes(mark.kind));
    return h("div", { class: "places" },
      chip("left end", "wall end"), chip("right end", "wall end"), chip("floor", "floor point"),
      marks.map((mark) => chip(mark.name, mark.kind)),
      cards.map((number) => chip(`card ${number}`)));
  });
  const mark = wall.marks.find((one) => one.name === place);
  return mark && KINDS[mark.kind].shape === "rectangle" ? askEdge(mark) : place;
}

async function askEdge({ name, kind }) {
  const parts = kind === "window" ? { ...EDGES, ...SILL } : EDGES;
  const edges = Object.entries(parts).map(([edge, words]) => ({ value: `${name} ${edge}`, label: words }));
  return ask(name, "Which part of it?", [...edges, { value: name, label: "its middle" }]);
}

async function askLength(state, wall, tape) {
  const { units } = state.job;
  const length = await keypad(`${tape.start} to ${tape.end}`, { value: shown(tape.length, units), units });
  if (length === undefined) return;
  await noteTape(state, wall, { ...tape, length });
}

/** Note a reading. */
export function noteTape(state, wall, { start, end, length, check_only, along }) {
  return state.change({ do: "tape", wall, start, end, length, check_only, ...(along && { along }), seen: seenTape(state, wall, { start, end, check_only }) });
}

/** The reading as the laptop holds it. */
function seenTape(state, wallName, tape) {
  for (const room of state.held.job.rooms)
    for (const wall of room.walls) if (wall.name === wallName) return wall.tapes.find((one) => sameTape(one, tape)) ?? null;
  return null;
}

/** The list of readings, the wall’s width among them. */
export function tapeRows(state, wallName) {
  const { units } = state.job;
  const wall = state.wall(wallName);
  const row = (key, words, length, onclick) =>
    h("li", {}, h("button", { class: "row", "data-key": `tape ${key}`, onclick },
      h("span", { dir: "auto" }, words), h("b", { class: "length" }, shown(length, units))));
  const tapes = wall.tapes.map((tape) => {
    const words = [`${tape.start} to ${tape.end}`, tape.check_only && h("small", {}, "held back, to check by")];
    return row(`${tape.start} ${tape.end} ${tape.check_only}`, words, tape.length, () => changeTape(state, wallName, tape));
  });
  return [wall.width && row("width", "width of the wall", wall.width, () => tapeWidth(state, wall)), ...tapes];
}

async function changeTape(state, wall, tape) {
  const { start, end, check_only, along } = tape;
  const deed = await ask(`${start} to ${end}`, shown(tape.length, state.job.units), [
    { value: "again", label: "Tape it again", main: true },
    { value: "check", label: check_only ? "Use it for measuring" : "Hold it back, to check by" },
    { value: "away", label: "Take it away" },
  ]);
  if (deed === "again") await askLength(state, wall, tape);
  if (deed === "away") await state.change({ do: "remove-tape", wall, start, end, check_only, seen: seenTape(state, wall, tape) });
  if (deed === "check") {
    await state.change({ do: "remove-tape", wall, start, end, check_only, seen: seenTape(state, wall, tape) });
    await noteTape(state, wall, { start, end, length: tape.length, check_only: !check_only, along });
  }
}
