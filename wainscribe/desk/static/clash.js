/** Two people changed one thing: both values are shown, and the person says which one holds. */

import { h } from "./dom.js";
import { shown } from "./lengths.js";
import * as queue from "./queue.js";
import { ask } from "./sheets.js";
import { saying } from "./things.js";

/** Settle one entry that was refused or clashed. @param {import("./queue.js").Entry} entry */
export function settle(entry) {
  return entry.state === "clash" ? settleClash(entry) : settleRefused(entry);
}

async function settleRefused(entry) {
  const what = entry.type === "photo" ? `photo ${entry.name}` : saying(entry.change);
  const deed = await ask(what, entry.sentence, [
    { value: "again", label: "Send it again" },
    { value: "forget", label: "Let it go", note: "it is not on the laptop and will be forgotten here" },
    { value: "later", label: "Decide later", main: true },
  ]);
  if (deed === "again") await queue.again(entry);
  if (deed === "forget") await queue.forget(entry);
}

async function settleClash(entry) {
  const { change, now } = entry;
  const text = [
    h("span", {}, "Somebody else has changed this meanwhile. Which one holds?"),
    h("span", { class: "versions" },
      h("span", {}, h("small", {}, "on the laptop"), h("b", { dir: "auto" }, told(change, now))),
      h("span", {}, h("small", {}, "yours"), h("b", { dir: "auto" }, mine(change)))),
  ];
  const isNewMark = change.do === "mark" && change.seen === null && now;
  const deed = await ask(saying(change), text, [
    { value: "theirs", label: "What is on the laptop" },
    { value: "mine", label: "Mine" },
    ...(isNewMark ? [{ value: "both", label: "Both: they are two things", note: "mine gets the next free name" }] : []),
    { value: "later", label: "Decide later" },
  ]);
  if (deed === "theirs") await queue.forget(entry);
  if (deed === "mine") await queue.again(entry, { seen: now });
  if (deed === "both") await keepBoth(entry);
}

/** The mark made here gets another name, in every change made here that speaks of it. */
async function keepBoth(entry) {
  const { name, kind } = entry.change.mark;
  const fresh = `${kind} ${1 + lastNumber(entry, kind)}`;
  const renamed = (place) => (place === name || place?.startsWith?.(`${name} `) ? fresh + place.slice(name.length) : place);
  await queue.rewrite(entry.job, (change, other) => {
    if (other.n <= entry.n || change.wall !== entry.change.wall) return change;
    const copy = { ...change, start: renamed(change.start), end: renamed(change.end) };
    if (change.name === name) copy.name = fresh;
    if (change.mark?.name === name) copy.mark = { ...change.mark, name: fresh };
    return copy;
  });
  await queue.again(entry, { mark: { ...entry.change.mark, name: fresh }, seen: null });
}

function lastNumber(entry, kind) {
  const names = [entry.change.mark.name, ...queue.unsent(entry.job).map((one) => one.change?.mark?.name ?? "")];
  const numbers = names.filter((name) => name.startsWith(`${kind} `)).map((name) => Number(name.slice(kind.length + 1)) || 0);
  return Math.max(0, ...numbers);
}

/** What was wanted here, in words. */
function mine(change) {
  if (change.do.startsWith("remove-")) return "taken away";
  if (change.do === "tape") return change.length;
  if (change.do === "mark") return markWords(change.mark, change.mark);
  if (change.do === "undo" || change.do === "redo") return `${change.do} ${change.seen}`;
  return pairs(change.facts ?? change.wishes ?? wallPart(change));
}

/** What the laptop holds, in the same words. */
function told(change, now) {
  if (now === null || now === undefined) return "nothing: it is not there";
  if (change.do === "tape" || change.do === "remove-tape") return shown(now.length);
  if (change.do === "mark" || change.do === "remove-mark") return markWords(now, change.mark ?? now);
  if (typeof now === "string") return `${change.do} ${now}`;
  const asked = change.facts ?? change.wishes ?? wallPart(change);
  return pairs(Object.fromEntries(Object.keys(asked).filter((key) => key in now).map((key) => [key, now[key]])));
}

const wallPart = ({ id, do: _do, seen, name, wall, ...rest }) => rest;

const pairs = (values) =>
  Object.entries(values).map(([key, value]) => `${key.replaceAll("_", " ")} ${shown(text(value)) || "as usual"}`).join(", ");

function text(value) {
  if (value === null || value === undefined) return "";
  if (value.off !== undefined) return [shown(value.off), value.how].filter(Boolean).join(", "); // a reading of the checklist
  return typeof value === "object" ? JSON.stringify(value) : String(value);
}

/** The fields of a mark that are in question. */
function markWords(mark, asked) {
  const words = [];
  if (asked.sights) words.push(mark.sights?.length ? `${mark.sights.length} taps at ${places(mark.sights)}` : "no taps");
  for (const field of ["gangs", "stud_side", "cable_slack", "width", "height", "projection", "note", "side"])
    if (field in asked && (mark[field] ?? "") !== "") words.push(`${field.replaceAll("_", " ")} ${shown(text(mark[field]))}`);
  return words.join(", ") || "as usual";
}

const places = (sights) => sights.map(({ u, v }) => `${Math.round(u)}, ${Math.round(v)}`).join(" and ");
