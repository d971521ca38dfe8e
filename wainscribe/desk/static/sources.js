/** Pictures that can be marked: a photo, or the wall seen square-on, put together from its photos. */

import { path } from "./api.js";
import { getSolved, got, Newest, pictured, postSolved, searching, solving } from "./asking.js";

const PREVIEW = 1600; // px: enough for a phone's screen; the whole photo is fetched when it is enlarged

/** A photo; pixels as stored upright, the centre of the first pixel at 0,0. */
export class PhotoSource {
  /**
   * @param {string} job
   * @param {string} wall
   * @param {any} photo
   */
  constructor(job, wall, photo) {
    this.title = photo.unsent?.name ?? photo.name;
    this.on = path("jobs", job, "walls", wall);
    this.file = photo.unsent?.file;
    this.measured = !photo.record_only;
    this.cards = [];
    this.call(photo.name);
  }

  call(name) {
    this.photo = name;
    this.url = `${this.on}/photos/${encodeURIComponent(name)}`;
    this.snapUrl = this.file ? undefined : `${this.on}/snap`;
  }

  /** It is on the laptop now, under this name; who is marking in it goes on. */
  arrived(name) {
    if (this.blobUrl) URL.revokeObjectURL(this.blobUrl);
    this.file = this.blobUrl = undefined;
    this.call(name);
  }

  get preview() {
    return this.file ? (this.blobUrl ??= URL.createObjectURL(this.file)) : `${this.url}.jpg?width=${PREVIEW}`;
  }

  /** Show it. */
  show(image) {
    image.src = this.preview;
    return image.decode();
  }

  get whole() {
    return this.file ? undefined : `${this.url}.jpg`;
  }

  /** Size in pixels; of a photo that is only here, as the browser shows it. */
  async size(image) {
    if (!this.file) {
      const { size, cards } = await got(searching, `${this.url}/cards`);
      this.cards = cards;
      return { width: size[0], height: size[1] };
    }
    return { width: image.naturalWidth, height: image.naturalHeight };
  }

  /** Where a mark was tapped in this photo. */
  spots(mark) {
    return this.found(mark);
  }

  /** Where the edges that were found lie. */
  found({ sights }) {
    return sights.filter((sight) => sight.photo === this.photo).map(({ u, v, at }) => ({ x: u + 0.5, y: v + 0.5, at }));
  }

  /** Sights for taps. */
  async sights(spots) {
    return spots.map(({ x, y, at }) => ({ photo: this.photo, u: tenth(x - 0.5), v: tenth(y - 0.5), at }));
  }

  /** Sights for a mark that was moved here. */
  async movedSights(_, spots) {
    return this.sights(spots);
  }
}

/** The wall seen square-on. Its pixels are wall inches, which the laptop takes back into the photo that shows them. */
export class ElevationSource {
  constructor(job, wall, revision) {
    this.url = path("jobs", job, "walls", wall);
    this.title = "Square-on";
    this.revision = revision;
    this.preview = `${this.url}/elevation.jpg?of=${revision}`;
    this.snapUrl = `${this.url}/snap`;
    this.squareOn = true;
    this.measured = true;
    this.cards = [];
    this.asking = new Newest();
    this.signal = this.asking.next();
  }

  /** Show it. */
  show(image) {
    return pictured(solving, image, this.preview, this.signal);
  }

  /** It is looked at no more. */
  leave() {
    this.asking.giveUp();
  }

  async size(image) {
    this.about = await getSolved(`${this.url}/elevation.json`, this.signal);
    return { width: image.naturalWidth, height: image.naturalHeight };
  }

  /** Learn where the marks stand at a later revision. @returns {Promise<boolean>} whether the picture is another one now */
  async renew(revision) {
    if (revision === this.revision) return false;
    this.revision = revision;
    const before = this.about.made;
    this.about = await getSolved(`${this.url}/elevation.json`, this.asking.next());
    this.preview = `${this.url}/elevation.jpg?of=${revision}`;
    return this.about.made !== before;
  }

  /** Where the picture shows a mark. */
  spots(mark) {
    return this.placed(this.about?.marks[mark.name] ?? []);
  }

  placed(places) {
    return places.map(({ x, y, at }) => ({ ...this.pixel(x, y), at }));
  }

  /** Where the edges that were found lie. */
  found({ places }) {
    return this.placed(places);
  }

  /** Sights for taps: all in the one photo that the elevation shows there. */
  async sights(spots) {
    const { photo, pixels } = await postSolved(`${this.url}/pixels`, { points: this.points(spots) });
    return spots.map(({ at }, i) => ({ photo, u: tenth(pixels[i][0]), v: tenth(pixels[i][1]), at }));
  }

  /** Sights for a mark that was moved: in every photo in which it is marked. */
  async movedSights(name, spots) {
    return (await postSolved(`${this.url}/moved`, { name, points: this.points(spots) })).sights;
  }

  points(spots) {
    const { px_per_inch, left, top } = this.about;
    return spots.map(({ x, y }) => [left + x / px_per_inch, top - y / px_per_inch]);
  }

  pixel(x, y) {
    const { px_per_inch, left, top } = this.about;
    return { x: (x - left) * px_per_inch, y: (top - y) * px_per_inch };
  }
}

const tenth = (value) => Math.round(value * 10) / 10;
