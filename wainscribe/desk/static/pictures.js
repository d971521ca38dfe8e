/** Small line pictures, 48 units square, drawn in the ink of the text beside them. */

import { s } from "./dom.js";

const rect = (x, y, width, height, rx = 0) => ["rect", { x, y, width, height, rx }];
const line = (d) => ["path", { d }];
const solid = (d) => ["path", { d, class: "solid" }];
const circle = (cx, cy, r) => ["circle", { cx, cy, r }];
const letters = (text, x, y, size) => ["text", { x, y, "font-size": size }, text];

const outlet = (y) => [line(`M20 ${y}v5M28 ${y}v5`), line(`M22.5 ${y + 9}a1.5 1.5 0 0 1 3 0v1h-3z`)];

/** @type {Object<string, any[]>} */
const DRAWN = {
  // kinds of marks
  receptacle: [rect(13, 4, 22, 40, 2), ...outlet(9), ...outlet(26)],
  switch: [rect(13, 4, 22, 40, 2), rect(20, 15, 8, 18, 1), line("M20 24h8")],
  thermostat: [rect(6, 11, 36, 26, 3), circle(16, 24, 6), line("M16 24l3-3M28 19h8M28 25h8")],
  register: [rect(4, 14, 40, 20), line("M9 19h30M9 24h30M9 29h30")],
  "return grille": [rect(6, 6, 36, 36), line("M11 12h26M11 18h26M11 24h26M11 30h26M11 36h26")],
  jack: [rect(13, 4, 22, 40, 2), rect(19, 19, 10, 9), line("M22 28v3h4v-3")],
  "baseboard heater": [line("M3 18h42l-3 18H6z"), line("M10 18v-3M38 18v-3M9 30h30")],
  "access panel": [rect(8, 8, 32, 32), rect(12, 12, 24, 24), circle(32, 24, 1.5)],
  "casing edge": [rect(22, 3, 10, 42), line("M25 3v42M3 45h42"), line("M16 24h-10M10 20l-4 4 4 4")],
  window: [rect(10, 4, 28, 30), line("M24 4v30M10 19h28M6 34h36v4H6zM10 38v5h28v-5")],
  "wall end": [line("M14 3v42M14 45h31M14 3h31"), line("M8 14h-4M8 24h-4M8 34h-4"), solid("M12.500 3h3v42h-3z")],
  "floor point": [line("M3 40h42M8 45l5-5M20 45l5-5M32 45l5-5"), line("M24 8v26M18 28l6 7 6-7")],
  "level point": [line("M3 24h42"), circle(24, 24, 5), line("M24 12v24")],
  stud: [line("M16 3v42M32 3v42"), line("M16 10l16 8M16 26l16 8"), line("M10 3h28M10 45h28")],
  damage: [line("M8 40l9-11-5-6 11-4-2-8 10 5 8-8M21 19l9 9-2 8")],
  other: [rect(8, 8, 32, 32, 2), letters("?", 24, 33, 26)],
  "in front": [line("M4 22h40v6H4zM8 28v16M40 28v16M14 22V8h12v14"), line("M34 22v-8")],
  // ends of a wall, seen from above with the room below; drawn for the right end
  "inside corner": [solid("M3 12h36v30h6V6H3z")],
  "outside corner": [solid("M3 24h30V3h6v27H3z")],
  "bullnose corner": [solid("M3 24h24q6 0 6-6V3h6v15q0 12-12 12H3z")],
  casing: [solid("M3 20h24v6H3z"), rect(27, 17, 7, 16), line("M38 23h7")],
  "open end": [solid("M3 20h24v6H3z"), line("M32 23h2M38 23h2M44 23h1")],
  // deeds
  camera: [line("M4 14h10l4-6h12l4 6h10v26H4z"), circle(24, 26, 8)],
  gallery: [rect(4, 8, 40, 32), line("M4 34l12-12 9 9 7-6 12 11"), circle(32, 17, 3)],
  mark: [circle(24, 24, 9), line("M24 4v12M24 32v12M4 24h12M32 24h12")],
  tape: [rect(4, 10, 26, 26, 4), circle(17, 23, 6), line("M30 32h15v4M34 32v3M39 32v3")],
  back: [line("M30 8L14 24l16 16")],
  close: [line("M11 11l26 26M37 11L11 37")],
  undo: [line("M14 10L6 18l8 8M6 18h22a12 12 0 0 1 0 24H16")],
  redo: [line("M34 10l8 8-8 8M42 18H20a12 12 0 0 0 0 24h12")],
  plus: [line("M24 8v32M8 24h32")],
  minus: [line("M8 24h32")],
  fit: [line("M6 16V6h10M32 6h10v10M42 32v10H32M16 42H6V32")],
  rubber: [line("M16 10h28v28H16L4 24zM24 18l12 12M36 18L24 30")],
  // grades and states: a shape for each, so that colour is never alone
  kept: [line("M8 25l11 11 21-24")],
  waiting: [circle(24, 24, 18), line("M24 13v12l8 6")],
  unreached: [line("M6 20a26 26 0 0 1 36 0M13 28a16 16 0 0 1 22 0"), circle(24, 38, 2.5), line("M8 42L40 8")],
  warning: [line("M24 5l21 37H3z"), line("M24 18v12"), circle(24, 35.5, 1)],
  doubt: [circle(24, 24, 19), letters("?", 24, 34, 28)],
  note: [circle(24, 24, 19), line("M24 22v12"), circle(24, 15, 1)],
  // verdicts: shape and letter
  clear: [line("M3 24l10-18h22l10 18-10 18H13z"), letters("C", 24, 32, 22)],
  tight: [line("M6 5h36v24L24 45 6 29z"), letters("T", 24, 30, 22)],
  "strikes the moulding": [solid("M24 2l22 42H2z"), letters("M", 24, 40, 20)],
  "split by a member": [solid("M24 1l23 23-23 23L1 24z"), letters("S", 24, 32, 22)],
  "sits whole on a member": [solid("M5 5h38v38H5z"), letters("W", 24, 32, 22)],
  "too close to tell": [line("M24 2l22 22-22 22L2 24z"), letters("?", 24, 32, 22)],
};

/** Pictures whose letter stands on a filled shape. */
const ON_SOLID = new Set(["strikes the moulding", "split by a member", "sits whole on a member"]);

/**
 * A picture; the words beside it, or the button's name, say what it is.
 * @param {string} name
 * @param {{mirrored?: boolean}} [how]
 * @returns {SVGElement}
 */
export function picture(name, { mirrored = false } = {}) {
  const parts = (DRAWN[name] ?? DRAWN.other).map(([tag, props, text]) => s(tag, props, text));
  const classes = ["picture", mirrored && "mirrored", ON_SOLID.has(name) && "on-solid"].filter(Boolean).join(" ");
  return s("svg", { class: classes, viewBox: "0 0 48 48", "aria-hidden": "true", focusable: "false" }, parts);
}
