/** Marking on a picture: choose a kind, tap it under the loupe, see the edges found near the taps, keep it. */

import { NoAnswer, Refused } from "./api.js";
import { Newest, postSolved } from "./asking.js";
import { h, redraw } from "./dom.js";
import { Loupe } from "./loupe.js";
import { chooseMark, chooseWhat, chooseWhich } from "./mark_choices.js";
import { markDetails, removeMark, seenMark } from "./mark_details.js";
import { CENTRE, KINDS } from "./mark_kinds.js";
import { MarksLayer } from "./marks_layer.js";
import { PanZoom } from "./pan_zoom.js";
import { picture } from "./pictures.js";

const GAIN = 0.4; // how far the cross goes for a finger's move: a thumb is coarser than a plate's edge
const REACH = 30; // CSS px from a handle that still take hold of it
const NUDGE = 1; // picture px for an arrow key; ten with Shift
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const SETTLED = 1.3; // the preview is enlarged by more than this before the whole photo is fetched

/**
 * @typedef {Object} Draft what is being marked or moved
 * @property {any} mark name, kind and, for a new one, what was asked first (side, projection)
 * @property {{x: number, y: number, at: string}[]} spots taps so far, picture px
 * @property {import("./mark_kinds.js").Step[]} steps
 * @property {number} step
 * @property {number} handle which tap the arrow keys move
 * @property {boolean} [isNew] there was no mark of its name: if there is one by then, somebody else made it
 * @property {boolean} [moving] a mark that is there already
 * @property {boolean} [kept] on its way to the laptop
 * @property {any[]} [taps] the taps as sights
 * @property {any} [snapped] what the laptop found near them
 */

/**
 * Open a picture of a wall for marking.
 * @param {import("./job_state.js").JobState} state
 * @param {string} wall
 * @param {any} source a PhotoSource or an ElevationSource
 * @param {{kind?: string, name?: string}} [begin] a kind to mark at once, or a mark to show
 */
export function openMarking(state, wall, source, begin = {}) {
  return new Marking(state, wall, source).open(begin);
}

class Marking {
  constructor(state, wall, source) {
    Object.assign(this, { state, wall, source });
    /** @type {Draft|undefined} */
    this.draft = undefined;
    this.chosen = "";
    this.last = undefined;
    /** For edges near taps. */
    this.looking = new Newest();
  }

  async open(begin) {
    this.build();
    this.dialog.showModal();
    try {
      await this.source.show(this.image);
      await this.prepare();
    } catch (error) {
      this.say(this.source.file ? "This browser cannot show this photo. Mark it once it is on the laptop." : refusal(error));
      return this.closed;
    }
    if (begin.kind) this.begin(begin.kind);
    else if (begin.name) this.choose(begin.name);
    else this.bar();
    return this.closed;
  }

  build() {
    const button = (name, label, act, more = {}) =>
      h("button", { class: "plain", "aria-label": label, onclick: act, ...more }, picture(name));
    this.image = h("img", { alt: "", draggable: "false" });
    this.view = h("div", {
      class: "view", tabindex: "0", role: "application", onkeydown: (event) => this.key(event),
      "aria-label": "The picture. Arrow keys move the cross, Enter sets it, plus and minus enlarge.",
    }, this.image);
    this.prompt = h("p", { class: "prompt", role: "status" }, "Fetching the picture…");
    this.tools = h("div", { class: "tools" });
    this.dialog = h("dialog", { class: "marking", "aria-labelledby": "marking-title" },
      h("header", {},
        button("back", "Back to the wall", () => this.close()),
        h("h2", { id: "marking-title", dir: "auto" }, this.source.title),
        button("minus", "Smaller", () => this.pan?.zoom(1 / 1.6)),
        button("plus", "Larger", () => this.pan?.zoom(1.6)),
        button("fit", "All of it", () => this.pan?.fit(), { class: "plain wide-only" })),
      this.view,
      h("footer", {}, this.prompt, this.tools));
    this.closed = new Promise((done) => this.dialog.addEventListener("close", () => done(this.end())));
    this.dialog.addEventListener("cancel", (event) => {
      if (!this.draft) return;
      event.preventDefault(); // Escape leaves the draft first
      this.leaveDraft();
    });
    document.body.append(this.dialog);
  }

