/** Keeps the pages and their parts, so that they open without a connection. The laptop comes first whenever it answers. */

const KEPT = "desk-1";
const PATIENCE = 4000; // ms before what is kept is shown

self.addEventListener("install", () => self.skipWaiting());

self.addEventListener("activate", (event) => {
  const clear = async () => {
    for (const name of await caches.keys()) if (name !== KEPT) await caches.delete(name);
    await self.clients.claim();
  };
  event.waitUntil(clear());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { pathname, origin } = new URL(request.url);
  if (request.method === "GET" && origin === location.origin && isKept(pathname)) event.respondWith(freshOrKept(request));
});

/** Pages, their parts and pictures; never the key, and no answers: pages keep those themselves. */
function isKept(path) {
  if (path === "/" || path.startsWith("/static/") || path.startsWith("/job/")) return true;
  return path.startsWith("/api/") && /\.(jpg|svg)$/.test(path);
}

async function freshOrKept(request) {
  const cache = await caches.open(KEPT);
  try {
    const fresh = await fetch(request, navigator.onLine ? { signal: AbortSignal.timeout(patience(request)) } : {});
    const keeps = !fresh.headers.get("Cache-Control")?.includes("no-store"); // a paper does not
    if (fresh.ok && !fresh.redirected && keeps) await cache.put(request, fresh.clone());
    return fresh;
  } catch (error) {
    const kept = (await cache.match(request)) ?? (await sameShell(cache, new URL(request.url).pathname));
    if (kept) return kept;
    throw error;
  }
}

/** All walls of a job have one shell, which reads from the address which wall it is about. */
async function sameShell(cache, path) {
  const [, first, job, part] = path.split("/");
  return first === "job" && part === "wall" ? cache.match(`/job/${job}`) : undefined;
}

/** A picture of a wall may take a while to be made; a page may not. */
const patience = (request) => (request.destination === "image" ? 60_000 : PATIENCE);
