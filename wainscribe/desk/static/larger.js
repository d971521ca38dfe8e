/** A picture by itself, to be moved and enlarged with two fingers, the wheel, buttons or keys. */

import { h } from "./dom.js";
import { PanZoom } from "./pan_zoom.js";
import { picture } from "./pictures.js";

const ARROWS = { ArrowLeft: [40, 0], ArrowRight: [-40, 0], ArrowUp: [0, 40], ArrowDown: [0, -40] };

/** @param {HTMLImageElement} shown a picture that is there already */
export function openLarger(shown) {
  const image = h("img", { src: shown.src, alt: shown.alt, draggable: "false" });
  const view = h("div", { class: "view plain-view", tabindex: "0", role: "application", "aria-label": `${shown.alt}. Arrow keys move it, plus and minus enlarge.` }, image);
  let pan;
  const button = (name, label, act) => h("button", { class: "plain", "aria-label": label, onclick: act }, picture(name));
  const dialog = h("dialog", { class: "marking", "aria-labelledby": "larger-title" },
    h("header", {}, button("back", "Back", () => dialog.close()), h("h2", { id: "larger-title", dir: "auto" }, shown.alt),
      button("minus", "Smaller", () => pan.zoom(1 / 1.6)), button("plus", "Larger", () => pan.zoom(1.6))),
    view);
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
  pan = new PanZoom(view, { width: shown.naturalWidth, height: shown.naturalHeight });
  pan.onChange(() => {
    image.style.width = `${pan.size.width * pan.scale}px`;
    image.style.transform = `translate(${pan.shift.x}px, ${pan.shift.y}px)`;
  });
  view.addEventListener("keydown", (event) => {
    if (ARROWS[event.key]) pan.pan(...ARROWS[event.key]);
    else if (event.key === "+" || event.key === "=") pan.zoom(1.6);
    else if (event.key === "-") pan.zoom(1 / 1.6);
  });
}
