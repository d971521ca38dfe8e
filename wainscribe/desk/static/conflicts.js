/** What is in the way, the most urgent first, and for each the ways out of it side by side. */

import { wallsOf } from "./apply.js";
import { at, goTo, h } from "./dom.js";
import { REST } from "./part_plan.js";
import { picture } from "./pictures.js";
import { sketch } from "./sketches.js";
import { wish, wished } from "./scheme_form.js";

const FEW = 8; // that a page can tell whole; of more, those on other walls are a line each

/**
 * @param {import("./job_state.js").JobState} state
 * @param {any} plan as the laptop told it
 * @param {string} wall that is shown
 * @param {(wall: string) => void} turnTo show another wall
 */
export function conflictList(state, plan, wall, turnTo) {
  const told = plan.conflicts ?? [];
  if (!plan.walls.some(({ runs }) => runs.length)) return h("p", { class: "lead" }, "No wall is planned yet, so nothing is judged.");
  const waiting = plan.walls.some((one) => one.waiting) && h("p", { class: "lead" }, REST);
  if (!told.length) return waiting || clear(state, wallsOf(state.job), "");
  const whole = told.length > FEW ? told.filter((one) => one.wall === wall) : told;
  const elsewhere = told.filter((one) => !whole.includes(one));
  return [
    waiting,
    whole.length ? h("ol", { class: "conflicts" }, whole.map((conflict) => one(state, plan.of, conflict, wall, turnTo))) : none(state, plan, wall),
    elsewhere.length > 0 && h("h3", {}, `On other walls: ${elsewhere.length}`),
    elsewhere.length > 0 && h("ul", { class: "plain-list" }, elsewhere.map((conflict) => line(conflict, turnTo))),
  ];
}

/** How much is in the way and how much of it is decided, in the words of the papers (`report/numbers.py`). */
export function inTheWay(conflicts) {
  const decided = conflicts.filter((one) => one.decided).length;
  const rest = conflicts.length - decided;
  return [`${conflicts.length} in the way`, decided && `${decided} decided`, decided && rest && `${rest} to decide`].filter(Boolean).join(", ");
}

/** What is said where nothing is told of the wall that is shown: only what was judged can be clear. */
function none(state, plan, wall) {
  const { waiting, runs } = plan.walls.find(({ name }) => name === wall);
  if (waiting) return null;
  if (!runs.length) return h("p", { class: "lead" }, `${wall} is not planned yet, so nothing is judged there.`);
  return clear(state, [state.wall(wall)], ` on ${wall}`);
}

/** Nothing is in the way; where nothing is marked that could be, only that is known. */
function clear(state, walls, where) {
  const blocks = new Set(state.held.kinds.filter(({ blocks }) => blocks).map(({ kind }) => kind));
  if (!walls.some((wall) => wall?.marks.some(({ kind }) => blocks.has(kind))))
    return h("p", { class: "lead" }, `No box or other thing that could be in the way is marked${where} yet.`);
  return h("p", { class: "lead" }, picture("kept"), h("span", {}, `Nothing is in the way${where}.`));
}

function line({ thing, wall, verdict, waiting }, turnTo) {
  const show = () => {
    turnTo(wall);
    goTo(at("in-the-way"));
  };
  return h("li", { "aria-busy": waiting ? "true" : null }, h("button", { class: "row", "data-key": `show ${wall} ${thing}`, onclick: show },
    picture(waiting ? "waiting" : verdict), h("span", {}, h("span", { dir: "auto" }, thing), " ", h("small", {}, waiting ? `${verdict}, from before the last change` : verdict)), h("b", { dir: "auto" }, wall)));
}

function one(state, of, conflict, wall, turnTo) {
  const { thing, verdict, sentence, remedies } = conflict;
  return h("li", { class: "conflict", "aria-busy": conflict.waiting ? "true" : null },
    conflict.waiting && h("p", { class: "sign" }, picture("waiting"), h("span", {}, "from before the last change")),
    h("h3", {}, picture(verdict), h("span", { dir: "auto" }, thing), h("small", {}, conflict.decided ? `${verdict}, decided` : verdict)),
    conflict.wall !== wall && h("button", { class: "plain small", "data-key": `show ${conflict.wall} ${thing}`, onclick: () => turnTo(conflict.wall) }, `show ${conflict.wall}`),
    h("p", {}, sentence),
    conflict.tape_this && h("p", { class: "sign" }, picture("tape"), h("span", {}, conflict.tape_this)),
    remedies.length > 0 && h("div", { class: "remedies", role: "group", "aria-label": `Ways out for ${thing}` },
      remedies.map((remedy) => card(state, of, conflict, remedy))));
}

function card(state, of, { thing, wall, waiting }, remedy) {
  const { way, sentence, costs, picture: drawn, pin, pinned, warnings } = remedy;
  const key = `pin ${wall} ${thing} ${way} ${sentence}`;
  return h("div", { class: `remedy${pinned ? " pinned" : ""}` },
    drawn && !waiting && sketch(drawn, of),
    h("b", {}, way),
    h("p", {}, sentence),
    costs && costs.length > 0 && h("p", { class: "costs" }, Array.isArray(costs) ? costs.join(" · ") : costs),
    (warnings ?? []).map((words) => h("p", { class: "sign" }, picture("warning"), h("span", {}, words))),
    pin && h("button", {
      class: pinned ? "main" : "", "aria-pressed": String(Boolean(pinned)), "data-key": key,
      "aria-label": `${way} for ${thing}: ${pinned ? "chosen, tap to set free" : "choose"}`,
      onclick: () => choose(state, pin, pinned),
    }, pinned ? [picture("kept"), "chosen"] : "choose this"));
}

/** Pin a way out, or set it free again. */
async function choose(state, pin, pinned) {
  for (const [key, value] of Object.entries(pin)) {
    if (!pinned && wished(state.job.scheme, key) === value) continue;
    await wish(state, key, pinned ? "" : value);
  }
}
