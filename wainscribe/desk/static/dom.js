/** Elements made from plain values: text is always text, never markup, so that no name can do harm. */

const SVG = "http://www.w3.org/2000/svg";

/**
 * An HTML element.
 * @param {string} tag
 * @param {Object<string, any>} [props] attributes; `on…` functions are listeners; null, undefined and false are left out
 * @param {...(Node|string|number|null|undefined|false|any[])} children
 * @returns {any}
 */
export function h(tag, props = {}, ...children) {
  return filled(document.createElement(tag), props, children);
}

/** An SVG element, likewise. @returns {any} */
export function s(tag, props = {}, ...children) {
  return filled(document.createElementNS(SVG, tag), props, children);
}

function filled(element, props, children) {
  for (const [name, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.flat(3).filter((child) => child || child === 0));
  return element;
}

/** What waits to be drawn until a person has typed to the end or let go, by container. @type {Map<Element, any[]>} */
const waiting = new Map();

/** What a finger or the mouse holds down: were it drawn anew meanwhile, the press would be lost. @type {Element|null} */
let pressed = null;
addEventListener("pointerdown", ({ target, button }) => {
  if (button === 0) pressed = /** @type {Element} */ (target).closest("a, button, input, label, summary"); // no end is told of a press that opens a menu
}, true);
for (const end of ["pointerup", "pointercancel"])
  addEventListener(end, () => setTimeout(letGo), true); // once the click has come

function letGo() {
  pressed = null;
  for (const container of [...waiting.keys()]) late(container);
}

/**
 * Put new children into a container without taking the keyboard, or what is being pressed, from where it was.
 * What can hold the focus across a redrawing carries a `data-key`; a field that tells in `data-drawn` what it was drawn
 * with is not drawn anew while something else is being typed into it.
 * @param {Element} container
 * @param {...any} children
 */
export function redraw(container, ...children) {
  const active = /** @type {any} */ (document.activeElement);
  const within = container.contains(active);
  const typing = within && active.dataset.drawn !== undefined && active.value !== active.dataset.drawn;
  if (typing || container.contains(pressed)) {
    waiting.set(container, children);
    if (typing) active.addEventListener("blur", () => setTimeout(late, 0, container), { once: true }); // once the focus is where it goes
    return;
  }
  waiting.delete(container);
  const key = within ? active.dataset?.key : undefined;
  const { selectionStart: from, selectionEnd: to } = active;
  container.replaceChildren(...children.flat(3).filter(Boolean));
  const again = key && [...container.querySelectorAll("[data-key]")].find((e) => e.dataset.key === key);
  again?.focus({ preventScroll: true });
  if (again && typeof from === "number") again.setSelectionRange?.(from, to); // who had marked all is about to type over it
}

function late(container) {
  const children = waiting.get(container);
  if (children) redraw(container, ...children);
}

/** The element of that id. @returns {any} */
export const at = (id) => document.getElementById(id);

/** Bring a heading into view; who listens, or goes by keys, goes on from there. @param {HTMLElement} heading */
export function goTo(heading) {
  heading.tabIndex = -1;
  heading.scrollIntoView();
  heading.focus({ preventScroll: true });
}

/** Wait so many milliseconds. */
export const pause = (ms) => new Promise((done) => setTimeout(done, ms));
