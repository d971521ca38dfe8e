/**
 * Questions whose answer the laptop has to work out first. A browser has six connections to it, and a change must always
 * find one free: so few are asked at a time, and one whose answer nobody wants any more is given up.
 */

import { get, post, SOLVING } from "./api.js";
import { answer, keepAnswer } from "./store.js";

/** So many at a time; the others wait for their turn, in their order. */
export class Lane {
  constructor(most) {
    this.free = most;
    this.waiting = [];
  }

  /**
   * @template T
   * @param {() => Promise<T>} ask
   * @param {AbortSignal} [signal] given up when it comes
   * @returns {Promise<T>}
   */
  async run(ask, signal) {
    if (this.free > 0) this.free -= 1;
    else await new Promise((turn) => this.waiting.push(turn));
    try {
      signal?.throwIfAborted();
      return await ask();
    } finally {
      const next = this.waiting.shift();
      if (next) next();
      else this.free += 1;
    }
  }
}

/** For what needs the walls solved, and for what only looks into a photo and so waits for no solve. */
export const solving = new Lane(2);
export const searching = new Lane(2);

/** The question asked last; the one before it is given up. */
export class Newest {
  /** @returns {AbortSignal} of a new question */
  next() {
    this.giveUp();
    this.controller = new AbortController();
    return this.controller.signal;
  }

  giveUp() {
    this.controller?.abort();
  }
}

/** Ask for what needs the walls solved. */
export const getSolved = (url, signal) => solving.run(() => get(url, SOLVING, signal), signal);

/** The same for what is asked with values. */
export const postSolved = (url, body, signal) => solving.run(() => post(url, body, SOLVING, signal), signal);

/** An answer of the laptop, or the last one that was kept when it does not answer. */
export async function got(lane, url, signal) {
  try {
    const fresh = await lane.run(() => get(url, SOLVING, signal), signal);
    await keepAnswer(url, fresh);
    return fresh;
  } catch (error) {
    const kept = signal?.aborted ? undefined : await answer(url);
    if (kept) return kept;
    throw error;
  }
}

/** Show a picture that the laptop has to make first; kept when it is there. */
export function pictured(lane, image, url, signal) {
  const load = (done, failed) => {
    const giveUp = () => {
      if (!image.complete) image.removeAttribute("src");
      failed(signal.reason);
    };
    signal.addEventListener("abort", giveUp, { once: true });
    image.src = url;
    image.decode().then(done, failed);
  };
  return lane.run(() => new Promise(load), signal);
}
