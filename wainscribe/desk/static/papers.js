/** The papers: made with progress, opened in a page of their own. */

import { get, path, post } from "./api.js";
import { at, h, pause, redraw } from "./dom.js";
import { here, pageOf, startJobPage } from "./page.js";
import { picture } from "./pictures.js";
import * as queue from "./queue.js";
import { answer, keepAnswer } from "./store.js";

const SOON = 700; // ms between two questions
const MANY = 12; // cards that are not in the way of what comes after them
let making = false;

function draw(state) {
  at("title").textContent = state.job.name;
  drawFiles();
}

const listUrl = path("jobs", here.job, "papers");

async function drawFiles() {
  const list = await get(listUrl).catch(() => answer(listUrl));
  if (list) await keepAnswer(listUrl, list);
  const files = (list?.files ?? []).map((file) => (typeof file === "string" ? file : file.name));
  redraw(at("files"), files.length ? groups(files) : h("p", {}, "None yet."));
}

/** In the order in which they are wanted; all others after these, as they come. */
const FIRST = ["site-report.pdf", "customer-sheet.pdf", "electricians-brief.pdf"];
const rank = (file) => (FIRST.includes(file) ? FIRST.indexOf(file) : FIRST.length);

/** For reading first, tables after, and last the drawings, of which there are four a wall: those of a house are folded. */
function groups(files) {
  const kinds = [["To read and print", /\.pdf$/, cards], ["Tables and data", /\.(csv|json)$/, cards], ["Drawings", DRAWING, ofWalls]];
  return kinds.map(([title, of, shown]) => {
    const these = shown(files.filter((file) => of.test(file)).sort((one, other) => rank(one) - rank(other)));
    const list = h("ul", { class: "cards" }, these);
    if (these.length > MANY) return h("details", {}, h("summary", {}, `${title} of ${these.length} walls`), list);
    return these.length > 0 && [h("h3", {}, title), list];
  });
}

const cards = (files) => files.map((file) => h("li", {}, link(file, { class: "card" }, h("b", {}, called(file)), h("span", {}, file))));

const link = (file, more, ...inside) => h("a", { ...more, target: "_blank", rel: "noopener", href: pageOf(here.job, "papers", file) }, ...inside);

const DRAWING = /^(.*)-(existing|planned)\.(svg|dxf)$/;
const SHOWS = { existing: "As it stands", planned: "As planned" };

/** A card for each wall, with the ways to it. */
function ofWalls(files) {
  const drawings = files.map((file) => [file, ...DRAWING.exec(file).slice(1)]);
  return [...new Set(drawings.map(([, wall]) => wall))].map((wall) => h("li", { class: "card drawings" }, h("b", {}, called(wall)),
    drawings.filter(([, of]) => of === wall).map(([file, , shows, format]) => {
      const words = `${SHOWS[shows]}, ${format.toUpperCase()}`;
      return link(file, { "aria-label": `${called(wall)}: ${words}` }, words);
    })));
}

const OWN = { "electricians-brief": "Electrician’s brief" };

function called(file) {
  const stem = file.replace(/\.[a-z]+$/, "");
  return OWN[stem] ?? stem.replaceAll("-", " ").replace(/^./, (first) => first.toUpperCase());
}

async function make() {
  if (making) return;
  const waiting = queue.unsent(here.job).length;
  if (waiting) return tell([], `${waiting} of your changes are not on the laptop yet; they would be missing in the papers. Wait, or settle them above.`);
  making = true;
  at("make").setAttribute("aria-disabled", "true");
  try {
    await watch((await post(listUrl)).task);
  } catch (error) {
    tell([], error.message);
  } finally {
    making = false;
    at("make").setAttribute("aria-disabled", "false");
    at("busy").hidden = true;
  }
  return undefined;
}

async function watch(task) {
  at("busy").hidden = false;
  for (;;) {
    const { done, failed, said } = await get(path("tasks", task));
    tell(said, failed);
    if (done || failed) return drawFiles();
    await pause(SOON);
  }
}

function tell(said, failed = "") {
  redraw(at("said"), failed && h("p", { class: "warning" }, picture("warning"), h("span", {}, failed)),
    said.map((line) => h("li", {}, line)));
}

at("make").addEventListener("click", make);
at("make").disabled = false; // a tap before this script was there would be lost
await startJobPage(draw);
