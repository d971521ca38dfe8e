/** Planning: the scheme on one side; on the other the walls as planned, what is in the way, and what could be done. */

import { NoAnswer, path } from "./api.js";
import { getSolved, Newest, pictured, solving } from "./asking.js";
import { conflictList, inTheWay } from "./conflicts.js";
import { at, h, redraw } from "./dom.js";
import { History } from "./history.js";
import { openLarger } from "./larger.js";
import { startJobPage } from "./page.js";
import { laidOver, REST } from "./part_plan.js";
import { picture } from "./pictures.js";
import { schemeForm } from "./scheme_form.js";
import { answer, keepAnswer } from "./store.js";

const AGAIN = 5_000; // ms
let state;
let history;
/** What the laptop planned last, and at which revision of the job. */
let plan;
let planned = -1;
let next = { first: "", also: [], steps: [], waiting: false };
let trouble = "";
let wall = "";
/** What is shown of the wall: "planned", "existing", or a photo's name. */
let view = "planned";
/** For the plan at the job's revision, for a wall turned to meanwhile, and for its picture. */
const [planning, turning, picturing] = [new Newest(), new Newest(), new Newest()];

function draw(fresh) {
  state = fresh;
  history ??= new History(state);
  at("title").textContent = state.job.name;
  history.draw(at("history"));
  redraw(at("scheme"), schemeForm(state, plan));
  drawPlan();
  if (state.reached && state.held.revision !== planned) load();
}

function drawPlan() {
  redraw(at("trouble"), trouble && h("p", { class: "warning" }, picture("warning"), h("span", {}, trouble)));
  if (!plan) return;
  const names = plan.walls.map((one) => one.name);
  if (!names.includes(wall)) wall = plan.conflicts?.[0]?.wall ?? names[0] ?? "";
  redraw(at("walls"), names.map((name) => wallButton(name)));
  redraw(at("views"), views().map(([key, label]) => h("button", { "aria-pressed": String(view === key), "data-key": `view ${key}`, onclick: () => show(key) }, label)));
  drawPicture();
  redraw(at("conflicts"), conflictList(state, plan, wall, (name) => turnTo(name)));
  redraw(at("next"), nextSteps());
  redraw(at("assumed"), assumed());
}

function wallButton(name) {
  const there = (plan.conflicts ?? []).filter((one) => one.wall === name);
  return h("button", { "aria-pressed": String(name === wall), "data-key": `wall ${name}`, onclick: () => turnTo(name) },
    h("span", { dir: "auto" }, name), plannedOf(name).waiting ? h("small", {}, "…") : there.length > 0 && h("small", {}, inTheWay(there)));
}

const plannedOf = (name) => plan.walls.find((one) => one.name === name);

function turnTo(name) {
  wall = name;
  if (!["planned", "existing"].includes(view)) view = "planned";
  drawPlan();
  if (plannedOf(name).waiting) lookAt(name, planned, turning.next()).catch(() => undefined); // the whole house is asked for already
}

function show(key) {
  view = key;
  drawPlan();
}

function views() {
  const photos = plannedOf(wall)?.photos ?? [];
  const several = photos.length > 1;
  return [["planned", "Drawing"], ...photos.map((name, i) => [name, several ? `On photo ${i + 1}` : "On the photo"]), ["existing", "As it stands"]];
}

/** The picture at the job's revision: a new one only takes the old one's place when it is there. */
async function drawPicture() {
  const on = path("jobs", state.id, "walls", wall);
  const file = view === "planned" || view === "existing" ? `${view}.svg?of=${planned}` : `overlay/${encodeURIComponent(view)}.jpg?width=1600&of=${planned}`;
  const url = `${on}/${file}`;
  const place = at("picture");
  if (place.dataset.url === url) return;
  place.dataset.url = url;
  const words = { planned: `${wall} with the planned frames, to scale`, existing: `${wall} as it stands, to scale` }[view] ?? `${wall}: the planned frames drawn on the photo`;
  const image = h("img", { alt: words, class: view === "planned" || view === "existing" ? "drawing" : "overlay" });
  place.setAttribute("aria-busy", "true");
  const signal = picturing.next();
  try {
    await pictured(solving, image, url, signal);
    if (!signal.aborted)
      place.replaceChildren(h("button", { class: "larger", "aria-label": `Larger: ${words}`, onclick: () => openLarger(image) }, image));
  } catch {
    if (signal.aborted) return;
    delete place.dataset.url;
    place.replaceChildren(h("p", {}, "This picture did not come. It is asked for again with the next change."));
  } finally {
    if (!signal.aborted) place.setAttribute("aria-busy", "false");
  }
}

function nextSteps() {
  const { first, also, steps, waiting } = next;
  if (waiting) return h("p", {}, REST);
  const unplanned = plan.walls.filter(({ refused }) => refused);
  const nothing = !first && !also.length && !steps.length;
  if (nothing && unplanned.length)
    return h("ul", { class: "plain-list" }, unplanned.map(({ refused }) => h("li", {}, refused)));
  if (nothing) return h("p", {}, "Nothing: no verdict hangs on another reading.");
  return [
    [first, ...also].filter(Boolean).map((words) => h("p", {}, words)),
    h("ol", { class: "plain-list" }, steps.map((step) =>
      h("li", {}, h("b", { dir: "auto" }, step.what), h("span", {}, ` on ${step.wall}`), step.settles.length > 0 && h("small", {}, `would settle ${step.settles.join(", ")}`)))),
  ];
}

function assumed() {
  const one = plannedOf(wall);
  if (one?.waiting) return h("p", {}, REST);
  const said = [...(one?.notes ?? []), ...(one?.assumed ?? [])].filter((sentence) => sentence !== one.refused);
  return said.length ? h("ul", { class: "plain-list" }, said.map((sentence) => h("li", {}, sentence))) : h("p", {}, "Nothing.");
}

/** Ask for the plan of one wall, as soon as it is there; the others wait. */
async function lookAt(name, revision, signal) {
  const fresh = await getSolved(`${path("jobs", state.id)}/plan?wall=${encodeURIComponent(name)}`, signal);
  if (revision !== planned) return;
  plan = laidOver(plan, fresh, revision);
  next = { ...next, waiting: true };
  draw(state);
}

/** Ask for the plan at the job's revision, first of the wall that is shown; a later change asks again. */
async function load() {
  const revision = (planned = state.held.revision);
  const signal = planning.next();
  const url = path("jobs", state.id);
  at("busy").textContent = "planning…";
  try {
    if (state.wall(wall) && plan) await lookAt(wall, revision, signal);
    if (revision !== planned) return;
    const fresh = await getSolved(`${url}/plan`, signal);
    if (revision !== planned) return;
    [plan, trouble] = [{ ...fresh, of: revision }, ""];
    await keepAnswer(`${url}/plan`, plan);
    draw(state);
    const steps = await getSolved(`${url}/next`, signal);
    if (revision === planned) next = steps;
  } catch (error) {
    if (revision !== planned) return;
    trouble = error instanceof NoAnswer ? "The laptop does not answer; this is the last plan that it told." : error.message;
    if (error instanceof NoAnswer) {
      plan ??= await answer(`${url}/plan`);
      setTimeout(askAgain, AGAIN);
    }
  } finally {
    if (revision === planned) at("busy").textContent = "";
  }
  if (revision === planned) drawPlan();
}

function askAgain() {
  planned = -1;
  draw(state);
}

await startJobPage(draw);
