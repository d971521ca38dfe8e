/** What is not on the laptop yet, said plainly at the top of every page; what was refused or clashed is asked about. */

import { settle } from "./clash.js";
import { h, redraw } from "./dom.js";
import { picture } from "./pictures.js";
import * as queue from "./queue.js";
import { sheet } from "./sheets.js";
import { saying } from "./things.js";

/** Put the status into its place and keep it true. @param {HTMLElement} place */
export function showStatus(place) {
  const button = h("button", { class: "status", id: "status", onclick: () => openList() });
  const spoken = h("span", { class: "spoken", role: "status" });
  place.append(button, spoken);
  const draw = () => {
    const { words, sign, grade } = now();
    redraw(button, picture(sign), h("span", {}, words));
    button.className = `status ${grade}`;
    if (spoken.textContent !== words) spoken.textContent = words;
  };
  queue.on("entries", draw);
  queue.on("progress", draw);
  queue.on("heard", draw);
  addEventListener("offline", draw);
  addEventListener("online", draw);
  draw();
}

function now() {
  if (!queue.started) return { words: "one moment", sign: "waiting", grade: "" };
  const entries = queue.unsent();
  const asked = entries.filter((entry) => entry.state !== "waiting").length;
  const waiting = entries.length - asked + queue.keeping;
  if (asked) return { words: `${asked} to settle`, sign: "warning", grade: "asks" };
  if (waiting) return { words: `${waiting} not yet on the laptop`, sign: queue.trouble ? "unreached" : "waiting", grade: "waits" };
  if (queue.trouble || queue.silent || !navigator.onLine) return { words: "no connection", sign: "unreached", grade: "waits" };
  return { words: "all kept", sign: "kept", grade: "" };
}

function openList() {
  return sheet("What the laptop has", (close) => {
    const box = h("div", {});
    const draw = () => redraw(box, listed(close));
    queue.on("entries", () => box.isConnected && draw());
    queue.on("progress", () => box.isConnected && draw());
    draw();
    return box;
  });
}

function listed(close) {
  const entries = queue.unsent();
  const lead = entries.length
    ? "These are kept in this browser and sent again until the laptop has them. You may close the page."
    : "Everything you did is on the laptop’s disk.";
  const why = queue.trouble && h("p", { class: "warning" }, picture("unreached"), h("span", {}, `${queue.trouble} Stay on this page or come back later.`));
  const key = /key/.test(queue.trouble) && h("a", { class: "button main", href: "/key" }, "Enter the key");
  return [
    h("p", {}, lead), why, key,
    entries.length > 0 && h("ul", { class: "plain-list" }, entries.map((entry) => row(entry, close))),
    entries.length > 0 && h("button", { class: "main wide", "data-key": "send", onclick: () => queue.send() }, "Send now"),
  ];
}

function row(entry, close) {
  const what = entry.type === "photo" ? `photo ${entry.name} on ${entry.wall}` : saying(entry.change);
  const part = queue.progress.get(entry.id);
  const asks = entry.state !== "waiting";
  return h("li", { class: "entry" },
    picture(asks ? "warning" : "waiting"),
    h("div", {},
      h("b", { dir: "auto" }, what),
      part !== undefined && h("progress", { max: "1", value: part, "aria-label": `${what}, sent` }),
      entry.sentence && h("p", {}, entry.sentence),
      entry.state === "clash" && h("p", {}, "Somebody else has changed this meanwhile."),
      asks && h("button", { "data-key": `settle ${entry.n}`, onclick: () => { close(); settle(entry); } }, "Settle it")));
}

/** Ask about clashes as soon as they come, one at a time and never over another question. */
export function settleClashes() {
  const seen = new Set();
  const next = async () => {
    if (document.querySelector("dialog[open]")) return;
    const entry = queue.unsent().find((one) => one.state === "clash" && !seen.has(one.id));
    if (!entry) return;
    seen.add(entry.id);
    await settle(entry);
    next();
  };
  queue.on("entries", next);
}
