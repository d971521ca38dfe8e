/** A big keypad for tape readings: feet, inches and sixteenths, or millimetres. It makes text; the laptop reads it. */

import { h, redraw } from "./dom.js";
import { lowest, written } from "./lengths.js";
import { picture } from "./pictures.js";
import { sheet } from "./sheets.js";

const NOTHING = { feet: "", digits: "", sixteenths: 0 };

/**
 * Ask for a length.
 * @param {string} title what is taped
 * @param {{value?: string, units?: "in"|"mm", clears?: boolean}} [about] `clears`: offer “not taped”, answered by ""
 * @returns {Promise<string|undefined>} as people write it; undefined when left
 */
export function keypad(title, { value = "", units = "in", clears = false } = {}) {
  return sheet(title, (close) => new Keypad(value, units, clears, close).element, { name: "keypad" });
}

class Keypad {
  constructor(value, units, clears, close) {
    this.units = units;
    this.tapped = { ...NOTHING };
    this.close = close;
    this.clears = clears;
    this.display = h("input", {
      class: "reading", "aria-label": "Reading", autocomplete: "off", spellcheck: "false", autofocus: true,
      inputmode: matchMedia("(pointer: coarse)").matches ? "none" : "text", placeholder: value || "0",
      oninput: () => (this.tapped = { ...NOTHING }),
    });
    this.keys = h("div", { class: "keys" });
    const done = (event) => {
      event.preventDefault();
      if (this.display.value.trim()) close(this.display.value.trim());
    };
    this.element = h("form", { onsubmit: done }, this.display, this.keys);
    this.draw();
  }

  draw() {
    redraw(this.keys, this.units === "in" ? this.inchKeys() : this.metricKeys(), this.lastRow());
  }

  inchKeys() {
    const fractions = Array.from({ length: 16 }, (_, n) => n);
    return [
      h("div", { class: "digits", role: "group", "aria-label": "Feet and inches" },
        this.digit("1"), this.digit("2"), this.digit("3"), this.key("ft", () => this.foot(), "feet so far"),
        this.digit("4"), this.digit("5"), this.digit("6"), this.rubber(),
        this.digit("7"), this.digit("8"), this.digit("9"), this.digit("0")),
      h("div", { class: "fractions", role: "group", "aria-label": "Sixteenths" },
        fractions.map((n) => this.fraction(n))),
    ];
  }

  metricKeys() {
    return h("div", { class: "digits metric", role: "group", "aria-label": "Millimetres" },
      [..."123456789"].map((n) => this.digit(n)), this.rubber(), this.digit("0"));
  }

  lastRow() {
    const other = this.units === "in" ? "mm" : "in";
    return h("div", { class: "last" },
      h("button", { type: "button", class: "plain", "data-key": "units", onclick: () => this.turnTo(other) }, `in ${other === "mm" ? "millimetres" : "inches"}`),
      this.clears && h("button", { type: "button", class: "plain", onclick: () => this.close("") }, "not taped"),
      h("button", { class: "main" }, "Keep"));
  }

  key(label, act, name = undefined) {
    return h("button", { type: "button", "aria-label": name, "data-key": `key ${name ?? label}`, onclick: act }, label);
  }

  digit(n) {
    return this.key(n, () => this.tap({ digits: `${this.tapped.digits}${n}`.replace(/^0+(?=\d)/, "").slice(0, 5) }));
  }

  rubber() {
    return h("button", { type: "button", "aria-label": "Rub out", "data-key": "rubber", onclick: () => this.rub() }, picture("rubber"));
  }

  fraction(n) {
    const label = n === 0 ? "0/16" : lowest(n, 16);
    const on = this.tapped.sixteenths === n;
    return h("button", {
      type: "button", class: "fraction", "aria-pressed": String(on && n > 0), "data-key": `fraction ${n}`,
      onclick: () => this.tap({ sixteenths: n }),
    }, label);
  }

  foot() {
    if (this.tapped.digits) this.tap({ feet: this.tapped.digits, digits: "" });
  }

  rub() {
    const { feet, digits, sixteenths } = this.tapped;
    if (sixteenths) this.tap({ sixteenths: 0 });
    else if (digits) this.tap({ digits: digits.slice(0, -1) });
    else if (feet) this.tap({ feet: "", digits: feet });
    else this.tap({});
  }

  tap(part) {
    this.tapped = { ...this.tapped, ...part };
    this.display.value = this.text;
    this.draw();
  }

  turnTo(units) {
    this.units = units;
    this.tapped = { ...NOTHING };
    this.display.value = "";
    this.draw();
  }

  get text() {
    if (this.units === "mm") return this.tapped.digits && `${this.tapped.digits} mm`;
    return written(this.tapped);
  }
}