  close() {
    this.dialog.close();
  }

  end() {
    this.dialog.remove();
    this.over = true;
    this.source.leave?.();
    this.looking.giveUp();
  }

  async prepare() {
    const size = await this.source.size(this.image);
    this.pan = new PanZoom(this.view, size);
    this.loupe = new Loupe(this.view, this.image);
    this.layer = new MarksLayer(this.view, this.pan, (name) => this.choose(name));
    this.layer.show({ cards: this.source.cards });
    this.pan.onChange(() => this.placeImage());
    this.pan.tool = {
      down: (at, event) => this.down(at, event),
      move: (at) => this.move(at),
      up: () => this.up(),
      cancel: () => this.loupe.hide(),
      tap: (at) => this.tap(at),
    };
    this.state.onChange(() => !this.over && this.renew());
    this.drawMarks();
  }

  /** Somebody changed the job, perhaps this person: marks may stand elsewhere, and the square-on picture be another one. */
  async renew() {
    if (!this.state.wall(this.wall) && !this.draft) return this.close(); // somebody took it away
    this.drawMarks();
    try {
      const another = await this.source.renew?.(this.state.held.revision);
      if (this.over) return undefined;
      if (another) this.image.src = this.source.preview;
    } catch {
      return undefined; // the laptop does not answer, or is asked anew; the marks stay where they were
    }
    return this.drawMarks();
  }

  placeImage() {
    const { scale, shift, size } = this.pan;
    const { style } = this.image;
    this.image.dataset.width = String(size.width);
    style.width = `${size.width * scale}px`;
    style.height = `${size.height * scale}px`;
    style.transform = `translate(${shift.x}px, ${shift.y}px)`;
    const dots = (size.width * scale * (devicePixelRatio || 1)) / this.image.naturalWidth;
    if (dots > SETTLED && this.source.whole && !this.fetched) this.fetchWhole();
  }

  async fetchWhole() {
    this.fetched = true;
    const whole = new Image();
    whole.src = this.source.whole;
    try {
      await whole.decode();
      this.image.src = whole.src;
    } catch {
      this.fetched = false; // the preview stays; the next enlarging tries again
    }
  }

  get marks() {
    return this.state.wall(this.wall)?.marks ?? [];
  }

  drawMarks() {
    const moved = this.draft?.mark.name;
    const marks = this.marks
      .filter((mark) => mark.name !== moved)
      .map((mark) => ({ name: mark.name, kind: mark.kind, spots: this.source.spots(mark) }))
      .filter((mark) => mark.spots.length > 0);
    this.layer.show({ marks, chosen: this.chosen });
  }

  drawDraft() {
    const { draft } = this;
    const drawn = draft && { kind: draft.mark.kind, spots: this.draftSpots() };
    const before = draft?.snapped && { kind: draft.mark.kind, spots: draft.spots };
    this.layer.show({ draft: drawn, before, handle: draft?.handle ?? -1 });
  }

  /** Where the draft stands: at the edges that were found, else at the taps. */
  draftSpots() {
    const { draft } = this;
    return draft.snapped ? this.source.found(draft.snapped) : draft.spots;
  }

  draftSights({ mark, spots, moving }) {
    return moving ? this.source.movedSights(mark.name, spots) : this.source.sights(spots);
  }

  // ---- what the bar below the picture says and offers

  say(text) {
    this.prompt.textContent = text;
  }

  offer(...buttons) {
    redraw(this.tools, buttons);
  }

  button(label, act, main = false) {
    return h("button", { class: main ? "main" : "", "data-key": label, onclick: act }, label);
  }

  bar() {
    const more = this.source.measured && this.button("Mark something", () => this.what(), true);
    const there = this.marks.length > 0 && this.button("Marks here", () => this.list());
    this.say(this.source.measured ? "Tap a mark to change it." : "A record photo: nothing is measured in it.");
    const again = this.last && this.button(`Another ${this.last}`, () => this.begin(this.last), true);
    if (again) this.offer(again, this.button("Something else", () => this.what()), there);
    else this.offer(more, there);
  }

