/** One job as it stands: what the laptop holds, with what is not there yet laid over it; told anew after each change. */

import { get, KeyWanted, NoAnswer, path, Refused } from "./api.js";
import { wallOf, withAnswered, withUnsent } from "./apply.js";
import { Newest } from "./asking.js";
import { pause } from "./dom.js";
import * as queue from "./queue.js";
import { answer, keepAnswer } from "./store.js";

const AGAIN = 3_000; // ms
const LISTEN = 40_000; // ms; the laptop answers after 25 s if nothing changed
/** All pages of a browser share its connections, so one that nobody looks at does not listen. */
const listening = new Newest();
document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && listening.giveUp());

export class JobState {
  /** @param {string} id */
  constructor(id) {
    this.id = id;
    this.url = path("jobs", id);
    /** What the laptop last answered: {revision, job, kinds, can_undo, …}; undefined until then. */
    this.held = undefined;
    /** Whether the last question was answered. */
    this.reached = false;
    this.listeners = [];
    queue.on("entries", () => this.tell());
    /** Questions are numbered: one asked before the last change was answered, or before a later answer, is out of date. */
    this.question = 0;
    this.outdated = 0;
    /** Kept once what the last change left is known here. */
    this.settled = Promise.resolve();
    queue.on("sent", (detail) => detail.job === id && this.sent(detail));
  }

  /** Start: what is kept here at once, then what the laptop says, for ever. */
  async open() {
    this.held = await answer(this.url);
    if (this.held) this.tell();
    await this.load();
    this.listen();
  }

  /** The job with what is not on the laptop yet laid over it. */
  get job() {
    return this.held && withUnsent(this.held.job, queue.unsent(this.id));
  }

  /** A wall likewise. */
  wall(name) {
    return this.job && wallOf(this.job, name);
  }

  /** Be told of every change. */
  onChange(listener) {
    this.listeners.push(listener);
  }

  tell() {
    if (this.held) for (const listener of this.listeners) listener(this);
  }

  sent({ entry, answer }) {
    this.outdated = this.question;
    if (entry.change && this.held) this.held = { ...this.held, job: withAnswered(this.held.job, entry.change, answer.now) };
    this.settled = this.load();
  }

  /** Ask the laptop. */
  async load() {
    try {
      const question = ++this.question;
      const fresh = await get(this.url);
      queue.heard(true);
      if (question <= this.outdated) return;
      this.outdated = question;
      this.held = fresh;
      this.reached = true;
      this.refusal = "";
      await keepAnswer(this.url, this.held);
    } catch (error) {
      this.reached = false;
      queue.heard(!(error instanceof NoAnswer));
      if (error instanceof Refused || error instanceof KeyWanted) this.refusal = error.message;
    }
    this.tell();
  }

  /** Hear of what others change. */
  async listen() {
    for (;;) {
      try {
        if (!this.reached) await this.load();
        if (!this.reached) throw new NoAnswer();
        const { revision } = await get(`${this.url}/since/${this.held.revision}`, LISTEN, listening.next());
        if (revision !== this.held.revision) await this.load();
        else await pause(50);
      } catch {
        if (this.reached && document.visibilityState !== "hidden") {
          this.reached = false;
          this.tell();
        }
        await pause(AGAIN);
      }
      if (document.visibilityState === "hidden") await shown();
    }
  }

  /** Make a change: kept here first. */
  change(change) {
    return queue.add(this.id, change);
  }
}

const shown = () =>
  new Promise((done) => document.addEventListener("visibilitychange", () => done(undefined), { once: true }));
