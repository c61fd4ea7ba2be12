// @ts-check
/* Keeps the Stand's pages, its band and its looks for when the studio can't be reached. The studio
   comes first as long as it answers; what a player records never passes through here. */

const CACHE = "stand-1";
const MOST = 150;
const PAGE = /^\/lessons\/[0-9a-f]{16}\/\d+$/;
const MUSIC = /^\/lessons\/[0-9a-f]{16}\/\d+\/(systems|part|stems\/[a-z-]+|app\.webmanifest)$/;
const LOOKS = /^\/(static|fonts)\//;
const worker = /** @type {any} */ (self);

worker.addEventListener("install", () => worker.skipWaiting());
worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name !== CACHE) await caches.delete(name);
  await worker.clients.claim();
})()));

worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const { pathname, origin } = new URL(event.request.url);
  if (event.request.method !== "GET" || origin !== location.origin) return;
  if (PAGE.test(pathname) || MUSIC.test(pathname) || LOOKS.test(pathname)) event.respondWith(answer(event.request));
});

/** @param {Request} request */
async function answer(request) {
  try {
    const fresh = await fetch(request);
    void keep(request, fresh.clone());
    return fresh;
  } catch (fault) {
    const kept = await (await caches.open(CACHE)).match(request, { ignoreVary: true });
    if (kept) return kept;
    throw fault;
  }
}

/** Keep an answer; one that turns the player away throws out what was kept.
 * @param {Request} request @param {Response} fresh */
async function keep(request, fresh) {
  try {
    const cache = await caches.open(CACHE);
    if (fresh.status !== 200 || fresh.redirected) return void (await cache.delete(request));
    await cache.put(request, fresh);
    const kept = await cache.keys();
    for (const old of kept.slice(0, Math.max(0, kept.length - MOST))) await cache.delete(old);
  } catch { /* the browser's store is full: the page works on with a network */ }
}
