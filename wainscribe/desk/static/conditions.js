/** The checklist of conditions, answered by taps. What is asked comes from the laptop, so that every answer can be kept. */

import { row, yearBuilt } from "./about.js";
import { wallOf } from "./apply.js";
import { h } from "./dom.js";
import { keypad } from "./keypad.js";
import { shown } from "./lengths.js";
import { chipRow } from "./mark_details.js";
import { askText, sheet } from "./sheets.js";

const GAPS = { in: ["0", '1/16"', '1/8"', '3/16"', '1/4"', '3/8"', '1/2"', '3/4"'], mm: ["0", "1 mm", "2 mm", "3 mm", "5 mm", "8 mm", "10 mm", "15 mm"] };
const NOT_KNOWN = "not known";

/**
 * The rows of the checklist of a wall, or of the whole house.
 * @param {import("./job_state.js").JobState} state
 * @param {string} [wallName]
 */
export function conditionRows(state, wallName = undefined) {
  const questions = (state.held.checklist ?? []).filter(({ house }) => house || wallName);
  const built = row(wallName ? "House built" : "Built", state.job.year_built ?? NOT_KNOWN, () => yearBuilt(state));
  return [built, questions.map((question) => asked(new Answer(state, wallName, question)))];
}

/** One question's answer: as it stands, and how it is kept. */
class Answer {
  constructor(state, wallName, question) {
    Object.assign(this, { state, wallName, ...question });
    this.units = state.job.units;
    this.value = valueOf(wallName ? state.wall(wallName) : state.job, this.key);
    const house = wallName && !this.value && this.house && valueOf(state.job, this.key);
    /** Where the wall has none of its own, the house's holds. */
    this.words = this.value ? this.inWords(this.value) : house ? `${this.inWords(house)} (the house)` : NOT_KNOWN;
  }

  inWords(value) {
    if (this.how.length) return gaugedWords(this.name.toLowerCase(), readingOf(value), this.units);
    return this.choices.find(([one]) => one === value)?.[1] ?? shown(value, this.units);
  }

  keep(answer) {
    const { state, wallName, key } = this;
    if (answer === undefined) return undefined;
    const held = wallName ? wallOf(state.held.job, wallName) : state.held.job;
    const seen = { [key]: held?.conditions[key] ?? null };
    return state.change({ do: "conditions", ...(wallName && { wall: wallName }), facts: { [key]: answer }, seen });
  }
}

/** A wall that is not on the laptop yet has no conditions. */
const valueOf = (on, key) => on.conditions?.[key] || undefined;

function asked(answer) {
  const { name, choices, value, words, units } = answer;
  if (choices.length) {
    const legend = value || words === NOT_KNOWN ? name : `${name}: ${words}`;
    return chipRow(legend, choices, value, (one) => answer.keep(one ?? ""), true);
  }
  if (answer.how.length) return row(name, words, async () => answer.keep(await askReading(answer)));
  if (answer.length)
    return row(name, words, async () => answer.keep(await keypad(name, { value: shown(value, units), units, clears: Boolean(value) })));
  const about = { label: "Or in your words", value, offered: answer.offered, none: NOT_KNOWN };
  return row(name, words, async () => answer.keep(await askText(name, about)));
}

/** A reading: how far it is off, then what it was taken with. @returns {Promise<string|undefined>} */
async function askReading({ name, how, units }) {
  const off = await sheet(`${name}: off by how much?`, (close) => [
    h("div", { class: "chips" }, GAPS[units].map((gap) => h("button", { onclick: () => close(gap) }, gap === "0" ? "nothing" : gap))),
    h("div", { class: "choices" },
      h("button", { onclick: () => close("other") }, "Another reading"),
      h("button", { onclick: () => close("") }, NOT_KNOWN)),
  ]);
  const read = off === "other" ? await keypad(`${name}: off by`, { units }) : off;
  if (!read) return read;
  const taken = await askText("Taken with what?", { label: "Or in your words", offered: how });
  return taken === undefined ? undefined : [read, taken].filter(Boolean).join(", ");
}

/** A reading as the job keeps it, or as it was tapped just now. */
function readingOf(value) {
  if (typeof value !== "string") return value;
  const [off, ...how] = value.split(", ");
  return { off, how: how.join(", ") };
}

const gaugedWords = (fine, { off, how }, units) =>
  `${off === "0" ? fine : `out by ${shown(off, units)}`} (${how || "how is not noted"})`;
