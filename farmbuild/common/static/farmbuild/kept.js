// Keeps on this phone, without being asked, what its owner needs where there is no reception: the page of what is kept
// lists it. On every page it says what waits to be sent, and sends it.
import { Presses } from "./day-presses.js";
import { sender } from "./sending.js";
import { rowOf, saying } from "./waiting.js";
import { countWords, words } from "./words.js";

const { kept: keptUrl, worker, reach, person, zone } = document.body.dataset;
const CACHE = "day-list-1";
// Lists change through the day; who moves about the pages is not to fetch them at each.
const EVERY = 10 * 60 * 1000;

const metaUrl = new URL(`${keptUrl}?as=json`, location.href).href;
const assetsOf = (html) =>
  [...new DOMParser().parseFromString(html, "text/html").querySelectorAll("link[href][rel], script[src]")].map(
    (part) => new URL(part.getAttribute("href") ?? part.getAttribute("src"), location.href).href,
  );

export async function registered() {
  const registration = await navigator.serviceWorker.register(worker, { scope: reach });
  // It reached the list of a day alone before.
  for (const other of await navigator.serviceWorker.getRegistrations())
    if (new URL(other.scope).pathname === `${reach}crew/day/`) await other.unregister();
  return registration;
}

// With a header, so that a page that is only kept takes no word away that is meant for the reader.
const fetched = (url, headers = {}) => fetch(url, { headers: { "X-Kept": "1", ...headers } });

export async function keepPage(cache, url) {
  const answer = await fetched(url);
  if (!answer.ok || answer.redirected) return [];
  const html = await answer.text();
  await cache.put(url, new Response(html, { headers: answer.headers }));
  return assetsOf(html);
}

export async function keepAssets(cache, urls) {
  for (const url of new Set(urls)) await keepAsset(cache, url);
}

async function keepAsset(cache, url) {
  if (new URL(url).origin !== location.origin) return;
  // What is kept of an earlier version does not fit the pages of this one.
  const answer = await fetch(url, { cache: "no-cache" });
  if (answer.ok) await cache.put(url, answer);
}

// What somebody else left here, in whatever organisation; "SLUG KEY" ends with who it is.
async function forgetOthers(cache) {
  const who = (user) => user.split(" ").at(-1);
  for (const one of await cache.keys()) {
    const base = new URL(one.url).pathname.replace(/crew\/kept\/$/, "");
    if (!one.url.endsWith("crew/kept/?as=json") || who((await (await cache.match(one)).json()).person) === who(person)) continue;
    for (const other of await cache.keys()) if (new URL(other.url).pathname.startsWith(base)) await cache.delete(other);
  }
}

const todayIn = (timeZone) =>
  new Intl.DateTimeFormat("en-CA", { timeZone, year: "numeric", month: "2-digit", day: "2-digit" }).format(new Date());

async function keepAll() {
  await registered();
  const cache = await caches.open(CACHE);
  await forgetOthers(cache);
  // An address without an organisation leads to the one that was used last.
  const list = new URL(`${reach}crew/day/`, location.href).href;
  await cache.put(list.replace(/of\/[^/]+\/crew/, "crew") + "?last", new Response(list));
  const before = await (await cache.match(metaUrl))?.json();
  if (before?.person === person && Date.now() - before.at < EVERY) return;
  const answer = await fetched(keptUrl, { Accept: "application/json" });
  if (!answer.ok || answer.redirected) return;
  const { pages, person: whose } = await answer.json();
  if (whose !== person) return;
  const urls = [keptUrl, ...pages.map((page) => page.url)].map((url) => new URL(url, location.href).href);
  // Of a day that is over, or of a count that ended; a list that was opened stays until its day is over.
  const opened = ({ href, searchParams }) => href === location.href || searchParams.get("day") >= todayIn(zone);
  const goes = (url) =>
    url.pathname.startsWith(reach) &&
    ![list, metaUrl, ...urls].includes(url.href) &&
    !(url.pathname === new URL(list).pathname && opened(url));
  // Whoever goes on before all is there has the first of it, and the next page fetches the rest alone.
  const had = before?.person === person ? (before.had ?? {}) : {};
  for (const one of await cache.keys())
    if (goes(new URL(one.url))) {
      await cache.delete(one);
      delete had[one.url];
    }
  const note = (at) => cache.put(metaUrl, new Response(JSON.stringify({ pages, zone, person, at, had })));
  const keep = async (url, fetching) => {
    if (Date.now() - (had[url] ?? 0) < EVERY) return [];
    const found = await fetching(cache, url);
    had[url] = Date.now();
    await note(0);
    return found ?? [];
  };
  await note(0);
  for (const url of urls) for (const asset of await keep(url, keepPage)) await keep(asset, keepAsset);
  await note(Math.min(...urls.map((url) => had[url])));
  document.body.dataset.keptNow = "";
}

// What waits, said on the pages that do not show it themselves, and one by one on the page of what is kept.
const store = new Presses(person);
const line = document.querySelector("[data-waits-here]");
const list = document.querySelector("[data-waits-list]");

async function say(text) {
  const presses = await store.all();
  const refused = presses.filter((press) => press.problem);
  const waiting = presses.length - refused.length;
  const parts = [text ?? ""];
  if (list) showEach(presses);
  else {
    if (waiting)
      parts.push(
        countWords(
          "%(count)s press waits on this phone to be sent.",
          "%(count)s presses wait on this phone to be sent.",
          waiting,
        ),
      );
    const [first] = refused;
    if (first)
      parts.push(words("Not kept: %(press)s. %(why)s", { press: saying(first, zone), why: first.problem }));
    line.querySelector("a").hidden = !presses.length;
  }
  const said = parts.join(" ").trim();
  if (line.querySelector("span").textContent === said) return;
  line.querySelector("span").textContent = said;
  line.hidden = !said;
}

function showEach(presses) {
  const rows = presses.map((press) => {
    const said = `${press.task ? `${press.task}: ` : ""}${saying(press, zone)}`;
    const row = rowOf(press, said, store, say);
    // Where it was typed, to put it right there.
    if (press.said) row.append(" ", Object.assign(document.createElement("a"), { href: press.url, textContent: words("Open the sheet") }));
    return row;
  });
  list.replaceChildren(...rows);
  list.closest("section").hidden = !rows.length;
}

if (line) {
  const send = sender({
    store,
    scope: keptUrl,
    onKept: () => say(words("Sent what waited on this phone.")),
    onSignIn: () => say(words("Sign in again to send what waits on this phone.")),
    onDone: () => (list || line.hidden ? say(line.querySelector("span").textContent) : undefined),
  });
  // Only then is it known whether there is anything to say.
  say()
    .then(async () => ((await store.all()).length ? send() : undefined))
    .catch(() => {});
  window.addEventListener("online", send);
}
if ("serviceWorker" in navigator && keptUrl) keepAll().catch(() => {});
