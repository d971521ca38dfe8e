/**
 * What this browser keeps until the laptop has it, and what the laptop last answered.
 *
 * entries   changes and photos not yet on the laptop's disk, in the order in which they were made
 * answers   the last answer to each question, so that an open page goes on without a connection
 */

/** @type {Promise<IDBDatabase>|undefined} */
let opened;

function database() {
  opened ??= new Promise((done, failed) => {
    const request = indexedDB.open("desk", 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("entries", { keyPath: "n", autoIncrement: true });
      request.result.createObjectStore("answers");
    };
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
  return opened;
}

/** Run one transaction; what it wrote is on this browser's disk when the promise is kept. */
async function within(store, mode, work) {
  const transaction = (await database()).transaction(store, mode, { durability: "strict" });
  return new Promise((done, failed) => {
    const request = work(transaction.objectStore(store));
    transaction.oncomplete = () => done(request.result);
    transaction.onabort = transaction.onerror = () => failed(transaction.error);
  });
}

/** All entries, oldest first. @returns {Promise<any[]>} */
export const entries = () => within("entries", "readonly", (store) => store.getAll());

/** Keep an entry; its number. @returns {Promise<number>} */
export const addEntry = (entry) => within("entries", "readwrite", (store) => store.add(entry));

/** Keep a changed entry. */
export const putEntry = (entry) => within("entries", "readwrite", (store) => store.put(entry));

/** Forget an entry that is on the laptop, or that nobody wants. */
export const dropEntry = (n) => within("entries", "readwrite", (store) => store.delete(n));

/** The last answer to a question, if any. @returns {Promise<any>} */
export const answer = (question) => within("answers", "readonly", (store) => store.get(question)).catch(() => undefined);

/** Keep an answer. */
export const keepAnswer = (question, value) =>
  within("answers", "readwrite", (store) => store.put(value, question)).catch(() => undefined);

/** Ask the browser not to clear this when the disk runs low; it may say no. */
export function askToPersist() {
  navigator.storage?.persist?.().catch(() => undefined);
}
