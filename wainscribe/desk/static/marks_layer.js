/** Marks, cards and taps drawn over a picture, in view pixels, so that lines stay thin however much it is enlarged. */

import { redraw, s } from "./dom.js";

const LEAST = 22; // half of 44 CSS px: WCAG 2.2, 2.5.5 (enhanced); no target is smaller
const LETTER = 3.9; // CSS px: half a letter of a name, on average

/**
 * @typedef {{x: number, y: number, at: string}} Spot a tap in picture pixels
 * @typedef {{name: string, kind: string, spots: Spot[]}} Drawn
 */

export class MarksLayer {
  /**
   * @param {HTMLElement} view
   * @param {import("./pan_zoom.js").PanZoom} pan
   * @param {(name: string) => void} choose
   */
  constructor(view, pan, choose) {
    this.pan = pan;
    this.choose = choose;
    this.svg = s("svg", { class: "marks", "aria-label": "Marks", role: "group" });
    view.append(this.svg);
    /** What is drawn. */
    this.shown = { marks: [], cards: [], chosen: "", draft: undefined, before: undefined, handle: 0 };
    pan.onChange(() => this.draw());
  }

  show(part) {
    Object.assign(this.shown, part);
    this.draw();
  }

  draw() {
    const { marks, cards, chosen, draft, before, handle } = this.shown;
    this.labels = []; // boxes taken by names: one that would lie over another is left out
    redraw(
      this.svg,
      [...marks].sort((a, b) => Number(b.name === chosen) - Number(a.name === chosen)).map((mark) => this.mark(mark, mark.name === chosen)),
      cards.map((card) => this.card(card)),
      before && this.shape(before, "before"),
      draft && [this.shape(draft, "draft"), draft.spots.map((spot, i) => this.handle(spot, i === handle))],
    );
  }

  card({ number, outline }) {
    const corners = outline.map(([u, v]) => this.pan.toView({ x: u + 0.5, y: v + 0.5 }));
    const x = corners.reduce((sum, p) => sum + p.x, 0) / corners.length;
    const y = Math.max(...corners.map((p) => p.y)) + 15;
    return s("g", { class: "card" }, s("polygon", { points: joined(corners) }), this.label(`card ${number}`, x, y));
  }

  mark(mark, chosen) {
    const box = this.box(mark);
    const choose = () => this.choose(mark.name);
    const keyed = (event) => (event.key === "Enter" || event.key === " ") && (event.preventDefault(), choose());
    return s("g", {
      class: `mark${chosen ? " chosen" : ""}`, tabindex: "0", role: "button", "data-key": `mark ${mark.name}`,
      "aria-label": mark.name, "aria-pressed": String(chosen), onkeydown: keyed,
    },
    s("rect", { class: "reach", ...box }),
    this.figure(mark.kind, mark.spots),
    !this.shown.draft && this.label(mark.name, box.x + box.width / 2, this.bounds(mark).top - 6));
  }

  /** A name, if there is room for it; that of a thing at the edge of the view is moved in. */
  label(name, at, y) {
    const half = name.length * LETTER;
    const { clientWidth } = this.pan.view;
    const x = at < 0 || at > clientWidth ? at : Math.max(half, Math.min(clientWidth - half, at));
    const box = { left: x - half, right: x + half, top: y - 14, bottom: y + 3 };
    const taken = (one) => one.left < box.right && one.right > box.left && one.top < box.bottom && one.bottom > box.top;
    if (this.labels.some(taken)) return null;
    this.labels.push(box);
    return s("text", { x, y, "text-anchor": "middle" }, name);
  }

  bounds({ spots }) {
    const points = spots.map((spot) => this.pan.toView(spot));
    const [xs, ys] = [points.map((p) => p.x), points.map((p) => p.y)];
    return { left: Math.min(...xs), right: Math.max(...xs), top: Math.min(...ys), bottom: Math.max(...ys) };
  }

  /** The view rectangle of a mark, never smaller than a thumb. */
  box(mark) {
    const tight = this.bounds(mark);
    const range = (low, high) => {
      const more = Math.max(0, LEAST - (high - low) / 2);
      return [low - more, high + more];
    };
    const [left, right] = range(tight.left, tight.right);
    const [top, bottom] = range(tight.top, tight.bottom);
    return { x: left, y: top, width: right - left, height: bottom - top };
  }

  /** The mark at a view point: of several the smallest. @returns {string|undefined} its name */
  at({ x, y }) {
    const hit = this.shown.marks
      .map((mark) => ({ mark, box: this.box(mark) }))
      .filter(({ box }) => x >= box.x && y >= box.y && x <= box.x + box.width && y <= box.y + box.height)
      .sort((a, b) => a.box.width * a.box.height - b.box.width * b.box.height);
    return hit[0]?.mark.name;
  }

  shape(drawn, role) {
    return s("g", { class: role }, this.figure(drawn.kind, drawn.spots));
  }

  /** A rectangle by its corners, a line by its points, a cross where only a point is known. */
  figure(kind, spots) {
    const points = spots.map((spot) => ({ ...this.pan.toView(spot), at: spot.at }));
    const corners = rectangle(points);
    const lines = points.filter((p) => p.at === "stool" || p.at === "apron");
    const single = points.filter((p) => p.at === "centre" || (p.at === "point" && points.length === 1));
    const chain = !corners && points.length > 1 && points.every((p) => p.at === "point");
    return [
      corners && s("polygon", { points: joined(corners) }),
      chain && s(kind === "in front" && points.length > 2 ? "polygon" : "polyline", { points: joined(points) }),
      lines.map((p) => s("path", { d: `M${p.x - 18} ${p.y}h36` })),
      single.map((p) => s("path", { d: `M${p.x - 11} ${p.y}h22M${p.x} ${p.y - 11}v22` })),
    ];
  }

  handle(spot, chosen) {
    const { x, y } = this.pan.toView(spot);
    return s("g", { class: `handle${chosen ? " chosen" : ""}` },
      s("circle", { cx: x, cy: y, r: 13 }), s("path", { d: `M${x - 6} ${y}h12M${x} ${y - 6}v12` }));
  }
}

/** Four corners, from all four or from two that lie opposite; undefined where there is no rectangle. */
function rectangle(points) {
  const by = Object.fromEntries(points.map((p) => [p.at, p]));
  const [a, b, c, d] = ["top left", "top right", "bottom right", "bottom left"].map((at) => by[at]);
  if (a && b && c && d) return [a, b, c, d];
  if (a && c) return [a, { x: c.x, y: a.y }, c, { x: a.x, y: c.y }];
  if (b && d) return [{ x: d.x, y: b.y }, b, { x: b.x, y: d.y }, d];
  return undefined;
}

const joined = (points) => points.map((p) => `${p.x.toFixed(1)},${p.y.toFixed(1)}`).join(" ");
