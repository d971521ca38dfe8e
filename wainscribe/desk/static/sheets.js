/** Sheets that lie over the page for one question. Built on <dialog>: Escape closes, the focus stays inside. */

import { h } from "./dom.js";
import { picture } from "./pictures.js";

/**
 * @param {string} title
 * @param {(close: (value?: any) => void) => any} content makes what stands in it
 * @param {{wide?: boolean, name?: string}} [how]
 * @returns {Promise<any>} what it was closed with; undefined when left
 */
export function sheet(title, content, how = {}) {
  return new Promise((done) => {
    const before = document.activeElement;
    const heading = h("h2", { id: "sheet-title", tabindex: "-1" }, title);
    const dialog = h("dialog", { class: `sheet ${how.name ?? ""}`, "aria-labelledby": "sheet-title" });
    let answer;
    const close = (value) => {
      answer = value;
      dialog.close();
    };
    dialog.addEventListener("close", () => {
      dialog.remove();
      /** @type {HTMLElement} */ (before)?.focus?.();
      done(answer);
    });
    dialog.addEventListener("click", (event) => event.target === dialog && outside(dialog, event) && close());
    const leave = h("button", { class: "plain leave", "aria-label": "Close", onclick: () => close() }, picture("close"));
    dialog.append(h("header", {}, heading, leave), h("div", { class: "inside" }, content(close)));
    document.body.append(dialog);
    dialog.showModal();
    if (!dialog.querySelector("[autofocus]")) heading.focus();
  });
}

function outside(dialog, event) {
  const box = dialog.getBoundingClientRect();
  return event.clientY < box.top || event.clientY > box.bottom || event.clientX < box.left || event.clientX > box.right;
}

/**
 * Ask which one; every choice a big button.
 * @param {string} title
 * @param {any} text
 * @param {{value: any, label: any, note?: string, main?: boolean}[]} choices
 */
export function ask(title, text, choices) {
  return sheet(title, (close) => [
    text && h("p", {}, text),
    h(
      "div",
      { class: "choices" },
      choices.map(({ value, label, note, main }) =>
        h("button", { class: main ? "main" : "", onclick: () => close(value) }, label, note && h("small", {}, note)),
      ),
    ),
  ]);
}

/** Anything but the steps of a path: RFC 3986, 5.2.4. */
const NAME = "(?!\\s*\\.{1,2}\\s*$).*";

/**
 * One line of typing.
 * @param {string} title
 * @param {{label: string, value?: string, long?: boolean, offered?: string[], done?: string, type?: string, none?: string, named?: boolean}} about
 *   `none`: what stands for no answer; `named`: it is a name that an address must be able to hold
 * @returns {Promise<string|undefined>}
 */
export function askText(title, { label, value = "", long = false, offered = [], done = "Keep", type = "text", none = "", named = false }) {
  return sheet(title, (close) => {
    const field = h(long ? "textarea" : "input", {
      id: "asked", name: "asked", rows: long && "4", maxlength: long ? "2000" : "80", type: !long && type, dir: "auto",
      autocomplete: "off", autofocus: !offered.length, ...(named && { pattern: NAME, title: "A name with a letter or a number in it." }),
    });
    field.value = value;
    const keep = (event) => {
      event.preventDefault();
      close(field.value.trim());
    };
    return h(
      "form",
      { onsubmit: keep },
      offered.length > 0 && h("div", { class: "chips" }, offered.map((word) =>
        h("button", { type: "button", onclick: () => close(word) }, word),
      )),
      h("label", { for: "asked" }, label),
      field,
      h("button", { class: "main wide" }, done),
      none && value && h("button", { type: "button", class: "wide", onclick: () => close("") }, none),
    );
  });
}
