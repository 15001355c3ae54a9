// Keeps the page on the phone. MARK and SHELL are put in front by the server; a new MARK is a new copy, taken whole or not at all.
const KEPT = `rig-${MARK}`;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(KEPT);
    for (const path of SHELL) {
      const answer = await fetch(path, { cache: "no-cache", credentials: "same-origin" });
      // A redirect to the sign-in page must never be kept as the rig page.
      if (!answer.ok || answer.redirected) throw new Error(`${path}: ${answer.status}`);
      await cache.put(path, answer);
    }
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name.startsWith("rig-") && name !== KEPT) await caches.delete(name);
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin || url.pathname.startsWith("/api/")) return;
  const path = event.request.mode === "navigate" && /^\/rig(\/|$)/.test(url.pathname) ? "/rig" : url.pathname;
  if (!SHELL.includes(path)) return;
  event.respondWith((async () => {
    const cache = await caches.open(KEPT);
    return (await cache.match(path)) || fetch(event.request);
  })());
});
