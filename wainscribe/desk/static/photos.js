/** The photos of a wall: taken in, on their way, and what each shows. */

import { path } from "./api.js";
import { got, searching } from "./asking.js";
import { h } from "./dom.js";
import { picture } from "./pictures.js";
import * as queue from "./queue.js";
import { PhotoSource } from "./sources.js";
import { ask, askText, sheet } from "./sheets.js";
import { localPhoto } from "./things.js";

const SIGNS = { warning: "warning", doubt: "doubt", note: "note" };

export class Photos {
  /**
   * @param {import("./job_state.js").JobState} state
   * @param {string} wall
   * @param {(source: PhotoSource) => void} open for marking
   * @param {() => void} redraw
   */
  constructor(state, wall, open, redraw) {
    Object.assign(this, { state, wall, open, redraw });
    /** What the laptop said of each photo, by name. */
    this.looked = new Map();
    this.sources = new Map();
    this.left = new AbortController();
    queue.on("sent", ({ job, entry, answer }) => job === state.id && entry.type === "photo" && this.arrived(entry, answer));
    queue.on("progress", ({ id, part }) => this.advance(id, part));
  }

  /** The wall is shown no more. */
  leave() {
    this.left.abort();
  }

  arrived(entry, answer) {
    this.sources.get(localPhoto(entry.id))?.arrived(answer.photo);
    if (entry.wall === this.wall) this.taken(answer);
  }

  taken(answer) {
    this.looked.set(answer.photo, answer);
    this.redraw();
  }

  /** Only the bar moves: a redrawing at every packet would take the page from under the thumb. */
  advance(id, part) {
    const bar = document.querySelector(`progress[data-id="${id}"]`);
    if (bar) bar.value = part;
    else this.redraw();
  }

  /** Two doors: the camera, and what was photographed before. */
  inputs() {
    const input = (label, sign, camera) =>
      h("label", { class: "button" }, picture(sign), h("span", {}, label),
        h("input", { type: "file", class: "spoken", accept: "image/*", multiple: !camera, capture: camera && "environment", onchange: (event) => this.take(event) }));
    return [input("Camera", "camera", true), input("Gallery", "gallery", false)];
  }

  async take(event) {
    const field = event.target;
    for (const file of [...field.files]) await queue.addPhoto(this.state.id, this.wall, file);
    field.value = "";
  }

  tiles() {
    const { photos } = this.state.wall(this.wall);
    return photos.map((photo) => this.tile(photo));
  }

  tile(photo) {
    const entry = photo.unsent?.id && photo.unsent;
    const source = this.source(photo);
    const look = entry ? undefined : this.look(photo);
    const name = entry ? entry.name : photo.name;
    const open = h("button", { class: "open", "aria-label": `Mark in ${name}`, "data-key": `open ${photo.name}`, onclick: () => this.open(this.source(photo)) },
      h("img", { src: entry ? source.preview : `${source.url}.jpg?width=480`, alt: "", loading: "lazy" }));
    return h("li", { class: "photo" }, open,
      h("div", { class: "said" },
        h("span", { class: "photo-name", dir: "auto" }, photo.caption || name),
        entry ? onItsWay(entry) : this.shows(photo, look),
        !entry && h("button", { class: "plain small", "data-key": `about ${photo.name}`, onclick: () => this.about(photo) }, "About this photo")));
  }

  source(photo) {
    const old = this.sources.get(photo.name);
    if (old && old.measured === !photo.record_only) return old;
    const source = new PhotoSource(this.state.id, this.wall, photo);
    this.sources.set(photo.name, source);
    return source;
  }

  /** Whether a photo was looked at and shows no card, which is said beside it. */
  showsNone(photo) {
    return this.looked.get(photo.name)?.cards.length === 0;
  }

  /** Numbers of the cards that the wall's photos show. */
  cardNumbers() {
    const { photos } = this.state.wall(this.wall);
    return photos.filter((photo) => !photo.record_only).flatMap((photo) => (this.looked.get(photo.name)?.cards ?? []).map((card) => card.number));
  }

