/**
 * The checklist of conditions, answered by taps. One line a question; the answers are kept in the job's record of
 * conditions, or as lines of the wall's note (“base: stays”) where the record has none.
 */

import { wallOf } from "./apply.js";
import { chipRow } from "./mark_details.js";
import { row, yearBuilt } from "./about.js";
import { changeWall } from "./wall_form.js";

/** @type {{key: string, ask: string, answers: string[]}[]} */
const QUESTIONS = [
  { key: "wall_material", ask: "Wall", answers: ["drywall", "plaster", "panelling", "masonry"] },
  { key: "paint", ask: "Paint", answers: ["sound", "flaking", "wallpaper", "bare"] },
  { key: "flat", ask: "Flat under a straightedge", answers: ["flat", "bowed", "wavy"] },
  { key: "plumb", ask: "Plumb", answers: ["plumb", "leans in", "leans out"] },
  { key: "level", ask: "Floor", answers: ["level", "falls left", "falls right"] },
  { key: "base", ask: "Base", answers: ["stays", "comes off", "none"] },
  { key: "wiring", ask: "Wiring seen", answers: ["modern cable", "aluminum", "knob and tube", "armored cable", "not seen"] },
  { key: "moisture", ask: "Moisture", answers: ["dry", "stains", "damp"] },
];

/** The rows of the checklist. @param {import("./job_state.js").JobState} state */
export function conditionRows(state, wallName) {
  const wall = state.wall(wallName);
  const answers = answersOf(wall);
  return [
    row("House built", state.job.year_built ?? "not known", () => yearBuilt(state)),
    QUESTIONS.filter(({ key }) => !wall.conditions || key in wall.conditions).map(({ key, ask, answers: offered }) => {
      const now = answers[key] || undefined;
      const own = now && !offered.includes(now) ? [[now, now]] : [];
      const choices = [...offered.map((answer) => [answer, answer]), ...own];
      return chipRow(ask, choices, now, (answer) => keep(state, wallName, key, answer ?? ""), true);
    }),
  ];
}

function answersOf(wall) {
  if (wall.conditions) return wall.conditions;
  const lines = wall.note.split("\n").map((line) => /^([a-z ]+): (.+)$/.exec(line)).filter(Boolean);
  return Object.fromEntries(lines.map(([, words, answer]) => [words.replaceAll(" ", "_"), answer]));
}

function keep(state, wallName, key, answer) {
  const held = wallOf(state.held.job, wallName);
  if (held?.conditions) {
    const seen = { [key]: held.conditions[key] ?? null };
    return state.change({ do: "conditions", wall: wallName, facts: { [key]: answer }, seen });
  }
  const words = key.replaceAll("_", " ");
  const others = state.wall(wallName).note.split("\n").filter((line) => line && !line.startsWith(`${words}: `));
  return changeWall(state, wallName, { note: [...others, ...(answer ? [`${words}: ${answer}`] : [])].join("\n") });
}
