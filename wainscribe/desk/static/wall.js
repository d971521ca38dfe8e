/** One wall at the walkthrough: photos, marks, tape readings, conditions. */

import { path } from "./api.js";
import { got, Newest, solving } from "./asking.js";
import { conditionRows } from "./conditions.js";
import { at, h, redraw } from "./dom.js";
import { KINDS } from "./mark_kinds.js";
import { openMarking } from "./marking.js";
import { markByTape } from "./by_tape.js";
import { markDetails } from "./mark_details.js";
import { Photos, told } from "./photos.js";
import { picture } from "./pictures.js";
import { ElevationSource } from "./sources.js";
import { ask } from "./sheets.js";
import { askTape, tapeRows } from "./tapes.js";
import { wallRows } from "./wall_form.js";

/** @typedef {import("./job_state.js").JobState} JobState */

const AGAIN = 5_000; // ms
const NOTHING = { missing: [], features: [], findings: [], cards: [], photos: [] };

export class WallView {
  /** @param {JobState} state @param {string} name */
  constructor(state, name) {
    Object.assign(this, { state, name });
    /** What the laptop measured last. */
    this.measured = NOTHING;
    this.asked = -1;
    this.asking = new Newest();
    this.page = at("photos");
    this.photos = new Photos(state, name, (source) => openMarking(state, name, source), () => this.draw());
    at("photo-inputs").append(...this.photos.inputs());
    at("start-photo").addEventListener("click", () => at("photo-inputs").querySelector("input").click());
    at("start-mark").addEventListener("click", () => this.startMark());
    for (const id of ["start-tape", "add-tape"]) at(id).addEventListener("click", () => this.startTape());
  }

  /** Another view takes its place. */
  leave() {
    this.asking.giveUp();
    this.photos.leave();
  }

  get wall() {
    return this.state.wall(this.name);
  }

  draw() {
    const { state, name, wall } = this;
    if (!this.page.isConnected) return; // another wall stands there by now: a late answer must not draw this one over it
    for (const part of at("main").children) part.hidden = Boolean(wall) === (part.id === "no-wall");
    if (!wall) return;
    redraw(at("missing"), this.missing());
    redraw(this.page, this.photoList());
    redraw(at("marks"), this.markList());
    redraw(at("tapes"), tapeRows(state, name));
    redraw(at("conditions"), conditionRows(state, name));
    redraw(at("about"), wallRows(state, name));
    if (state.reached && state.held.revision !== this.asked) this.measure();
  }

  /** What is still missing, and what looks wrong; why a photo shows no card is said beside it. */
  missing() {
    const bare = new Set(this.wall.photos.filter((photo) => this.photos.showsNone(photo)).map(({ name }) => name));
    const wrong = this.measured.findings.filter(({ grade, place }) => grade === "warning" && !bare.has(place)).map(({ sentence, remedy }) => `${sentence} ${remedy}`.trim());
    const lacks = this.measured.missing ?? [];
    if (!lacks.length && !wrong.length) return (this.wall.photos.length > 0 || this.wall.marks.length > 0) && this.measured !== NOTHING && told("kept", "Nothing is missing on this wall.");
    return [warnings("Still missing", lacks), warnings("Look again", wrong)];
  }

  photoList() {
    if (!this.wall.photos.length)
      return h("p", { class: "lead" }, "Stick the cards on the wall, arrows up, and photograph all of it with the floor and both ends.");
    return h("ul", { class: "photos" }, this.photos.tiles());
  }

  markList() {
    const { marks } = this.wall;
    if (!marks.length) return h("p", {}, "Nothing is marked yet.");
    return h("ul", { class: "plain-list" }, marks.map((mark) =>
      h("li", {}, h("button", { class: "row", "data-key": `mark ${mark.name}`, onclick: () => this.openMark(mark) },
        picture(mark.kind, { mirrored: mark.side === "right" && mark.kind === "wall end" }), h("span", { dir: "auto" }, mark.name, h("small", {}, this.where(mark))),
        mark.unsent && picture("waiting")))));
  }

  /** Where a mark stands, as the laptop says it; until then, in how many photos it is marked. */
  where(mark) {
    const words = this.measured.features.find((feature) => feature.name === mark.name)?.shown;
    const up = KINDS[mark.kind].shape === "rectangle" || mark.kind === "level point";
    const [left, bottom] = [mark.kind !== "level point" && words?.left, up && words?.bottom];
    if (left || bottom) return [left && `left ${whole(left)}`, bottom && `bottom ${whole(bottom)}`].filter(Boolean).join(", ");
    const photos = new Set(mark.sights.map((sight) => sight.photo)).size;
    if (!photos) return "by tape";
    return `in ${photos} photo${photos === 1 ? "" : "s"}`;
  }

  openMark(mark) {
    const seen = new Set(mark.sights.map((sight) => sight.photo));
    const photo = this.wall.photos.find((one) => seen.has(one.name));
    if (!photo) return markDetails(this.state, this.name, mark.name);
    return openMarking(this.state, this.name, this.photos.source(photo), { name: mark.name });
  }

  async measure() {
    const { state } = this;
    const signal = this.asking.next();
    this.asked = state.held.revision;
    try {
      this.measured = await got(solving, `${path("jobs", state.id, "walls", this.name)}/measured`, signal);
    } catch {
      if (signal.aborted) return;
      setTimeout(() => this.askAgain(), AGAIN);
      return;
    }
    this.draw();
  }

  askAgain() {
    this.asked = -1;
    this.draw();
  }

  async startMark() {
    const { state, name } = this;
    const usable = this.wall.photos.filter((photo) => !photo.record_only);
    if (!usable.length) {
      await markByTape(state, name, "No photo here shows a card. In one that does, marking is a tap; without one it goes by tape.");
      return;
    }
    const solved = this.measured.photos.length > 0;
    const noCard = (photo) => this.photos.showsNone(photo);
    const sure = usable.length === 1 && !solved && !noCard(usable[0]);
    const chosen = sure ? usable[0] : await choosePicture(usable, solved, noCard);
    if (!chosen) return;
    if (chosen === "by tape") {
      await markByTape(state, name);
      return;
    }
    const square = chosen === "square-on";
    await openMarking(state, name, square ? new ElevationSource(state.id, name, state.held.revision) : this.photos.source(chosen));
  }

  startTape() {
    const measured = this.measured.cards.map((card) => card.number);
    const cards = [...new Set([...measured, ...this.photos.cardNumbers()])];
    return askTape(this.state, this.name, cards.sort((a, b) => a - b));
  }
}

/** A length that is not broken over two lines. */
const whole = (length) => length.replaceAll(" ", "\u00a0");

function warnings(title, sentences) {
  if (!sentences.length) return null;
  return [h("h2", {}, title), h("ul", { class: "plain-list" }, sentences.map((words) => h("li", {}, told("warning", words))))];
}

function choosePicture(usable, solved, noCard) {
  return ask("In which picture?", "", [
    ...usable.map((photo) => ({ value: photo, label: photo.unsent?.name ?? photo.name, note: noCard(photo) && "no card found: nothing in it can be measured yet" })),
    ...(solved ? [{ value: "square-on", label: "The wall square-on", note: "put together from its photos" }] : []),
    { value: "by tape", label: "By tape", note: "what no photo shows" },
  ]);
}
