"use strict";
// Keeps the list of a day, its style and its scripts, to be read where there is no reception. Nothing else is kept.
const CACHE = "day-list-1";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

const isList = (url) => url.pathname === "/crew/day/";
const isAsset = (url) => url.pathname.startsWith("/static/farmbuild/");

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin || !(isList(url) || isAsset(url))) return;
  event.respondWith(freshOrKept(event.request, isList(url)));
});

async function freshOrKept(request, list) {
  const cache = await caches.open(CACHE);
  try {
    const answer = await fetch(request);
    // Sent to sign in: whoever holds the device now must not read what the last one kept.
    if (list && (answer.redirected || answer.type === "opaqueredirect" || answer.status === 403)) {
      for (const kept of await cache.keys()) if (isList(new URL(kept.url))) await cache.delete(kept);
    } else if (answer.ok) await cache.put(request.url, answer.clone());
    return answer;
  } catch (error) {
    const kept = await cache.match(request.url);
    if (kept) return kept;
    throw error;
  }
}
