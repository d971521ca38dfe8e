/** The papers: made with progress, opened in a page of their own. */

import { get, path, post } from "./api.js";
import { at, h, pause, redraw } from "./dom.js";
import { here, pageOf, startJobPage } from "./page.js";
import { picture } from "./pictures.js";
import * as queue from "./queue.js";
import { answer, keepAnswer } from "./store.js";

const SOON = 700; // ms between two questions
const MANY = 6; // walls whose drawings are shown unfolded
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

/** For reading first, tables after, and last the drawings. */
function groups(files) {
  const kinds = [["To read and print", /\.pdf$/, cards], ["Tables and data", /\.(csv|json)$/, cards], ["Drawings", /\.(svg|dxf)$/, drawings]];
  return kinds.map(([title, of, shown]) => {
    const these = files.filter((file) => of.test(file)).sort((one, other) => rank(one) - rank(other));
    return these.length > 0 && shown(title, these);
  });
}

const cards = (title, files) => [h("h3", {}, title), h("ul", { class: "cards" }, files.map(card))];

const card = (file) => h("li", {}, link(file, { class: "card" }, h("b", {}, called(file)), h("span", {}, file)));

const link = (file, more, ...inside) => h("a", { ...more, target: "_blank", rel: "noopener", href: pageOf(here.job, "papers", file) }, ...inside);

const DRAWING = /^(.*)-(existing|planned)\.(svg|dxf)$/;
const SHOWS = { existing: "As it stands", planned: "As planned" };
let unfolded = false;

/** There are four drawings a wall: a card for each wall; those of a house are folded. */
function drawings(title, files) {
  const walls = [...new Set(files.flatMap((file) => DRAWING.exec(file)?.[1] ?? []))];
  const list = h("ul", { class: "cards" }, walls.map((wall) => ofWall(wall, files)), files.filter((file) => !DRAWING.test(file)).map(card));
  if (walls.length <= MANY) return [h("h3", {}, title), list];
  const fold = h("details", { open: unfolded, ontoggle: () => { unfolded = fold.open; } }, h("summary", {}, `${title} of ${walls.length} walls`), list);
  return fold;
}

function ofWall(wall, files) {
  const name = spoken(wall);
  return h("li", { class: "card drawings" }, h("b", {}, name), files.map((file) => {
    const [, of, shows, format] = DRAWING.exec(file) ?? [];
    if (of !== wall) return false;
    const words = `${SHOWS[shows]}, ${format.toUpperCase()}`;
    return link(file, { "aria-label": `${name}: ${words}` }, words);
  }));
}

const OWN = new Map([["electricians-brief.pdf", "Electrician’s brief"]]);

const called = (file) => OWN.get(file) ?? spoken(file.replace(/\.[a-z]+$/, ""));

const spoken = (stem) => stem.replaceAll("-", " ").replace(/^./, (first) => first.toUpperCase());

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