  async what() {
    const kind = await chooseWhat();
    if (kind) this.begin(kind);
  }

  async list() {
    const name = await chooseMark(this.layer.shown.marks.map((mark) => mark.name));
    if (name) this.choose(name);
  }

  // ---- a new mark

  async begin(kind) {
    const mark = await chooseWhich(this.state, this.wall, this.source, kind);
    if (!mark) return this.bar();
    this.chosen = "";
    const isNew = !this.marks.some((one) => one.name === mark.name);
    this.draft = { mark, isNew, spots: [], steps: KINDS[kind].steps, step: 0, handle: -1 };
    this.drawMarks();
    return this.ask();
  }

  ask() {
    const { draft } = this;
    const step = draft.steps[draft.step];
    this.say(`${draft.mark.name}: ${step.say.toLowerCase()}`);
    const first = draft.spots.length === 0;
    const enough = step.repeats ? draft.spots.length >= 3 : step.optional;
    this.offer(
      enough && this.button(step.repeats ? "Done" : "Leave it out", () => this.nextStep(step.repeats), step.repeats),
      first && KINDS[draft.mark.kind].centre && draft.steps !== CENTRE && this.button("By its centre", () => this.byCentre()),
      !first && this.button("Last tap back", () => this.tapBack()),
      this.button("Leave", () => this.leaveDraft()),
    );
    this.drawDraft();
    return undefined;
  }

  byCentre() {
    Object.assign(this.draft, { steps: CENTRE, step: 0 });
    this.ask();
  }

  tapBack() {
    const { draft } = this;
    const gone = draft.spots.pop();
    if (!draft.steps[draft.step]?.repeats) draft.step = draft.steps.findIndex((step) => step.at === gone.at);
    this.ask();
  }

  set(point) {
    const { draft } = this;
    const step = draft.steps[draft.step];
    const spot = { ...this.within(point), at: step.at };
    const wrong = misplaced([...draft.spots, spot]);
    if (wrong) return this.say(`${draft.mark.name}: ${wrong}`);
    draft.spots.push(spot);
    if (step.repeats) return this.ask();
    return this.nextStep();
  }

  nextStep(last = false) {
    const { draft } = this;
    draft.step += 1;
    return draft.step < draft.steps.length && !last ? this.ask() : this.taken();
  }

  /** All taps are there: look for the edges near them, and show both before one is taken. */
  async taken() {
    const { draft } = this;
    draft.handle = -1;
    if (KINDS[draft.mark.kind].snaps) this.pan.frame(draft.spots);
    this.drawDraft();
    if (KINDS[draft.mark.kind].snaps && this.source.snapUrl) await this.findEdges(draft);
    else await this.keep(draft);
  }

  async findEdges(draft) {
    this.say(`${draft.mark.name}: looking for its edges…`);
    this.offer(this.button("Keep my taps", () => this.keep(draft)), this.button("Leave", () => this.leaveDraft()));
    const signal = this.looking.next();
    try {
      draft.taps = await this.draftSights(draft);
      const { kind, name, side } = draft.mark;
      const asked = { photo: draft.taps[0].photo, kind, name, side, sights: draft.taps, square_on: Boolean(this.source.squareOn) };
      const found = await postSolved(this.source.snapUrl, asked, signal);
      if (this.draft !== draft) return;
      if (found.found) this.showEdges(draft, found);
      else this.noEdges(draft, found.doubt);
    } catch (error) {
      if (this.draft === draft && !signal.aborted) this.noEdges(draft, error instanceof NoAnswer ? "The laptop does not answer." : error.message);
    }
  }

  showEdges(draft, found) {
    draft.snapped = found;
    this.say(`${draft.mark.name}: edges found${found.doubt ? `. Look again: ${found.doubt}` : ""}`);
    this.offer(
      this.button("Use the edges", () => this.keep(draft), true),
      this.button("Keep my taps", () => this.keep({ ...draft, snapped: undefined })),
      this.button("Tap again", () => this.tapAgain(draft)),
    );
    this.drawDraft();
  }

