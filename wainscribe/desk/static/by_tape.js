/** What no photo shows is marked by tape: from the wall’s left end, up from the floor, and its size where that varies. */

import { keypad } from "./keypad.js";
import { chooseWhat, withOpening } from "./mark_choices.js";
import { freeName, KINDS } from "./mark_kinds.js";
import { noteTape } from "./tapes.js";

/** Kinds that two readings can place: no ends, floor points or outlines. */
const KINDS_BY_TAPE = Object.keys(KINDS).filter((kind) => KINDS[kind].shape === "rectangle" || ["stud", "casing edge"].includes(kind));

/** Ask what it is and for its readings; note what was told. Leaving the first reading leaves all. */
export async function markByTape(state, wallName, note = "") {
  const kind = await chooseWhat(KINDS_BY_TAPE, note);
  const wall = state.wall(wallName); // somebody else may have taken it away meanwhile
  const begun = kind && wall && { name: freeName(wall, kind), kind };
  const mark = kind === "casing edge" ? await withOpening(begun) : begun;
  if (!mark) return;
  const told = [];
  for (const reading of readings(mark)) {
    const length = await keypad(`${mark.name}: ${reading.say}`, { units: state.job.units, clears: told.length > 0 });
    if (length === undefined && !told.length) return;
    if (length) told.push({ ...reading, length });
  }
  const sizes = Object.fromEntries(told.filter(({ size }) => size).map(({ size, length }) => [size, length]));
  await state.change({ do: "mark", wall: wallName, mark: { ...mark, ...sizes, sights: [] }, seen: null });
  for (const { start, end, length } of told)
    if (start) await noteTape(state, wallName, { start, end, length, check_only: false });
}

/** Plates of usual size go by their middle; what comes in any size by its edges. */
function readings({ name, kind }) {
  const { shape, centre } = KINDS[kind];
  const [start, floor] = ["left end", "floor"];
  if (shape !== "rectangle") return [{ start, end: name, say: "from the left end" }];
  if (centre)
    return [{ start, end: name, say: "from the left end to its middle" }, { start: floor, end: name, say: "from the floor up to its middle" }];
  return [
    { start, end: `${name} left`, say: "from the left end to its left edge" },
    { size: "width", say: "its width" },
    { start: floor, end: `${name} bottom`, say: "from the floor up to its bottom" },
    { size: "height", say: "its height" },
    ...(kind === "window" ? sill(name, floor) : []),
  ];
}

/** What lies under a window ends the wainscot there. */
const sill = (name, start) => [
  { start, end: `${name} stool`, say: "from the floor up to the top of its stool, if it has one" },
  { start, end: `${name} apron`, say: "from the floor up to the underside of its apron, if it has one" },
];
