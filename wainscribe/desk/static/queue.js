/**
 * Everything that was done here and is not yet on the laptop's disk.
 *
 * A change is written into this browser before anything else happens, sent in order, sent again until the laptop
 * answers, and forgotten only then. Each carries an id that the laptop applies once, so sending twice does no harm.
 */

import { KeyWanted, path, post, Refused, upload } from "./api.js";
import * as store from "./store.js";
import { photosAwaited, thingsOf, withPhotoNamed } from "./things.js";
import { uuid } from "./uuid.js";

/**
 * @typedef {Object} Entry
 * @property {number} n in the order in which they were made
 * @property {string} id
 * @property {string} job
 * @property {"change"|"photo"} type
 * @property {any} [change]
 * @property {string} [wall] of a photo
 * @property {Blob} [file]
 * @property {string} [name] of the photo's file
 * @property {"waiting"|"refused"|"clash"} state
 * @property {string} [sentence] why it was refused
 * @property {any} [now] what the laptop holds instead
 */

const AGAIN = 3_000; // ms until what was not answered is sent again
const queue = new EventTarget();
/** Other pages of the desk in this browser. */
const channel = "BroadcastChannel" in globalThis ? new BroadcastChannel("desk-queue") : undefined;
/** @type {Entry[]} */
let known = [];
/** How far each photo's upload is, 0 to 1, by id. @type {Map<string, number>} */
export const progress = new Map();
/** "" while the laptop answers, else why it does not. */
export let trouble = "";
/** Whether nothing came back when the laptop was last asked for something. */
export let silent = false;
/** Names that the laptop gave to photos taken here, by id: who opened one before it was sent may still mark in it. */
const named = new Map();
/** How many are being written into this browser just now. */
export let keeping = 0;
/** Whether it is known what was left over from before. */
export let started = false;
let sending = false;
let timer = 0;

/** All entries, of one job or of all. @returns {Entry[]} */
export const unsent = (job) => known.filter((entry) => !job || entry.job === job);

/** Be told: "entries" when something came or went, "heard" when the laptop begins or ceases to answer, "sent" ({job, revision, entry, answer}) when the laptop has it. */
export const on = (what, listener) => queue.addEventListener(what, (event) => listener(event.detail));

/** Note whether the laptop answers. */
export function heard(answer) {
  if (silent === !answer) return;
  silent = !answer;
  emit("heard");
}

const emit = (what, detail) => queue.dispatchEvent(new CustomEvent(what, { detail }));

async function refresh() {
  known = await store.entries();
  emit("entries");
}

async function changed() {
  await refresh();
  channel?.postMessage("changed");
}

/** Start: look at what was left over, and send it. */
export async function start() {
  channel?.addEventListener("message", refresh);
  addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
  known = await store.entries();
  started = true;
  emit("entries");
  send();
}

/**
 * Keep a change, then send it.
 * @param {string} job
 * @param {any} change without its id
 */
export async function add(job, change) {
  const id = uuid();
  let whole = { id, ...change };
  for (const photo of photosAwaited(change)) if (named.has(photo)) whole = withPhotoNamed(whole, photo, named.get(photo));
  await keep({ id, job, type: "change", change: whole, state: "waiting" });
}

/** Keep a photo, then send it; its id. */
export async function addPhoto(job, wall, file) {
  const id = uuid();
  await keep({ id, job, type: "photo", wall, file, name: file.name, state: "waiting" });
  store.askToPersist();
  return id;
}

async function keep(entry) {
  keeping += 1;
  emit("entries");
  try {
    await store.addEntry(entry);
  } finally {
    keeping -= 1;
  }
  await changed();
  send();
}

/** Forget an entry: the person does not want it. */
export async function forget(entry) {
  await store.dropEntry(entry.n);
  await changed();
}

/** Send an entry again as it is, or with another `seen` or name. A new id: the laptop has answered the old one. */
export async function again(entry, edit = {}) {
  const id = entry.type === "photo" ? entry.id : uuid();
  const change = entry.change && { ...entry.change, ...edit, id };
  await store.putEntry({ ...entry, id, change, state: "waiting", sentence: undefined, now: undefined });
  await changed();
  send();
}

/** Put every waiting change of a job through a function; what it returns as it was is left alone. */
export async function rewrite(job, edit) {
  for (const entry of unsent(job)) {
    const change = entry.change && edit(entry.change, entry);
    if (change && change !== entry.change) await store.putEntry({ ...entry, change });
  }
  await changed();
}

