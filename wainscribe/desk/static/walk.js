/** The walk: from the list of walls to one wall and back without loading a page, so that it works with no connection. */

import { at } from "./dom.js";
import { History } from "./history.js";
import { here, pageOf, placeOf, startJobPage } from "./page.js";
import { RoomsView } from "./rooms.js";
import { WallView } from "./wall.js";

let state;
let view;
/** @type {History} */
let steps;

/** Show what the address says. */
function open() {
  const { wall } = placeOf(location.pathname);
  view?.leave();
  at("main").replaceChildren(at(wall ? "wall-view" : "rooms-view").content.cloneNode(true));
  at("back").setAttribute("href", wall ? pageOf(here.job) : "/");
  at("back").setAttribute("aria-label", wall ? "All walls" : "All jobs");
  document.body.classList.toggle("wall", Boolean(wall));
  view = wall ? new WallView(state, wall) : new RoomsView(state, (name) => go(pageOf(here.job, "wall", name)));
  draw();
  scrollTo(0, 0);
}

function go(address) {
  history.pushState(null, "", address);
  open();
  at("main").focus();
}

function draw() {
  const { wall } = placeOf(location.pathname);
  const title = wall || state.job.name;
  at("title").textContent = title;
  document.title = `${title} · wainscribe`;
  if (wall) at("walls-link").removeAttribute("aria-current");
  else at("walls-link").setAttribute("aria-current", "page");
  steps.draw(at("history"));
  view.draw();
}

function back(event) {
  if (!placeOf(location.pathname).wall) return;
  event.preventDefault();
  go(pageOf(here.job));
}

at("back").addEventListener("click", back);
at("walls-link").addEventListener("click", (event) => {
  event.preventDefault();
  if (state) go(pageOf(here.job));
});
addEventListener("popstate", () => state && open());
await startJobPage((fresh) => {
  if (state) return draw();
  state = fresh;
  steps = new History(state);
  return open();
});
