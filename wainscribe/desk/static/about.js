/** About the job: whose it is, units, paper, the printed cards; tapped where it can be. */

import { path, upload } from "./api.js";
import { h } from "./dom.js";
import { mixed, shown } from "./lengths.js";
import { chipRow } from "./mark_details.js";
import { pageOf } from "./page.js";
import { ask, askText, sheet } from "./sheets.js";

const UNNAMED = "first"; // a print run that nobody gave a name
const TYPED = [["customer", "Customer"], ["address", "Address"], ["installer", "Installer"]];

/** The rows. @param {import("./job_state.js").JobState} state */
export function askAbout(state) {
  const { job } = state;
  return [
    TYPED.map(([key, label]) => row(label, job[key] || "not told", () => typed(state, key, label))),
    row("Logo", job.logo || "none", () => logo(state)),
    row("Walked on", job.date || "not told", () => walked(state)),
    chipRow("Lengths in", [["in", "inches"], ["mm", "millimetres"]], job.units, (units) => about(state, "units", units)),
    chipRow("Paper", [["letter", "letter"], ["a4", "A4"]], job.paper, (paper) => about(state, "paper", paper)),
    h("a", { class: "button row", target: "_blank", rel: "noopener", href: pageOf(state.id, "cards.pdf"), "data-key": "cards" },
      h("span", {}, "Cards to print"), h("b", {}, "12 pages, at 100 %")),
    row("Printed cards", bars(job), () => printRun(state)),
  ];
}

export function row(label, value, act) {
  return h("button", { class: "row", "data-key": label, onclick: act }, h("span", {}, label), h("b", { dir: "auto" }, value));
}

/** Set one fact of the job. */
export function about(state, key, value) {
  const seen = { [key]: state.held.job[key] ?? null };
  return state.change({ do: "about", facts: { [key]: value }, seen });
}

async function typed(state, key, label) {
  const value = await askText(label, { label, value: state.job[key] });
  if (value !== undefined) await about(state, key, value);
}

/** The picture goes over by itself; the change then names it, so that undo and two phones at once work as for all else. */
async function logo(state) {
  const file = await sheet("Logo", (close) => [
    h("p", {}, "A picture for the head of the papers: PNG, JPEG or HEIC."),
    h("div", { class: "choices" },
      h("label", { class: "button main" }, "Choose a picture",
        h("input", { type: "file", class: "spoken", accept: "image/*", onchange: (event) => close(event.target.files[0]) })),
      state.job.logo && h("button", { onclick: () => close("") }, "No logo")),
  ]);
  if (file === undefined) return;
  try {
    await about(state, "logo", file && (await sendLogo(state, file)));
  } catch (error) {
    await ask("Logo", error.message, [{ value: true, label: "Close", main: true }]);
  }
}

async function sendLogo(state, file) {
  const form = new FormData();
  form.append("file", file, file.name || "logo");
  return (await upload(path("jobs", state.id, "logo"), form, () => {})).logo;
}

async function walked(state) {
  const today = new Date(Date.now() - new Date().getTimezoneOffset() * 60_000).toISOString().slice(0, 10);
  const value = await askText("Walked on", { label: "Day of the walkthrough", value: state.job.date || today, type: "date" });
  if (value !== undefined) await about(state, "date", value);
}

/** Old paint, joint compound and wiring go by the year: a decade is enough where nobody knows better. */
export async function yearBuilt(state) {
  const decades = ["1900", "1920", "1935", "1945", "1955", "1965", "1972", "1979", "1985", "1995", "2005", "2015"];
  const value = await sheet("Built in", (close) => {
    const field = h("input", { id: "year", inputmode: "numeric", maxlength: "4", autocomplete: "off" });
    field.value = state.job.year_built ?? "";
    return h("form", { onsubmit: (event) => { event.preventDefault(); close(field.value.trim()); } },
      h("p", {}, "About when? Tap the nearest, or type the year."),
      h("div", { class: "chips" }, decades.map((year) => h("button", { type: "button", onclick: () => close(year) }, year))),
      h("label", { for: "year" }, "Year"), field,
      h("div", { class: "choices" },
        h("button", { class: "main" }, "Keep"),
        h("button", { type: "button", onclick: () => close("") }, "Not known")));
  });
  if (value !== undefined) await about(state, "year_built", value);
}

const bars = ({ print_run: { name, across, up }, units }) =>
  across || up ? `${name === UNNAMED ? "" : `${name}: `}${shown(across, units, 1) || "?"} across, ${shown(up, units, 1) || "?"} up` : "bars not read yet";

/** What a print at 100 % comes near to is offered, as fine as a rule is read; all else is typed. */
async function askBar(title, inches, units) {
  const [fine, near] = units === "mm" ? ["half a millimetre", halves(inches)] : ["1/64 in", sixtyFourths(inches)];
  const read = await ask(title, `Read it with a good rule, to ${fine}.`, [
    ...near.map((value) => ({ value, label: value, main: value === near[(near.length - 1) / 2] })),
    { value: "other", label: "Another reading" },
  ]);
  return read === "other" ? askText(title, { label: `Reading, such as ${near[0]}` }) : read;
}

const sixtyFourths = (inches) => [-4, -3, -2, -1, 0, 1, 2, 3, 4].map((n) => `${mixed(inches * 64 + n, 64)}"`);

const halves = (inches) => [-3, -2, -1, 0, 1, 2, 3].map((n) => `${(Math.round(inches * 25.4 * 2) + n) / 2} mm`);

async function printRun(state) {
  const { print_run: { name }, units } = state.job;
  const [bar, targets] = units === "mm" ? ["152.4 mm", "228.6 mm"] : ["6 in", "9 in"];
  const across = await askBar(`The ${bar} bar, across`, 6, units);
  const up = across && (await askBar(`Left targets, top to bottom: ${targets}`, 9, units));
  if (up) await state.change({ do: "print-run", name, across, up });
}