  /** What is known of a photo; asked for once. */
  look(photo) {
    const known = this.looked.get(photo.name);
    if (known === undefined) {
      this.looked.set(photo.name, null);
      got(searching, `${path("jobs", this.state.id, "walls", this.wall, "photos", photo.name)}/cards`, this.left.signal)
        .then((answer) => this.taken(answer))
        .catch(() => this.looked.delete(photo.name));
    }
    return known;
  }

  shows(photo, look) {
    if (photo.record_only && look && !look.cards.length && !photo.caption) return [this.noCards(look), told("note", "kept as a record")];
    if (photo.record_only) return told("note", "a record, not measured", "cards-found");
    if (!look) return told("waiting", "looking for cards…");
    if (!look.cards.length) return this.noCards(look);
    const sharp = look.sharpness?.word;
    return [
      told("kept", cardWords(look.cards), "cards-found"),
      sharp && sharp !== "not known" && told(sharp === "sharp" ? "kept" : "warning", sharp),
      this.findings(look),
    ];
  }

  /** Why no card was found: the laptop says it in a sentence, and it is said once. */
  noCards(look) {
    return h("div", { class: "cards-found" }, look.findings.length ? this.findings(look) : told("warning", "no card found"));
  }

  findings(look) {
    return look.findings.map(({ grade, sentence, remedy }) => told(SIGNS[grade] ?? "note", `${sentence} ${remedy}`.trim()));
  }

  about(photo) {
    return sheet(photo.name, (close) => {
      const deed = (label, act) => h("button", { onclick: async () => { close(); await act(); } }, label);
      return h("div", { class: "choices" },
        deed("What it shows, in words", () => this.caption(photo)),
        photo.record_only
          ? deed("Measure in it", () => this.change(photo, { record_only: false }))
          : deed("Only a record: do not measure in it", () => this.change(photo, { record_only: true })),
        deed("Take it off this wall", () => this.takeOff(photo)));
    });
  }

  async caption(photo) {
    const offered = ["damage before the work", "behind the furniture", "floor and base", "detail of the casing"];
    const caption = await askText("What it shows", { label: "Or in your words", value: photo.caption, offered });
    if (caption !== undefined) await this.change(photo, { caption });
  }

  change(photo, part) {
    const seen = Object.fromEntries(Object.keys(part).map((key) => [key, photo[key]]));
    return this.state.change({ do: "photo", wall: this.wall, photo: photo.name, ...part, seen });
  }

  async takeOff(photo) {
    const sure = await ask(`Take ${photo.name} off this wall?`, "What was marked in it goes with it. The photo stays in the job’s folder, and undo brings it back.", [
      { value: true, label: "Take it off" },
      { value: false, label: "Leave it", main: true },
    ]);
    if (sure) await this.state.change({ do: "remove-photo", wall: this.wall, photo: photo.name });
  }
}

function onItsWay(entry) {
  if (entry.state !== "waiting")
    return [
      told("warning", entry.sentence),
      h("button", { class: "small", "data-key": `again ${entry.id}`, onclick: () => queue.again(entry) }, "Send again"),
      h("button", { class: "plain small", "data-key": `drop ${entry.id}`, onclick: () => queue.forget(entry) }, "Let it go"),
    ];
  const part = queue.progress.get(entry.id);
  return [
    h("progress", { max: "1", value: part ?? 0, "data-id": entry.id, "aria-label": `${entry.name}, sent` }),
    told("waiting", queue.trouble ? "kept here, no connection" : part === undefined ? "kept here, waits" : "on its way"),
    queue.trouble && h("button", { class: "small", "data-key": `again ${entry.id}`, onclick: () => queue.send() }, "Send now"),
  ];
}

export const told = (sign, words, name = "") => h("span", { class: `sign ${name}` }, picture(sign), h("span", {}, words));

function cardWords(cards) {
  const numbers = cards.map((card) => card.number).sort((a, b) => a - b);
  return `${cards.length} card${cards.length === 1 ? "" : "s"}: ${numbers.join(", ")}`;
}
