/** Pictures that can be marked: a photo, or the wall seen square-on, put together from its photos. */

import { get, path, post, SOLVING } from "./api.js";
import { answer, keepAnswer } from "./store.js";

const PREVIEW = 1600; // px: enough for a phone's screen; the whole photo is fetched when it is enlarged

/** An answer of the laptop, or the last one that was kept when it does not answer. */
export async function got(url) {
  try {
    const fresh = await get(url, SOLVING);
    await keepAnswer(url, fresh);
    return fresh;
  } catch (error) {
    const kept = await answer(url);
    if (kept) return kept;
    throw error;
  }
}

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

  get whole() {
    return this.file ? undefined : `${this.url}.jpg`;
  }

  /** Size in pixels; of a photo that is only here, as the browser shows it. */
  async size(image) {
    if (!this.file) {
      const { size, cards } = await got(`${this.url}/cards`);
      this.cards = cards;
      return { width: size[0], height: size[1] };
    }
    return { width: image.naturalWidth, height: image.naturalHeight };
  }

  /** Where a mark was tapped in this photo. */
  spots(mark) {
    return mark.sights
      .filter((sight) => sight.photo === this.photo)
      .map(({ u, v, at }) => ({ x: u + 0.5, y: v + 0.5, at }));
  }

  /** Sights for taps. */
  async sights(spots) {
    return spots.map(({ x, y, at }) => ({ photo: this.photo, u: tenth(x - 0.5), v: tenth(y - 0.5), at }));
  }
}

/** The wall seen square-on. Its pixels are wall inches, which the laptop takes back into the photo that shows them. */
export class ElevationSource {
  constructor(job, wall, revision) {
    this.url = path("jobs", job, "walls", wall);
    this.title = "the wall square-on";
    this.preview = `${this.url}/elevation.jpg?of=${revision}`;
    this.snapUrl = `${this.url}/snap`;
    this.measured = true;
    this.cards = [];
    this.features = [];
  }

  async size(image) {
    const [scale, measured] = await Promise.all([get(`${this.url}/elevation.json`, SOLVING), get(`${this.url}/measured`, SOLVING)]);
    Object.assign(this, { scale, features: measured.features });
    return { width: image.naturalWidth, height: image.naturalHeight };
  }

  /** Where a mark stands, as it is measured. */
  spots(mark) {
    const feature = this.features.find((one) => one.name === mark.name);
    if (!feature?.left) return [];
    const spot = (x, y, at) => ({ ...this.pixel(x.value, y.value), at });
    if (feature.right && feature.top && feature.bottom && feature.right.value > feature.left.value)
      return [spot(feature.left, feature.top, "top left"), spot(feature.right, feature.bottom, "bottom right")];
    const up = feature.bottom ?? { value: 24 };
    return [spot(feature.left, up, "point"), spot(feature.left, feature.top ?? { value: up.value + 12 }, "point")];
  }

  /** Sights for taps: all in the one photo that the elevation shows there. */
  async sights(spots) {
    const points = spots.map(({ x, y }) => this.inches(x, y));
    const { photo, pixels } = await post(`${this.url}/pixels`, { points }, SOLVING);
    return spots.map(({ at }, i) => ({ photo, u: tenth(pixels[i][0]), v: tenth(pixels[i][1]), at }));
  }

  inches(x, y) {
    const { px_per_inch, left, top } = this.scale;
    return [left + x / px_per_inch, top - y / px_per_inch];
  }

  pixel(x, y) {
    const { px_per_inch, left, top } = this.scale;
    return { x: (x - left) * px_per_inch, y: (top - y) * px_per_inch };
  }
}

const tenth = (value) => Math.round(value * 10) / 10;
