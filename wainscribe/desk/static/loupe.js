/** A magnified circle beside the finger, with a cross where the tap would be, so that the finger hides nothing. */

import { h } from "./dom.js";

const SIZE = 148; // CSS px across
const AWAY = 104; // CSS px from the finger to the circle's middle
const LARGER = 4; // times as large as in the view, at least

export class Loupe {
  /**
   * @param {HTMLElement} view in which it stands
   * @param {HTMLImageElement} image
   */
  constructor(view, image) {
    this.view = view;
    this.image = image;
    const dots = Math.min(3, devicePixelRatio || 1) * SIZE;
    this.canvas = h("canvas", { class: "loupe", width: dots, height: dots, hidden: true, "aria-hidden": "true" });
    view.append(this.canvas);
  }

  hide() {
    this.canvas.hidden = true;
  }

  /**
   * @param {{x: number, y: number}} finger in the view
   * @param {{x: number, y: number}} point in the picture
   * @param {import("./pan_zoom.js").PanZoom} pan
   */
  show(finger, point, pan) {
    this.canvas.hidden = false;
    this.put(finger);
    const ratio = this.image.naturalWidth / pan.size.width || 1; // the preview is smaller than the photo
    const scale = Math.max(pan.scale * LARGER, 0.75);
    const [dots, across] = [this.canvas.width, SIZE / scale];
    const ink = this.canvas.getContext("2d");
    ink.fillStyle = "#777";
    ink.fillRect(0, 0, dots, dots);
    ink.imageSmoothingEnabled = scale < 3;
    const box = [(point.x - across / 2) * ratio, (point.y - across / 2) * ratio, across * ratio, across * ratio];
    ink.drawImage(this.image, ...box, 0, 0, dots, dots);
    this.cross(ink, dots);
  }

  /** White under black: seen on any wall. */
  cross(ink, dots) {
    const [middle, gap] = [dots / 2, dots / 24];
    for (const [width, colour] of [[dots / 40, "#fff"], [dots / 90, "#000"]]) {
      ink.lineWidth = width;
      ink.strokeStyle = colour;
      ink.beginPath();
      for (const [x, y] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
        ink.moveTo(middle + x * gap, middle + y * gap);
        ink.lineTo(middle + x * middle, middle + y * middle);
      }
      ink.stroke();
    }
  }

  /** Above the finger and to its left, where a right thumb hides least; else on the side that has room. */
  put({ x, y }) {
    const half = SIZE / 2;
    const { clientWidth, clientHeight } = this.view;
    const left = x - AWAY - half < 0 ? Math.min(x + AWAY * 0.75, clientWidth - half) : x - AWAY * 0.75;
    const top = y - AWAY - half < 0 ? Math.min(y + AWAY, clientHeight - half) : y - AWAY;
    this.canvas.style.left = `${Math.max(half, left) - half}px`;
    this.canvas.style.top = `${Math.max(half, top) - half}px`;
  }
}
