/** What is asked before a mark is tapped: its kind, which one, which end, how thick the base is. */

import { h } from "./dom.js";
import { keypad } from "./keypad.js";
import { freeName, KINDS } from "./mark_kinds.js";
import { picture } from "./pictures.js";
import { ask, sheet } from "./sheets.js";

/** Ask for a kind, by big pictures. @returns {Promise<string|undefined>} */
export function chooseWhat(kinds = Object.keys(KINDS), note = "") {
  return sheet("What is it?", (close) => [
    note && h("p", {}, note),
    h("div", { class: "pictures" }, kinds.map((kind) =>
      h("button", { onclick: () => close(kind) }, picture(kind), h("span", {}, kind)),
    )),
  ]);
}

/** Choose one of the marks in a picture: the way for the keyboard and for marks that lie close together. */
export function chooseMark(names) {
  if (!names.length) return ask("Marks here", "Nothing is marked in this picture yet.", [{ value: undefined, label: "Back" }]);
  return ask("Marks here", "", names.map((name) => ({ value: name, label: name })));
}

/**
 * The mark to be tapped: a new one, or one that was marked in another photo already.
 * @returns {Promise<any>} name, kind and what was asked; undefined when left
 */
export async function chooseWhich(state, wallName, source, kind) {
  const wall = state.wall(wallName);
  if (!wall) return undefined; // somebody has just taken it away
  if (kind === "wall end") return endOf(wall);
  const elsewhere = kind === "floor point" ? [] : wall.marks.filter((mark) => mark.kind === kind && !source.spots(mark).length);
  if (elsewhere.length) {
    const known = elsewhere.map(({ name }) => ({ value: name, label: name, note: "marked in another photo" }));
    const name = await ask("Which one?", "", [...known, { value: "", label: `another ${kind}`, main: true }]);
    if (name === undefined) return undefined;
    if (name) return { name, kind };
  }
  const mark = { name: freeName(wall, kind), kind };
  if (kind === "floor point") return withBase(state, wallName, mark);
  if (kind === "casing edge") return withOpening(mark);
  return mark;
}

async function endOf(wall) {
  const side = await bySide("Which end?", wall.left, wall.right, "left end", "right end");
  const old = wall.marks.find((mark) => mark.kind === "wall end" && mark.side === side);
  return side && { name: old?.name ?? `${side} end`, kind: "wall end", side };
}

/** Ask on which side of a casing’s edge its opening is. */
export async function withOpening(mark) {
  const side = await bySide("On which side is the opening?", "casing", "casing", "to its left", "to its right");
  return side && { ...mark, side };
}

function bySide(title, left, right, leftWords, rightWords) {
  return sheet(title, (close) =>
    h("div", { class: "pictures two" },
      h("button", { onclick: () => close("left") }, picture(left, { mirrored: true }), h("span", {}, leftWords)),
      h("button", { onclick: () => close("right") }, picture(right), h("span", {}, rightWords))),
  );
}

/** The base on each wall as it was told last, by job and wall; asked once. */
const bases = new Map();

async function withBase(state, wall, mark) {
  const key = `${state.id}\n${wall}`;
  if (!bases.has(key)) {
    const last = state.wall(wall).marks.filter((one) => one.kind === "floor point").at(-1);
    const base = last ? last.projection : await askBase(state);
    if (base === undefined) return undefined;
    bases.set(key, base);
  }
  const projection = bases.get(key);
  return projection === null ? mark : { ...mark, projection };
}

/** Common thicknesses of base boards (common practice, no source). */
const BASES = { in: ['1/2"', '9/16"', '5/8"', '3/4"'], mm: ["12 mm", "15 mm", "18 mm", "20 mm"] };

async function askBase(state) {
  const choices = [
    { value: "0", label: "no base: the bare wall" },
    ...BASES[state.job.units].map((value) => ({ value, label: value })),
    { value: "other", label: "another thickness" },
    { value: null, label: "not known" },
  ];
  const base = await ask("How thick is the base at the floor?", "You tap its foot, which stands out from the wall by so much.", choices);
  return base === "other" ? keypad("Thickness of the base", { units: state.job.units }) : base;
}
