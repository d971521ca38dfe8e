/** What every page of the desk starts with. */

import { JobState } from "./job_state.js";
import { at, h } from "./dom.js";
import * as queue from "./queue.js";
import { settleClashes, showStatus } from "./status.js";

/** The job and wall that an address is about; "" where it is about none. */
export function placeOf(pathname) {
  const [, first, job = "", part, wall = ""] = pathname.split("/");
  if (first !== "job") return { job: "", wall: "" };
  return { job: decodeURIComponent(job), wall: part === "wall" ? decodeURIComponent(wall) : "" };
}

/** What this page is about. The address says it, for a page may have been kept for another wall of the job. */
export const here = placeOf(location.pathname);

/** Start the page: the queue, its status, the worker that keeps pages for when there is no connection. */
export async function startPage() {
  showStatus(at("status-place"));
  settleClashes();
  startWorker();
  try {
    await queue.start();
  } catch {
    const words = "This browser keeps nothing by itself (private window?). Leave this page open until all is on the laptop.";
    at("main").prepend(h("p", { class: "warning" }, words));
  }
}

/** Start a page about a job. @param {(state: JobState) => void} draw called at every change */
export async function startJobPage(draw) {
  const state = new JobState(here.job);
  state.onChange(draw);
  await startPage();
  await state.open();
  if (!state.held) at("main").replaceChildren(h("p", { class: "warning" }, state.refusal || "The laptop does not answer. This page goes on by itself as soon as it does."));
  return state;
}

/** On a plain http address browsers allow no worker; then an open page goes on, but a closed one cannot be opened. */
function startWorker() {
  navigator.serviceWorker?.register("/service-worker.js").catch(() => undefined);
}

/** The address of a page of a job. */
export const pageOf = (job, ...rest) => `/job/${[job, ...rest].map(encodeURIComponent).join("/")}`;
