/** The jobs in the folder, and a new one. */

import { get, path, post } from "./api.js";
import { at, h, redraw } from "./dom.js";
import { pageOf, startPage } from "./page.js";
import { picture } from "./pictures.js";
import { answer, keepAnswer } from "./store.js";
import { uuid } from "./uuid.js";

const LIST = path("jobs");
const TYPED = "desk-new-job"; // what was typed is kept across a closed tab

async function load() {
  try {
    const fresh = await get(LIST);
    await keepAnswer(LIST, fresh);
    draw(fresh.jobs);
  } catch (error) {
    const kept = await answer(LIST);
    draw(kept?.jobs ?? [], error.message);
  }
}

function draw(jobs, trouble = "") {
  redraw(at("jobs"),
    trouble && h("p", { class: "warning" }, trouble),
    jobs.length === 0 && !trouble && h("p", { class: "lead" }, "No job yet. Give the first one a name."),
    h("ul", { class: "cards" }, jobs.map((job) => h("li", {}, job.error ? damaged(job) : card(job)))));
}

const card = (job) =>
  h("a", { class: "card", href: pageOf(job.id) },
    h("b", { dir: "auto" }, job.name),
    h("span", {}, `${count(job.walls, "wall")}, ${count(job.photos, "photo")}`));

/** A job that cannot be opened: what is wrong and what to do stands where it would stand. */
const damaged = (job) => h("p", { class: "warning" }, picture("warning"), h("span", {}, h("b", { dir: "auto" }, job.name), ` ${job.error}`));

const count = (n, word) => `${n} ${word}${n === 1 ? "" : "s"}`;

async function make(event) {
  event.preventDefault();
  const name = at("job-name").value.trim();
  if (!name) return;
  const typed = JSON.parse(localStorage.getItem(TYPED) ?? "{}");
  try {
    const { id } = await post(LIST, { name, id: typed.id ?? uuid() });
    localStorage.removeItem(TYPED);
    location.assign(pageOf(id));
  } catch (error) {
    at("job-trouble").textContent = `${error.message} The name is kept here; try again.`;
  }
}

function keepTyping() {
  localStorage.setItem(TYPED, JSON.stringify({ id: uuid(), name: at("job-name").value }));
}

at("job-name").value = JSON.parse(localStorage.getItem(TYPED) ?? "{}").name ?? "";
at("job-name").addEventListener("input", keepTyping);
at("new-job").addEventListener("submit", make);
at("begin").disabled = false; // a tap before this script was there would be lost
await startPage();
await load();
