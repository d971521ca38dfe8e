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

/** What waits to be drawn until a person has typed to the end, by container. @type {WeakMap<Element, any[]>} */
const waiting = new WeakMap();

/**
 * Put new children into a container without taking the keyboard from where it was.
 * What can hold the focus across a redrawing carries a `data-key`; a field that tells in `data-drawn` what it was drawn
 * with is not drawn anew while something else is being typed into it.
 * @param {Element} container
 * @param {...any} children
 */
export function redraw(container, ...children) {
  const active = /** @type {any} */ (document.activeElement);
  const within = container.contains(active);
  if (within && active.dataset.drawn !== undefined && active.value !== active.dataset.drawn) {
    if (!waiting.has(container)) active.addEventListener("blur", () => late(container), { once: true });
    waiting.set(container, children);
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
  waiting.delete(container);
  if (children) setTimeout(() => redraw(container, ...children)); // once the focus is where it goes
}

/** The element of that id. @returns {any} */
export const at = (id) => document.getElementById(id);

/** Wait so many milliseconds. */
export const pause = (ms) => new Promise((done) => setTimeout(done, ms));
