/** What is told of a mark besides its place: gangs, the stud, the cable, sizes as taped, how proud its face stands. */

import { h, redraw } from "./dom.js";
import { keypad } from "./keypad.js";
import { shown } from "./lengths.js";
import { toldOf } from "./mark_kinds.js";
import { ask, askText, sheet } from "./sheets.js";

/**
 * @param {import("./job_state.js").JobState} state
 * @param {string} wall
 * @param {string} name
 */
export function markDetails(state, wall, name) {
  const mark = () => state.wall(wall)?.marks.find((one) => one.name === name);
  const { units } = state.job;
  const change = (part) => changeMark(state, wall, mark(), part);
  return sheet(name, (close) => {
    const box = h("div", { class: "details" });
    const draw = () => (mark() ? redraw(box, rows()) : close());
    const told = toldOf(mark().kind);
    const chips = (label, field, choices) => chipRow(label, choices, mark()[field], (value) => change({ [field]: value }));
    const length = (label, field, none) =>
      lengthRow(label, mark()[field], units, (text) => change({ [field]: text }), { title: `${name}: ${label}`, none });
    const rows = () => [
      told.gangs && chips("Gangs", "gangs", [[1, "1"], [2, "2"], [3, "3"], [4, "4"]]),
      told.stud_side && chips("Stud beside it", "stud_side", [["left", "left"], ["right", "right"], [null, "not known"]]),
      told.cable_slack && length("Cable slack", "cable_slack"),
      told.size && [length("Width, taped", "width"), length("Height, taped", "height")],
      told.projection && length("Stands proud of the wall by", "projection", "as usual"),
      h("button", { class: "row", "data-key": "note", onclick: note }, h("span", {}, "Note"), h("b", { dir: "auto" }, mark().note || "none")),
      h("button", { class: "row danger", "data-key": "away", onclick: takeAway }, "Take this mark away"),
    ];
    async function note() {
      const text = await askText(`Note on ${name}`, { label: "Note", value: mark().note, long: true });
      if (text !== undefined) change({ note: text });
    }
    async function takeAway() {
      if (await removeMark(state, wall, name)) close();
    }
    state.onChange(() => box.isConnected && draw());
    draw();
    return box;
  });
}

/** Change some fields of a mark. */
function changeMark(state, wall, mark, part) {
  return state.change({ do: "mark", wall, mark: { name: mark.name, kind: mark.kind, ...part }, seen: seenMark(state, wall, mark.name) });
}

/** A mark as the laptop holds it: what was seen before changing it. */
export function seenMark(state, wall, name) {
  for (const room of state.held.job.rooms)
    for (const one of room.walls) if (one.name === wall) return one.marks.find((mark) => mark.name === name) ?? null;
  return null;
}

/** Ask, then take a mark away with the readings that go to it. Whether it was. */
export async function removeMark(state, wall, name) {
  const sure = await ask(`Take ${name} away?`, "Tape readings that go to it are taken away too. Undo brings them back.", [
    { value: true, label: "Take it away" },
    { value: false, label: "Leave it", main: true },
  ]);
  if (sure) await state.change({ do: "remove-mark", wall, name, seen: seenMark(state, wall, name) });
  return sure;
}

/** A row of choices, one of them taken; where nothing need be chosen, a second tap on it takes it back. */
export function chipRow(label, choices, now, choose, optional = false) {
  return h("fieldset", { class: "chips" }, h("legend", {}, label), choices.map(([value, words]) =>
    h("button", {
      type: "button", "aria-pressed": String(now === value), "data-key": `${label} ${words}`,
      onclick: () => (now !== value ? choose(value) : optional && choose(undefined)),
    }, words),
  ));
}

/** A row that shows a length and asks for it on the keypad. `choose` gets text, or null for “not taped”. */
function lengthRow(label, now, units, choose, { title = label, none = "not taped" } = {}) {
  const tap = async () => {
    const text = await keypad(title, { value: shown(now, units), units, clears: now !== null && now !== undefined });
    if (text !== undefined) choose(text === "" ? null : text);
  };
  return h("button", { type: "button", class: "row", "data-key": label, onclick: tap },
    h("span", {}, label), h("b", { class: "length" }, shown(now, units) || none));
}