/** Send what can be sent; harmless at any time. */
export async function send() {
  if (sending) return;
  sending = true;
  clearTimeout(timer);
  try {
    while (await sendSome());
    trouble = "";
  } catch (error) {
    trouble = error.message;
    if (!(error instanceof KeyWanted)) timer = setTimeout(send, AGAIN);
  } finally {
    sending = false;
    emit("entries");
  }
  if (!trouble && readyNow(known).length) send();
}

/** One step: changes before photos, for a mark is small and a photo may take a minute. Whether there was one. */
async function sendSome() {
  known = await store.entries();
  const batch = nextBatch();
  if (batch === null) return false;
  if (batch[0].type === "photo") await sendPhoto(batch[0]);
  else await sendChanges(batch);
  await changed();
  return true;
}

/** @returns {Entry[]|null} changes of one job that may go together, or one photo */
function nextBatch() {
  const ready = readyNow(known);
  const change = ready.find((entry) => entry.type === "change");
  if (change) return ready.filter((entry) => entry.type === "change" && entry.job === change.job).slice(0, 50);
  return ready.length ? [ready[0]] : null;
}

/**
 * Entries that wait for no other: neither for an earlier change of the same thing, nor for a photo on its way.
 * @param {Entry[]} all oldest first
 * @returns {Entry[]}
 */
function readyNow(all) {
  const ready = [];
  const before = { things: new Set(), photos: new Set(), jobs: new Set() };
  const key = (entry, thing) => `${entry.job}\n${thing}`;
  for (const entry of all) {
    const things = entry.type === "photo" ? [] : thingsOf(entry.change);
    const wallStands = !before.things.has(key(entry, `wall/${entry.wall ?? entry.change?.wall ?? ""}`));
    const everything = things.includes("everything") || entry.change?.do === "remove-wall";
    const free =
      entry.state === "waiting" &&
      wallStands &&
      !before.things.has(key(entry, "everything")) &&
      !things.some((thing) => before.things.has(key(entry, thing))) &&
      !photosAwaited(entry.change ?? {}).some((id) => before.photos.has(id)) &&
      !(everything && before.jobs.has(entry.job));
    if (free) ready.push(entry);
    for (const thing of things) before.things.add(key(entry, thing));
    if (entry.type === "photo") before.photos.add(entry.id);
    before.jobs.add(entry.job);
  }
  return ready;
}

async function sendChanges(batch) {
  const { job } = batch[0];
  const answer = await post(path("jobs", job, "changes"), { changes: batch.map((entry) => entry.change) });
  for (const result of answer.results) {
    const entry = batch.find((one) => one.id === result.id);
    if (!entry) continue;
    if (result.ok) await accepted(entry, result, answer.revision);
    else await store.putEntry({ ...entry, ...("clash" in result ? clash(result) : refusal(result.error)) });
  }
}

const refusal = (sentence) => ({ state: "refused", sentence });
const clash = (result) => ({ state: "clash", now: result.clash.now });

async function accepted(entry, result, revision) {
  await store.dropEntry(entry.n);
  if ("now" in result) await seenByLater(entry, result.now);
  emit("sent", { job: entry.job, revision, entry, answer: result });
}

/** What a later change of the same thing saw is what this one made of it, now that the laptop has said what that is. */
async function seenByLater(entry, now) {
  const things = thingsOf(entry.change);
  const later = (await store.entries()).find(
    (one) => one.n > entry.n && one.job === entry.job && one.change && "seen" in one.change
      && thingsOf(one.change).some((thing) => things.includes(thing)),
  );
  if (!later) return;
  const keyed = entry.change.facts ?? entry.change.wishes;
  const seen = keyed && later.change.seen ? { ...later.change.seen, ...only(now, later.change.seen) } : now;
  await store.putEntry({ ...later, change: { ...later.change, seen } });
}

const only = (values, keys) => Object.fromEntries(Object.entries(values ?? {}).filter(([key]) => key in keys));

async function sendPhoto(entry) {
  const form = new FormData();
  form.append("id", entry.id);
  form.append("file", entry.file, entry.name || "photo.jpg");
  const tell = (part) => {
    progress.set(entry.id, part);
    emit("progress", { id: entry.id, part });
  };
  tell(0);
  try {
    const answer = await upload(path("jobs", entry.job, "walls", entry.wall, "photos"), form, tell);
    named.set(entry.id, answer.photo);
    await rewrite(entry.job, (change) =>
      photosAwaited(change).includes(entry.id) ? withPhotoNamed(change, entry.id, answer.photo) : change,
    );
    await store.dropEntry(entry.n);
    emit("sent", { job: entry.job, revision: answer.revision, entry, answer });
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    await store.putEntry({ ...entry, ...refusal(error.message) });
  } finally {
    progress.delete(entry.id);
  }
}