  noEdges(draft, why) {
    this.say(`${draft.mark.name}: no clear edge there. ${why ?? ""}`.trim());
    this.offer(
      this.button("Keep my taps", () => this.keep(draft), true),
      this.button("Tap again", () => this.tapAgain(draft)),
      this.button("Leave", () => this.leaveDraft()),
    );
  }

  tapAgain(draft) {
    this.pan.back();
    Object.assign(draft, { spots: [], step: 0, handle: -1, snapped: undefined });
    this.ask();
  }

  async keep(draft) {
    if (draft.kept) return;
    draft.kept = true;
    this.looking.giveUp();
    const { mark, snapped } = draft;
    try {
      const sights = snapped?.sights ?? draft.taps ?? (await this.draftSights(draft));
      const seen = draft.isNew ? null : seenMark(this.state, this.wall, mark.name);
      await this.state.change({ do: "mark", wall: this.wall, mark: { ...mark, sights }, seen });
    } catch (error) {
      draft.kept = false;
      this.noEdges(draft, error.message);
      return;
    }
    this.last = mark.kind;
    this.endDraft();
    this.bar();
    this.say(`${mark.name} is noted.`);
  }

  leaveDraft() {
    this.endDraft();
    this.bar();
    this.view.focus();
  }

  endDraft() {
    this.draft = undefined;
    this.looking.giveUp();
    this.cursor = undefined;
    this.loupe.hide();
    this.pan.back();
    this.drawDraft();
    this.drawMarks();
  }

  // ---- a mark that is there

  choose(name) {
    const mark = this.marks.find((one) => one.name === name);
    if (!mark || this.draft) return;
    this.chosen = name;
    this.drawMarks();
    const here = this.source.spots(mark);
    if (here.length) this.pan.reveal(here[0]);
    this.say(here.length ? name : `${name} is not marked in this photo.`);
    this.offer(
      this.source.measured && here.length > 0 && this.button("Move it", () => this.moveMark(mark, here), true),
      this.source.measured && here.length === 0 && this.button("Mark it here", () => this.begin(mark.kind), true),
      this.button("Tell more", () => markDetails(this.state, this.wall, name)),
      this.button("Take away", () => this.takeAway(name)),
      this.button("Done", () => this.unchoose()),
    );
  }

  unchoose() {
    this.chosen = "";
    this.drawMarks();
    this.bar();
  }

  async takeAway(name) {
    if (await removeMark(this.state, this.wall, name)) this.unchoose();
  }

  moveMark({ name, kind }, spots) {
    this.draft = { mark: { name, kind }, spots, steps: [], step: 0, handle: 0, moving: true };
    this.chosen = "";
    this.pan.frame(spots);
    this.drawMarks();
    this.askMove();
    this.view.focus();
  }

  askMove() {
    const { draft } = this;
    const keys = matchMedia("(pointer: coarse)").matches ? "" : ", or use the arrow keys";
    this.say(`${draft.mark.name}: drag a handle${keys}`);
    const several = draft.spots.length > 1;
    this.offer(
      this.button("Keep it so", () => this.keep(draft), true),
      KINDS[draft.mark.kind].snaps && this.source.snapUrl && this.button("Find the edges", () => this.findEdges(draft)),
      several && this.button("Next handle", () => this.nextHandle()),
      this.button("Leave", () => this.leaveDraft()),
    );
    this.drawDraft();
  }

  nextHandle() {
    const { draft } = this;
    draft.handle = (draft.handle + 1) % draft.spots.length;
    this.pan.reveal(draft.spots[draft.handle]);
    this.drawDraft();
  }

  // ---- fingers and keys

  get placing() {
    return Boolean(this.draft && !this.draft.snapped && this.draft.step < this.draft.steps.length);
  }

  /** @returns {boolean} whether the finger sets or drags something, and does not move the picture */
  down(at, event) {
    const gain = event.pointerType === "mouse" ? 1 : GAIN;
    if (this.placing) this.drag = { from: at, start: this.pan.toPicture(at), gain };
    else if (this.draft && !this.draft.snapped && !this.draft.kept) this.drag = this.takeHold(at, gain);
    else this.drag = undefined;
    if (this.drag) this.move(at);
    return Boolean(this.drag);
  }

