/**
 * A picture that can be moved and enlarged: two fingers, wheel, double tap, buttons or keys.
 *
 * Three frames: picture pixels (continuous, 0,0 at the upper left corner of the first pixel), view pixels (CSS pixels
 * from the upper left corner of the view), and pointer events. view = picture × scale + shift.
 */

const MOST = 8; // CSS pixels a picture pixel
const FRAMED = 1.5; // the same, where a small thing is shown large
const DOUBLE = 300; // ms between two taps of a double tap
const STILL = 10; // CSS px that a tap may wander

/** @typedef {{x: number, y: number}} Point */

export class PanZoom {
  /**
   * @param {HTMLElement} view
   * @param {{width: number, height: number}} size of the picture, px
   */
  constructor(view, size) {
    this.view = view;
    this.size = size;
    this.scale = 1;
    this.shift = { x: 0, y: 0 };
    this.fingers = new Map();
    this.listeners = [];
    /** One finger (or the mouse) goes here first: down returns true to have the moves to itself. */
    this.tool = { down: () => false, move: () => {}, up: () => {}, cancel: () => {}, tap: () => {} };
    for (const [name, act] of Object.entries({
      pointerdown: this.down, pointermove: this.move, pointerup: this.up, pointercancel: this.cancel,
    })) {
      view.addEventListener(name, act.bind(this));
    }
    view.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    new ResizeObserver(() => this.resized()).observe(view);
    this.fit();
  }

  onChange(listener) {
    this.listeners.push(listener);
    listener();
  }

  /** The scale at which all of the picture shows. */
  get whole() {
    const { clientWidth, clientHeight } = this.view;
    return Math.min(clientWidth / this.size.width, clientHeight / this.size.height) || 1;
  }

  fit() {
    this.scale = this.whole;
    this.fitted = true;
    this.place({ x: 0, y: 0 });
  }

  resized() {
    if (this.fitted) this.fit();
    else this.place(this.shift);
  }

  /** Move, but never so far that the picture is lost; a side that is smaller than the view is centred. */
  place(shift) {
    const held = (shift, view, picture) =>
      picture <= view ? (view - picture) / 2 : Math.min(view / 2, Math.max(view / 2 - picture, shift));
    this.shift = {
      x: held(shift.x, this.view.clientWidth, this.size.width * this.scale),
      y: held(shift.y, this.view.clientHeight, this.size.height * this.scale),
    };
    for (const listener of this.listeners) listener();
  }

  /** Enlarge about a view point, which stays where it is, or moves. */
  zoom(factor, about = { x: this.view.clientWidth / 2, y: this.view.clientHeight / 2 }, to = about) {
    const fixed = this.toPicture(about);
    this.scale = Math.min(MOST, Math.max(this.whole, this.scale * factor));
    this.fitted = this.scale <= this.whole * 1.001;
    this.place({ x: to.x - fixed.x * this.scale, y: to.y - fixed.y * this.scale });
  }

  pan(dx, dy) {
    this.fitted = false;
    this.place({ x: this.shift.x + dx, y: this.shift.y + dy });
  }

  /** Bring a picture point into the middle, if it is out of sight. */
  reveal(point) {
    const { x, y } = this.toView(point);
    const { clientWidth, clientHeight } = this.view;
    if (x < 24 || y < 24 || x > clientWidth - 24 || y > clientHeight - 24) this.pan(clientWidth / 2 - x, clientHeight / 2 - y);
  }

  /** Show some points large and in the middle; `back` goes to where it was before. @param {Point[]} points */
  frame(points) {
    this.before ??= { scale: this.scale, shift: this.shift, fitted: this.fitted };
    const middle = (axis) => (Math.min(...points.map((p) => p[axis])) + Math.max(...points.map((p) => p[axis]))) / 2;
    const across = (axis) => Math.max(1, ...points.map((p) => 2 * Math.abs(p[axis] - middle(axis))));
    const { clientWidth, clientHeight } = this.view;
    const fits = 0.45 * Math.min(clientWidth / across("x"), clientHeight / across("y"));
    this.scale = Math.max(this.whole, Math.min(FRAMED, fits));
    this.fitted = false;
    this.place({ x: clientWidth / 2 - middle("x") * this.scale, y: clientHeight / 2 - middle("y") * this.scale });
  }

  back() {
    if (!this.before) return;
    const { scale, shift, fitted } = this.before;
    this.before = undefined;
    if (fitted) this.fit();
    else {
      this.scale = scale;
      this.place(shift);
    }
  }

  /** @param {Point} point @returns {Point} */
  toView({ x, y }) {
    return { x: x * this.scale + this.shift.x, y: y * this.scale + this.shift.y };
  }

  /** @param {Point} point @returns {Point} */
  toPicture({ x, y }) {
    return { x: (x - this.shift.x) / this.scale, y: (y - this.shift.y) / this.scale };
  }

  at(event) {
    const box = this.view.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  }

  down(event) {
    if (event.button > 0) return;
    this.fingers.set(event.pointerId, this.at(event));
    if (this.fingers.size > 1) {
      if (this.held) this.tool.cancel();
      this.held = this.first = undefined;
      return;
    }
    this.first = { at: this.at(event), time: event.timeStamp, touch: event.pointerType !== "mouse" };
    this.held = this.tool.down(this.at(event), event);
    this.view.setPointerCapture(event.pointerId);
    if (this.held) event.preventDefault();
  }

  move(event) {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    const now = this.at(event);
    if (this.fingers.size === 2) this.pinch(event.pointerId, before, now);
    else if (this.held) this.tool.move(now, event);
    else this.pan(now.x - before.x, now.y - before.y);
    this.fingers.set(event.pointerId, now);
  }

  pinch(id, before, now) {
    const other = [...this.fingers].find(([one]) => one !== id)[1];
    const apart = (one) => Math.hypot(one.x - other.x, one.y - other.y) || 1;
    const middle = (one) => ({ x: (one.x + other.x) / 2, y: (one.y + other.y) / 2 });
    this.zoom(apart(now) / apart(before), middle(before), middle(now)); // what lay between the fingers stays there
  }

  up(event) {
    if (!this.fingers.delete(event.pointerId)) return;
    if (this.held) this.tool.up(this.at(event), event);
    else if (this.first) this.tapped(event);
    this.held = this.first = undefined;
  }

  cancel(event) {
    this.fingers.delete(event.pointerId);
    if (this.held) this.tool.cancel();
    this.held = this.first = undefined;
  }

  tapped(event) {
    const now = this.at(event);
    if (Math.hypot(now.x - this.first.at.x, now.y - this.first.at.y) > STILL) return;
    const double = event.timeStamp - (this.lastTap ?? -Infinity) < DOUBLE;
    this.lastTap = double ? undefined : event.timeStamp;
    if (!double) this.tool.tap(now, event);
    else if (this.scale > this.whole * 2.5) this.fit();
    else this.zoom(3, now);
  }

  wheel(event) {
    event.preventDefault();
    this.zoom(Math.exp(-event.deltaY / 400), this.at(event));
  }
}
