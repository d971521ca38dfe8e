/** The scheme: what is wanted, each wish changed by itself and seen at once. */

import { h } from "./dom.js";
import { keypad } from "./keypad.js";
import { shown } from "./lengths.js";
import { APART, GROUPS, PREFERENCES } from "./scheme_fields.js";
import { ask } from "./sheets.js";

/** Which groups stand open, so that a redrawing does not close them. @type {Map<string, boolean>} */
const open = new Map(GROUPS.map((group) => [group.title, Boolean(group.open)]));

/** The whole form. @param {import("./job_state.js").JobState} state @param {any} plan the laptop's, or undefined */
export function schemeForm(state, plan) {
  const listed = new Set(GROUPS.flatMap((group) => group.fields.map((field) => field.key)));
  const others = Object.keys(state.job.scheme)
    .filter((key) => !listed.has(key) && !APART.has(key) && typeof state.job.scheme[key] !== "object")
    .map((key) => ({ key, say: words(key) }));
  return [
    ...GROUPS.map((group) => section(group.title, group.fields.map((field) => line(state, field)))),
    section("Panels by run", runRows(state, plan)),
    section("What counts first", order(state)),
    others.length > 0 && section("More", others.map((field) => line(state, field))),
  ];
}

function section(title, rows) {
  const details = h("details", { open: open.get(title), ontoggle: () => open.set(title, details.open) },
    h("summary", { "data-key": `group ${title}` }, title), rows);
  return details;
}

const words = (key) => key.replaceAll("_", " ").replace(/^./, (first) => first.toUpperCase());

/** Change one wish. */
export function wish(state, key, value) {
  const seen = { [key]: wished(state.held.job.scheme, key) };
  return state.change({ do: "scheme", wishes: { [key]: value }, seen });
}

/** What the scheme says to a key as it is sent: `pin.receptacle 1` stands in `pins`. */
export function wished(scheme, key) {
  const groups = { panels: "panels", pin: "pins", stile_at: "stile_at", no_stile: "no_stile" };
  const dot = key.indexOf(".");
  const group = dot > 0 ? groups[key.slice(0, dot)] : undefined;
  return (group ? scheme[group]?.[key.slice(dot + 1)] : scheme[key]) ?? null;
}

function line(state, { key, say, how, choices, zero }) {
  const now = state.job.scheme[key];
  if (how === "yes" || typeof now === "boolean") return yesNo(state, key, say, String(now) === "true");
  if (how === "choice") return choice(state, key, say, choices, now);
  if (how === "places") return typed(state, key, say, Array.isArray(now) ? now.join(", ") : now, "none");
  if (how === "number") return typed(state, key, say, now === "0" ? "" : now, "any");
  return length(state, key, say, now === "0" && zero ? "" : shown(now, state.job.units), zero);
}

/** On a phone a tap opens the keypad; with a mouse the length is typed where it stands. */
function length(state, key, say, now, zero = "") {
  const { units } = state.job;
  if (!matchMedia("(pointer: coarse)").matches) return typed(state, key, say, now, zero);
  const tap = async () => {
    const text = await keypad(say, { value: now, units });
    if (text !== undefined) await wish(state, key, text);
  };
  return h("button", { class: "row", "data-key": key, onclick: tap }, h("span", {}, say), h("b", {}, now || zero));
}

function typed(state, key, say, now, none) {
  const id = `wish-${key}`;
  const field = h("input", { id, "data-key": key, autocomplete: "off", spellcheck: "false", placeholder: none });
  field.value = field.dataset.drawn = now ?? "";
  field.addEventListener("change", () => {
    field.dataset.drawn = field.value; // typed to the end
    if (field.value.trim() !== (now ?? "")) wish(state, key, field.value.trim());
  });
  return h("div", { class: "wish" }, h("label", { for: id }, say), field);
}

function yesNo(state, key, say, now) {
  return h("button", { class: "row switch", role: "switch", "aria-checked": String(now), "data-key": key, onclick: () => wish(state, key, String(!now)) },
    h("span", {}, say), h("b", {}, now ? "yes" : "no"));
}

function choice(state, key, say, choices, now) {
  const tap = async () => {
    const value = await ask(say, "", choices.map((one) => ({ value: one, label: one, main: one === now })));
    if (value !== undefined && value !== now) await wish(state, key, value);
  };
  return h("button", { class: "row", "data-key": key, onclick: tap }, h("span", {}, say), h("b", {}, now));
}

/** How many panels each run has; a tap fixes the count, another frees it. */
function runRows(state, plan) {
  const runs = (plan?.walls ?? []).flatMap((wall) => wall.runs.map((run) => ({ ...run, waiting: wall.waiting })));
  if (!runs.length) return h("p", {}, "No run is planned yet.");
  return runs.map((run) => {
    const fixed = state.job.scheme.panels[run.name];
    const set = (count) => wish(state, `panels.${run.name}`, count ? String(count) : "");
    const step = (label, sign, count) =>
      h("button", { class: "step", "aria-label": `${label} on ${run.name}`, "data-key": `${label} ${run.name}`, onclick: () => set(Math.max(1, count)) }, sign);
    const now = Number(fixed ?? run.panels);
    return h("div", { class: "wish run" }, h("span", { dir: "auto" }, run.name),
      h("span", { class: "stepper" }, step("One fewer", "−", now - 1), h("b", {}, String(now)), step("One more", "+", now + 1)),
      fixed ? h("button", { class: "plain small", "data-key": `free ${run.name}`, onclick: () => set(0) }, "fixed; set free") : h("small", {}, run.waiting ? "being reckoned anew" : "chosen by the plan"));
  });
}

/** The order of preferences: each can go up by one. */
function order(state) {
  const now = asList(state.job.scheme.preferences);
  const up = (i) => wish(state, "preferences", [...now.slice(0, i - 1), now[i], now[i - 1], ...now.slice(i + 1)].join(", "));
  return h("ol", { class: "order" }, now.map((one, i) =>
    h("li", {}, h("span", {}, PREFERENCES[one] ?? one),
      i > 0 && h("button", { class: "plain small", "aria-label": `${PREFERENCES[one] ?? one}: up`, "data-key": `up ${one}`, onclick: () => up(i) }, "up"))));
}

const asList = (value) => (Array.isArray(value) ? value : String(value).split(",").map((part) => part.trim()));
