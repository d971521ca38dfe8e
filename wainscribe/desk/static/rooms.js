/** The walls in order round the rooms, what is there and what is missing; about the job. */

import { askAbout } from "./about.js";
import { path } from "./api.js";
import { wallsOf } from "./apply.js";
import { got, Newest, solving } from "./asking.js";
import { conditionRows } from "./conditions.js";
import { at, goTo, h, redraw } from "./dom.js";
import { pageOf } from "./page.js";
import { picture } from "./pictures.js";
import { readings } from "./tapes.js";
import { askNewWall } from "./wall_form.js";

const FEW = 3; // rooms, that a thumb has soon scrolled past

export class RoomsView {
  /** @param {import("./job_state.js").JobState} state @param {(wall: string) => void} openWall */
  constructor(state, openWall) {
    Object.assign(this, { state, openWall });
    /** What is missing on each wall, as the laptop said last. */
    this.missing = new Map();
    this.asked = -1;
    this.asking = new Newest();
    this.page = at("rooms");
  }

  /** Another view takes its place. */
  leave() {
    this.asking.giveUp();
  }

  draw() {
    const { job, held, reached } = this.state;
    if (!this.page.isConnected) return; // another view stands there by now
    redraw(this.page,
      wallsOf(job).length === 0 && h("p", { class: "lead" }, "Stand in the room and go round it to the right. Begin with any wall."),
      job.rooms.length > FEW && this.toRooms(job.rooms),
      job.rooms.map((room, n) => [
        h("h2", { dir: "auto", id: `room-${n}`, tabindex: "-1", "data-key": `room ${n}` }, room.name),
        h("ol", { class: "cards walls" }, room.walls.map((wall) => this.card(wall))),
      ]),
      h("button", { class: "main wide", "data-key": "new wall", onclick: () => this.addWall() }, picture("plus"), wallsOf(job).length ? "Next wall" : "First wall"));
    redraw(at("about"), askAbout(this.state));
    redraw(at("conditions"), conditionRows(this.state));
    if (reached && held.revision !== this.asked) this.lookForMissing();
  }

  /** The rooms of a house by name, to go straight to one. */
  toRooms(rooms) {
    return h("nav", { class: "chips", "aria-label": "Rooms" },
      rooms.map((room, n) => h("button", { dir: "auto", "data-key": `to room ${n}`, onclick: () => goTo(at(`room-${n}`)) }, room.name)));
  }

  card(wall) {
    const held = wall.tapes.filter((tape) => tape.check_only).length;
    const told = [
      count(wall.photos.length, "photo"), count(wall.marks.length, "mark"), count(readings(wall).length, "reading"),
      ...(held ? [`${held} held back`] : []),
    ];
    const lacks = this.missing.get(wall.name) ?? [];
    const open = (event) => {
      event.preventDefault(); // without a page load: it must work with no connection too
      this.openWall(wall.name);
    };
    return h("li", {}, h("a", { class: "card wall", href: pageOf(this.state.id, "wall", wall.name), "data-key": `wall ${wall.name}`, onclick: open },
      h("span", { class: "ends" }, picture(wall.left, { mirrored: true }), picture(wall.right)),
      h("b", { dir: "auto" }, wall.name),
      h("span", {}, told.join(" · ")),
      wall.unsent && h("span", { class: "sign" }, picture("waiting"), h("span", {}, "not yet on the laptop")),
      lacks.length > 0 && h("span", { class: "sign" }, picture("warning"), h("span", {}, lacks[0] + (lacks.length > 1 ? ` (and ${lacks.length - 1} more)` : "")))));
  }

  async addWall() {
    const name = await askNewWall(this.state);
    if (name) this.openWall(name);
  }

  /** Asked wall by wall: a solve may take a second, and the list must not wait for it. */
  async lookForMissing() {
    const { state } = this;
    const signal = this.asking.next();
    this.asked = state.held.revision;
    for (const wall of wallsOf(state.held.job)) {
      const measured = await got(solving, `${path("jobs", state.id, "walls", wall.name)}/measured`, signal).catch(() => ({}));
      if (signal.aborted) return;
      this.missing.set(wall.name, measured.missing ?? []);
    }
    this.draw();
  }
}

const count = (n, word) => `${n} ${word}${n === 1 ? "" : "s"}`;
