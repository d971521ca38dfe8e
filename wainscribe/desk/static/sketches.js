/** Sketches of the ways out: one is asked for at a time, as it comes near the view, and kept as long as the plan holds. */

import { Lane, Newest, pictured } from "./asking.js";
import { h } from "./dom.js";

const lane = new Lane(1);
const asking = new Newest();
let kept = { of: -1, images: new Map(), signal: asking.next() };

/**
 * @param {string} url
 * @param {number} of the job's revision that was planned; those of another are given up
 */
export function sketch(url, of) {
  if (kept.of !== of) kept = { of, images: new Map(), signal: asking.next() };
  const { images } = kept;
  if (!images.has(url)) images.set(url, begun(`${url}?of=${of}`));
  return images.get(url);
}

function begun(url) {
  const image = h("img", { alt: "", "data-url": url });
  near.observe(image);
  return image;
}

const near = new IntersectionObserver(
  (seen) => {
    for (const { isIntersecting, target } of seen) if (isIntersecting) load(/** @type {HTMLImageElement} */ (target));
  },
  { rootMargin: "600px" },
);

function load(image) {
  near.unobserve(image);
  pictured(lane, image, image.dataset.url, kept.signal).catch(() => undefined); // its words stand there all the same
}
