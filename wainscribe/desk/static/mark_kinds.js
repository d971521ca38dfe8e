/** What can be marked, in the order in which an installer meets it, and which taps each takes. */

const CORNERS = [
  { at: "top left", say: "Tap its upper left corner" },
  { at: "bottom right", say: "Tap its lower right corner" },
];
const LINE = [
  { at: "point", say: "Tap a point on it, low down" },
  { at: "point", say: "Tap another, well above", optional: true },
];

/** @typedef {{at: string, say: string, optional?: boolean, repeats?: boolean}} Step */

/** @type {Object<string, {steps: Step[], centre?: boolean, snaps?: boolean, shape: string}>} */
export const KINDS = {
  receptacle: { shape: "rectangle", steps: CORNERS, centre: true, snaps: true },
  switch: { shape: "rectangle", steps: CORNERS, centre: true, snaps: true },
  register: { shape: "rectangle", steps: CORNERS, snaps: true },
  window: {
    shape: "rectangle",
    snaps: true,
    steps: [
      { at: "top left", say: "Tap the casing’s upper left corner" },
      { at: "bottom right", say: "Tap the casing’s lower right corner" },
      { at: "stool", say: "Tap the stool’s top edge, if it has one", optional: true },
      { at: "apron", say: "Tap the apron’s bottom edge, if it has one", optional: true },
    ],
  },
  "casing edge": { shape: "upright line", steps: LINE, snaps: true },
  "wall end": { shape: "upright line", steps: LINE, snaps: true },
  "floor point": { shape: "point", snaps: true, steps: [{ at: "point", say: "Tap where the base or wall meets the floor" }] },
  jack: { shape: "rectangle", steps: CORNERS, centre: true, snaps: true },
  thermostat: { shape: "rectangle", steps: CORNERS, snaps: true },
  "return grille": { shape: "rectangle", steps: CORNERS, snaps: true },
  "baseboard heater": { shape: "rectangle", steps: CORNERS },
  "access panel": { shape: "rectangle", steps: CORNERS, snaps: true },
  stud: { shape: "upright line", steps: LINE },
  "level point": { shape: "point", steps: [{ at: "point", say: "Tap the level line" }] },
  damage: { shape: "rectangle", steps: CORNERS },
  "in front": {
    shape: "outline",
    steps: [{ at: "point", say: "Tap round its outline, corner by corner", repeats: true }],
  },
  other: { shape: "rectangle", steps: CORNERS, snaps: true },
};

/** What its centre alone is marked by. @type {Step[]} */
export const CENTRE = [{ at: "centre", say: "Tap its centre" }];

/** Kinds that have gangs, a stud beside them and a cable. */
const WIRED = new Set(["receptacle", "switch", "jack", "thermostat"]);

/** What may be told of a mark besides its place, by kind. */
export function toldOf(kind) {
  return {
    gangs: ["receptacle", "switch", "jack"].includes(kind),
    stud_side: WIRED.has(kind),
    cable_slack: WIRED.has(kind),
    size: KINDS[kind].shape === "rectangle",
    projection: !["stud", "level point", "in front"].includes(kind),
  };
}

/** The next free name of a kind on a wall: “receptacle 3”; an end has its own name. */
export function freeName(wall, kind, side) {
  if (kind === "wall end") return `${side} end`;
  const taken = new Set(wall.marks.map((mark) => mark.name));
  let n = 1;
  while (taken.has(`${kind} ${n}`)) n += 1;
  return `${kind} ${n}`;
}
