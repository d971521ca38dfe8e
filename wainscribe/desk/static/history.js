/** Undo and redo of everything: what never left this browser is dropped; what is on the laptop is taken back there. */

import { h, redraw } from "./dom.js";
import { picture } from "./pictures.js";
import * as queue from "./queue.js";
import { saying } from "./things.js";

export class History {
  /** @param {import("./job_state.js").JobState} state */
  constructor(state) {
    this.state = state;
    /** Changes dropped by undo, which redo makes again. @type {any[]} */
    this.dropped = [];
    addEventListener("keydown", (event) => this.key(event));
  }

  /** The last change that is only here; a photo is never dropped by undo. */
  get onlyHere() {
    const last = queue.unsent(this.state.id).at(-1);
    return last?.type === "change" && last.state === "waiting" && queue.trouble ? last : undefined;
  }

  buttons() {
    const { can_undo: canUndo, can_redo: canRedo, undo_says: undoes, redo_says: redoes } = this.state.held;
    const back = this.onlyHere ? saying(this.onlyHere.change) : canUndo && (undoes || "the last change");
    const forth = this.dropped.length ? saying(this.dropped.at(-1)) : canRedo && (redoes || "the change");
    return [this.button("undo", "Undo", back, () => this.undo()), this.button("redo", "Redo", forth, () => this.redo())];
  }

  button(sign, label, what, act) {
    return h("button", {
      class: "plain turn", "aria-disabled": String(!what), "aria-label": what ? `${label}: ${what}` : `${label}: nothing`, title: what || "",
      "data-key": label, onclick: () => what && act(),
    }, picture(sign), h("span", { class: "wide-only" }, label));
  }

  draw(place) {
    redraw(place, this.buttons());
  }

  async undo() {
    const last = this.onlyHere;
    if (!last) return this.turn("undo");
    this.dropped.push(last.change);
    return queue.forget(last);
  }

  async redo() {
    const change = this.dropped.pop();
    return change ? this.state.change(change) : this.turn("redo");
  }

  /** What the last change left must be known first: only what the person saw is taken back. */
  async turn(way) {
    await this.state.settled;
    return this.state.change({ do: way, seen: this.state.held[`${way}_says`] });
  }

  /** Ctrl+Z and Ctrl+Shift+Z (⌘ on a Mac), but not while something is typed or asked. */
  key(event) {
    const typing = event.target.closest?.("input, textarea, dialog");
    if (typing || !(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || !this.state.held) return;
    event.preventDefault();
    if (event.shiftKey) this.redo();
    else this.undo();
  }
}
