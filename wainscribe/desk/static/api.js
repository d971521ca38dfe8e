/** Talking to the laptop. */

/** The laptop said no, in one sentence. */
export class Refused extends Error {
  constructor(sentence, status) {
    super(sentence);
    this.status = status;
  }
}

/** Nobody answered: no network, or the laptop sleeps. */
export class NoAnswer extends Error {
  constructor() {
    super("The laptop does not answer.");
  }
}

/** The laptop wants its key again. */
export class KeyWanted extends Error {
  constructor() {
    super("The laptop asks for its key again.");
  }
}

const PATIENCE = 20_000; // ms
/** ms for what the laptop has to work out first: photos decoded, walls solved, frames planned. */
export const SOLVING = 180_000;
const meta = document.querySelector('meta[name="desk-token"]');
let token = meta?.getAttribute("content") ?? "";

/** A path of the job, wall or photo: every part quoted. */
export const path = (...parts) => `/api/${parts.map(encodeURIComponent).join("/")}`;

/**
 * @param {string} url
 * @param {number} [patience] ms
 * @param {AbortSignal} [signal] given up when it comes
 * @returns {Promise<any>}
 */
export async function get(url, patience = PATIENCE, signal = undefined) {
  return read(await ask(url, {}, patience, signal));
}

/**
 * @param {string} url
 * @param {any} [body]
 * @param {number} [patience] ms
 * @param {AbortSignal} [signal] given up when it comes
 * @returns {Promise<any>}
 */
export async function post(url, body = {}, patience = PATIENCE, signal = undefined) {
  const send = () =>
    ask(
      url,
      {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-Desk-Token": token },
        body: JSON.stringify(body),
      },
      patience,
      signal,
    );
  let answer = await send();
  if (answer.status === 403 && (await renewToken())) answer = await send();
  return read(answer);
}

async function ask(url, options, patience, signal = undefined) {
  try {
    return await fetch(url, { ...options, cache: "no-store", signal: either(AbortSignal.timeout(patience), signal) });
  } catch {
    throw new NoAnswer();
  }
}

/** A signal that comes with the first of two; `AbortSignal.any` is younger than many a phone. */
function either(one, other) {
  if (!other) return one;
  const both = new AbortController();
  for (const signal of [one, other]) signal.addEventListener("abort", () => both.abort(), { once: true });
  if (other.aborted) both.abort();
  return both.signal;
}

async function read(answer) {
  if (answer.redirected && new URL(answer.url).pathname === "/key") throw new KeyWanted();
  const data = await answer.json().catch(() => undefined);
  if (answer.status === 401) throw new KeyWanted();
  if (answer.status >= 502 || (answer.ok && !data)) throw new NoAnswer(); // or it was cut off on its way
  if (!answer.ok) throw new Refused(data?.error ?? `The laptop could not do that (${answer.status}).`, answer.status);
  return data;
}

/** A restarted laptop has a new token against cross-site posts; it stands in every page. Whether there was a new one. */
async function renewToken() {
  const page = await ask("/", { headers: { Accept: "text/html" } }, PATIENCE);
  const fresh = new DOMParser()
    .parseFromString(await page.text(), "text/html")
    .querySelector('meta[name="desk-token"]')
    ?.getAttribute("content");
  if (!fresh || fresh === token) return false;
  token = fresh;
  return true;
}

/**
 * Send a form with a file in it.
 * @param {string} url
 * @param {FormData} form
 * @param {(part: number) => void} progress from 0 to 1
 * @returns {Promise<any>}
 */
export async function upload(url, form, progress) {
  try {
    return await uploadOnce(url, form, progress);
  } catch (error) {
    if (error.status !== 403 || !(await renewToken())) throw error;
    return uploadOnce(url, form, progress);
  }
}

function uploadOnce(url, form, progress) {
  return new Promise((done, failed) => {
    const request = new XMLHttpRequest(); // fetch does not tell how far an upload is
    request.open("POST", url);
    request.setRequestHeader("X-Desk-Token", token);
    request.responseType = "json";
    request.timeout = 180_000;
    request.upload.onprogress = (event) => event.lengthComputable && progress(event.loaded / event.total);
    request.onload = () => {
      const { status, response } = request;
      if (status === 401) failed(new KeyWanted());
      else if (status >= 502 || (status < 400 && !response)) failed(new NoAnswer());
      else if (status >= 400) failed(new Refused(response?.error ?? `The photo was not taken (${status}).`, status));
      else done(response);
    };
    request.onerror = request.ontimeout = () => failed(new NoAnswer());
    request.send(form);
  });
}