  takeHold(at, gain) {
    const far = this.draft.spots.map((spot) => {
      const { x, y } = this.pan.toView(spot);
      return Math.hypot(x - at.x, y - at.y);
    });
    const nearest = far.indexOf(Math.min(...far));
    if (far[nearest] > REACH) return undefined;
    this.draft.handle = nearest;
    return { from: at, start: { ...this.draft.spots[nearest] }, gain, handle: nearest };
  }

  move(at) {
    const { from, start, gain, handle } = this.drag;
    const by = gain / this.pan.scale;
    const point = this.within({ x: start.x + (at.x - from.x) * by, y: start.y + (at.y - from.y) * by });
    this.drag.point = point;
    this.loupe.show(at, point, this.pan);
    if (handle !== undefined) this.moveHandle(handle, point);
  }

  moveHandle(handle, point) {
    const { draft } = this;
    const spots = draft.spots.map((spot, i) => (i === handle ? { ...spot, ...point } : spot));
    if (misplaced(spots)) return;
    Object.assign(draft, { spots, taps: undefined });
    this.drawDraft();
  }

  up() {
    this.loupe.hide();
    const { point, handle } = this.drag;
    this.drag = undefined;
    if (handle === undefined) this.set(point);
  }

  tap(at) {
    const name = this.layer.at(at);
    if (this.draft) return;
    if (name) this.choose(name);
    else if (this.chosen) this.unchoose();
  }

  key(event) {
    if (event.target !== this.view || !this.pan) return;
    const arrow = ARROWS[event.key];
    const step = (event.shiftKey ? 10 : 1) * NUDGE;
    if (arrow) this.arrow(arrow[0] * step, arrow[1] * step);
    else if (event.key === "+" || event.key === "=") this.pan.zoom(1.6);
    else if (event.key === "-") this.pan.zoom(1 / 1.6);
    else if (event.key === "0") this.pan.fit();
    else if (event.key === "Enter" && this.placing) this.set(this.cross());
    else return;
    event.preventDefault();
  }

  arrow(dx, dy) {
    const { draft } = this;
    if (this.placing) {
      const { x, y } = this.cross();
      const far = 4 / Math.min(1, this.pan.scale); // the cross crosses the wall in a few seconds of a held key
      this.cursor = this.within({ x: x + dx * far, y: y + dy * far });
      this.pan.reveal(this.cursor);
      this.loupe.show(this.pan.toView(this.cursor), this.cursor, this.pan);
    } else if (draft && draft.handle >= 0 && !draft.snapped) {
      const spot = draft.spots[draft.handle];
      this.moveHandle(draft.handle, this.within({ x: spot.x + dx, y: spot.y + dy }));
      this.loupe.show(this.pan.toView(spot), draft.spots[draft.handle], this.pan);
    } else this.pan.pan(-dx * 40, -dy * 40);
  }

  /** Where the keyboard's cross is. */
  cross() {
    const { clientWidth, clientHeight } = this.view;
    return (this.cursor ??= this.within(this.pan.toPicture({ x: clientWidth / 2, y: clientHeight / 2 })));
  }

  within({ x, y }) {
    const { width, height } = this.pan.size;
    return { x: Math.min(width, Math.max(0, x)), y: Math.min(height, Math.max(0, y)) };
  }
}

/** Why taps cannot be corners of one thing; "" where they can. */
function misplaced(spots) {
  const side = (word, axis) => spots.filter((spot) => spot.at.split(" ").includes(word)).map((spot) => spot[axis]);
  if (side("left", "x").some((left) => side("right", "x").some((right) => left >= right)))
    return "the right corner must lie right of the left one. Tap again";
  if (side("top", "y").some((top) => side("bottom", "y").some((bottom) => top >= bottom)))
    return "the lower corner must lie below the upper one. Tap again";
  return "";
}

const refusal = (error) => (error instanceof Refused || error instanceof NoAnswer ? error.message : "The picture did not come. Try again.");
