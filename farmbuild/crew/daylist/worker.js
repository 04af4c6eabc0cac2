"use strict";
// Keeps the list of a day, its style and its scripts, to be read where there is no reception. Nothing else is kept.
const CACHE = "day-list-1";
const here = new URL(self.registration.scope).pathname;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

const isList = (url) => url.pathname === here;
// Of any organisation, or of before organisations stood in addresses.
const isAnyList = (url) => url.pathname.endsWith("/crew/day/");
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
    if (list && (answer.redirected || answer.type === "opaqueredirect" || answer.status === 403)) await forget(cache);
    else if (answer.ok) await cache.put(request.url, answer.clone());
    return answer;
  } catch (error) {
    const kept = (await cache.match(request.url)) ?? (list && (await keptElsewhere(cache)));
    if (kept) return kept;
    throw error;
  }
}

// An address of before names no organisation and is always sent on; only the page there may have to sign in.
const namesOne = /\/of\/[^/]+\/crew\/day\/$/.test(here);

async function forget(cache) {
  if (!namesOne) return;
  for (const kept of await cache.keys()) if (isAnyList(new URL(kept.url))) await cache.delete(kept);
}

async function keptElsewhere(cache) {
  if (namesOne) return undefined;
  const kept = (await cache.keys()).filter((one) => isAnyList(new URL(one.url))).at(-1);
  return kept && Response.redirect(kept.url);
}
