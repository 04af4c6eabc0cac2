"use strict";
// Where there is no reception, answers for the pages that this phone keeps, and says which they are when another is
// asked for. kept.js puts them there.
const CACHE = "day-list-1";
const here = new URL(self.registration.scope).pathname;
// Phones of before registered for the list of a day alone, some in no organisation.
const base = here.replace(/crew\/day\/$/, "");
const namesOne = /\/of\/[^/]+\/$/.test(base);
const list = `${base}crew/day/`;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

const isList = (url) => url.pathname === list;
const isAnyList = (url) => url.pathname.endsWith("/crew/day/");
const isAsset = (url) => url.pathname.startsWith("/static/farmbuild/");

self.addEventListener("fetch", (event) => {
  const { method, mode } = event.request;
  const url = new URL(event.request.url);
  if (method !== "GET" || url.origin !== self.location.origin) return;
  if (isAsset(url) || isList(url) || mode === "navigate") event.respondWith(freshOrKept(event.request, url));
});

async function freshOrKept(request, url) {
  const cache = await caches.open(CACHE);
  try {
    const answer = await fetch(request);
    const isOut = answer.redirected || answer.type === "opaqueredirect" || answer.status === 403;
    // Sent to sign in: whoever holds the device now must not read what the last one kept.
    if (isList(url) && isOut) await forget(cache);
    else if (answer.ok && (isList(url) || (await cache.match(request.url)))) await putWhole(cache, request.url, answer);
    return answer;
  } catch (error) {
    const kept =
      (isList(url) && (await ofToday(cache, url))) ||
      (await cache.match(request.url)) ||
      (isList(url) && (await elsewhere(cache))) ||
      (request.mode === "navigate" && (await cache.match(`${base}crew/kept/`)));
    if (kept) return kept;
    throw error;
  }
}

// What stops in the middle must not take the place of what was kept before, so it is read to its end first.
async function putWhole(cache, url, answer) {
  const { status, headers } = answer;
  const whole = new Response(await answer.clone().blob(), { status, headers });
  // A phone without room still shows what came.
  await cache.put(url, whole).catch(() => {});
}

// An address of before names no organisation and is always sent on; only the page there may have to sign in.
async function forget(cache) {
  if (!namesOne) return;
  for (const kept of await cache.keys())
    if (isAnyList(new URL(kept.url)) || new URL(kept.url).pathname.startsWith(base)) await cache.delete(kept);
}

// The list without a day is that of today, whenever it was kept.
async function ofToday(cache, url) {
  if (url.searchParams.has("day") || url.searchParams.has("who")) return undefined;
  const found = await cache.match(`${base}crew/kept/?as=json`);
  if (!found) return undefined;
  const { zone, pages } = await found.json();
  const parts = new Intl.DateTimeFormat("en-CA", { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit" });
  const today = `day=${parts.format(new Date())}`;
  const person = url.searchParams.get("person");
  const of = (whose) => `person=${encodeURIComponent(whose)}&`;
  const one = pages.find(({ url: kept }) => kept.endsWith(today) && (!person || kept.includes(of(person))));
  // Or one of somebody else that was opened.
  return (one && (await cache.match(one.url))) || (person && cache.match(`${list}?${of(person)}${today}`));
}

// The list of the organisation that was used last, as kept.js noted it.
async function elsewhere(cache) {
  const last = namesOne ? undefined : await cache.match(`${list}?last`);
  return last && Response.redirect(await last.text());
}
