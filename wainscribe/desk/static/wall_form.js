/** A wall: its name, how it ends on both sides, its width and ceiling; by pictures and the keypad. */

import { wallOf, wallsOf } from "./apply.js";
import { h } from "./dom.js";
import { keypad } from "./keypad.js";
import { shown } from "./lengths.js";
import { picture } from "./pictures.js";
import { ask, askText, sheet } from "./sheets.js";

const ENDS = ["inside corner", "outside corner", "bullnose corner", "casing", "open end"];
const NAMES = ["door wall", "window wall", "long wall", "short wall", "fireplace wall", "stair wall", "passage wall"];
const ROOMS = ["dining room", "living room", "hall", "stairs", "bedroom", "bath", "study"];

/** Ask for a new wall and add it; its name. @param {import("./job_state.js").JobState} state */
export async function askNewWall(state) {
  const { job } = state;
  const room = await askRoom(job);
  if (!room) return undefined;
  const taken = new Set(wallsOf(job).map((wall) => wall.name));
  const free = NAMES.filter((name) => !taken.has(name));
  const name = await askText("What do you call it?", { label: "Or a name of your own", offered: free, done: "Go on", named: true });
  if (!name) return undefined;
  if (taken.has(name)) return name;
  const before = job.rooms.find((one) => one.name === room)?.walls.at(-1);
  const left = await askEnd("How does it end on the left?", "left", meets(before?.right));
  const right = left && (await askEnd("And on the right?", "right"));
  if (!right) return undefined;
  const ceiling = before?.ceiling ?? undefined;
  await state.change({ do: "new-wall", name, room, left, right, ...(ceiling && { ceiling }), seen: null });
  return name;
}

async function askRoom(job) {
  const known = job.rooms.map((room) => room.name);
  if (known.length === 0) return askText("Which room?", { label: "Or another", offered: ROOMS, done: "Go on", named: true });
  const last = known.at(-1);
  const choice = await ask("Where?", "", [
    ...[...known].reverse().map((name) => ({ value: name, label: name, main: name === last })),
    { value: "", label: "Another room" },
  ]);
  if (choice !== "") return choice;
  const free = ROOMS.filter((name) => !known.includes(name));
  return askText("Which room?", { label: "Or another", offered: free, done: "Go on", named: true });
}

/** A corner is met from both sides: what ended the wall before begins this one. */
const meets = (end) => (["inside corner", "outside corner", "bullnose corner"].includes(end) ? end : undefined);

/** Ask for an end by pictures. @returns {Promise<string|undefined>} */
function askEnd(title, side, likely = undefined) {
  return sheet(title, (close) => [
    h("p", {}, "Seen from above; you stand below."),
    h("div", { class: "pictures" }, ENDS.map((end) =>
      h("button", { "aria-pressed": likely && String(end === likely), autofocus: end === likely, onclick: () => close(end) },
        picture(end, { mirrored: side === "left" }), h("span", {}, end)))),
  ]);
}

/** The rows of a wall’s own facts. */
export function wallRows(state, name) {
  const wall = state.wall(name);
  const { units } = state.job;
  const round = isRound(wall);
  return [
    h("div", { class: "two-ends" }, endButton(state, wall, "left"), endButton(state, wall, "right")),
    length(state, wall, "width", widthLabel(wall), units),
    length(state, wall, "ceiling", "Ceiling height", units),
    round && length(state, wall, "bullnose_radius", "Radius of the bullnose", units),
    length(state, wall, "bow", "Widest gap under a straightedge", units),
    h("button", { class: "row", "data-key": "note", onclick: () => note(state, wall) },
      h("span", {}, "Note"), h("b", { dir: "auto" }, wall.note || "none")),
  ];
}

function endButton(state, wall, side) {
  const tap = async () => {
    const end = await askEnd(`How does it end on the ${side}?`, side, wall[side]);
    if (end && end !== wall[side]) await changeWall(state, wall.name, { [side]: end });
  };
  return h("button", { class: "end", "data-key": `${side} end`, onclick: tap },
    picture(wall[side], { mirrored: side === "left" }), h("span", {}, `${side}: ${wall[side]}`));
}

function length(state, wall, field, label, units) {
  return h("button", { class: "row", "data-key": field, onclick: () => tapeField(state, wall, field, label) },
    h("span", {}, label), h("b", { class: "length" }, shown(wall[field], units) || "not taped"));
}

async function tapeField(state, wall, field, label) {
  const { units } = state.job;
  const text = await keypad(label, { value: shown(wall[field], units), units, clears: Boolean(wall[field]) });
  if (text !== undefined) await changeWall(state, wall.name, { [field]: text });
}

const isRound = ({ left, right }) => [left, right].includes("bullnose corner");
const widthLabel = (wall) => (isRound(wall) ? "Width of the flat, taped" : "Width, taped");

/** Ask for the wall’s width anew. */
export const tapeWidth = (state, wall) => tapeField(state, wall, "width", widthLabel(wall));

async function note(state, wall) {
  const text = await askText(`Note on ${wall.name}`, { label: "Note", value: wall.note, long: true });
  if (text !== undefined) await changeWall(state, wall.name, { note: text });
}

/** Change some facts of a wall. */
export function changeWall(state, name, part) {
  const held = wallOf(state.held.job, name);
  const seen = held ? Object.fromEntries(Object.keys(part).map((key) => [key, held[key] ?? null])) : null;
  return state.change({ do: "wall", name, ...part, seen });
}
