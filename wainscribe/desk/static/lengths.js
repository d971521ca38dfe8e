/** Lengths as text. The laptop does all reckoning; here they are only written and shown. */

const MM = 25.4; // in an inch, exactly (24 FR 5348, 1959)

/**
 * A length as the job stores it, an exact fraction of an inch such as “73/2”, for the eye.
 * Anything else (what was just typed) is shown as it is.
 * @param {string|null|undefined} text
 * @param {"in"|"mm"} [units]
 * @param {number} [places] of a millimetre, where whole ones are too coarse
 * @returns {string}
 */
export function shown(text, units = "in", places = 0) {
  const stored = /^(-?\d+)(?:\/(\d+))?$/.exec(text ?? "");
  if (!stored) return text ?? "";
  const [top, bottom] = [Number(stored[1]), Number(stored[2] ?? 1)];
  if (units === "mm") return `${Number(((top / bottom) * MM).toFixed(places))} mm`;
  const sixtyfourths = Math.round((top / bottom) * 64);
  return `${mixed(sixtyfourths, 64)}"`;
}

/** A whole number of parts as people write it: 36 1/2. */
export function mixed(count, parts) {
  const sign = count < 0 ? "-" : "";
  const whole = Math.floor(Math.abs(count) / parts);
  const rest = Math.abs(count) % parts;
  if (!rest) return `${sign}${whole}`;
  const fraction = lowest(rest, parts);
  return `${sign}${whole ? `${whole} ` : ""}${fraction}`;
}

/** A fraction in its lowest terms: 1/2 for 8 of 16. */
export function lowest(top, bottom) {
  let [a, b] = [top, bottom];
  while (b) [a, b] = [b, a % b];
  return `${top / a}/${bottom / a}`;
}

/**
 * What was tapped on the keypad, written as people write it.
 * @param {{feet: string, digits: string, sixteenths: number}} tapped
 * @returns {string} such as 3' 0 1/2" ; "" where nothing was tapped
 */
export function written({ feet, digits, sixteenths }) {
  if (!feet && !digits && !sixteenths) return "";
  const fraction = sixteenths ? lowest(sixteenths, 16) : "";
  const whole = digits || (feet && fraction ? "0" : feet ? "0" : "");
  const inches = [whole, fraction].filter(Boolean).join(" ");
  return feet ? `${Number(feet)}' ${inches}"` : `${inches}"`;
}
