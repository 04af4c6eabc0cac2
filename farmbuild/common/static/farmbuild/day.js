// The list of a day where there may be no reception: it is kept to be read, and presses wait here until they are sent.
import { Photos } from "./day-photos.js";
import { Presses } from "./day-presses.js";
import { keepAssets, keepPage, registered } from "./kept.js";
import { PATIENCE, sender } from "./sending.js";
import { saying as said } from "./waiting.js";
import { countWords, words } from "./words.js";

const page = document.querySelector("[data-day-list]");
const status = document.querySelector("[data-day-status]");
const forget = document.querySelector("[data-forget]");
const store = new Presses(page.dataset.user);
const photosOf = new Map();
const newsKey = `day-sent ${page.dataset.user}`;
// A region that is filled as the page loads is not read out; one that is filled a moment later is.
const MOMENT = 300;
const sent = [];
// What is said beside what waits: what came of presses, until the next one.
let news = [];
let pressed = 0;

function newKey() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// An address carries its organisation; one that was kept before it did is of the organisation it was pressed in.
const site = page.dataset.scope.replace(/(of\/[^/]+\/)?crew\/day\/$/, "");
function addressOf({ url, user }) {
  if (url.startsWith(`${site}of/`) || !url.startsWith(site)) return url;
  return `${site}of/${user.split(" ")[0]}/${url.slice(site.length)}`;
}

// Presses that an older form of this page left behind.
async function takeOver() {
  await store.readdress(addressOf);
  const old = `day-presses ${page.dataset.user}`;
  const text = localStorage.getItem(old);
  if (!text) return;
  for (const press of JSON.parse(text))
    await store.add({ ...press, url: addressOf({ url: press.url, user: page.dataset.user }) }, []);
  localStorage.removeItem(old);
}

// What is said.

const saying = (press) => said(press, page.dataset.zone);

function told(press) {
  const values = { press: saying(press), why: press.problem };
  if (press.problem)
    return words("%(press)s was not kept: %(why)s", values).replace(/^./, (first) => first.toUpperCase());
  const waits = press.tried || !navigator.onLine;
  return waits ? words("Waits for the network: %(press)s.", values) : words("Is being sent: %(press)s.", values);
}

const taskOf = (press) =>
  [...page.querySelectorAll("[data-waiting]")].find((place) => addressHere(place) === press.url)?.closest(".day-task");
const addressHere = (place) => addressOf({ url: place.dataset.waiting, user: page.dataset.user });

// Under what was pressed; at the foot of the task where nothing can be pressed, or it was refused.
function placeOf(press, task) {
  const note = press.fields.what === "note" ? ':has(> [value="note"])' : "[data-fits]";
  return (press.problem ? null : task.querySelector(`[data-press] ${note} + [data-waits]`)) ?? task.querySelector("[data-waiting]");
}

function rowOf(press) {
  const row = document.createElement("p");
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = words("Drop");
  button.setAttribute("aria-label", words("Drop: %(press)s", { press: saying(press) }));
  button.addEventListener("click", () => drop(press));
  row.append(told(press), " ", button);
  return row;
}

async function drop(press) {
  const dropped = await store.drop(press, PATIENCE);
  if (dropped) {
    news = [words("Dropped: %(press)s.", { press: saying(press) })];
    if (dropped.tried && !press.problem)
      news.push(words("If it arrived before, this list shows it once there is network."));
    await show();
    taskOf(press)?.querySelector(`[data-press] button[value="${CSS.escape(press.fields.what)}"]`)?.focus();
  } else await show(words("It is on its way already, so it cannot be dropped now."));
}

// Only what fits is shown: Start, or Stop and Done; also while presses wait to be sent.
function fit(task, own) {
  const shown = task.querySelector("[data-fits]");
  const other = task.querySelector("[data-then]");
  if (!shown || !other) return;
  const last = own.filter((press) => press.fields.what !== "note").at(-1)?.fields.what;
  const wanted = last ? (last === "start" ? "running" : "idle") : shown.dataset.fresh;
  if (other.dataset.then !== wanted) return;
  const before = document.createDocumentFragment();
  before.append(...shown.childNodes);
  shown.append(other.content);
  other.content.append(before);
  other.dataset.then = wanted === "running" ? "idle" : "running";
}

async function show(text) {
  const presses = await store.all();
  const waiting = presses.filter((press) => !press.problem);
  const refused = presses.filter((press) => press.problem);
  for (const place of page.querySelectorAll("[data-waiting]"))
    fit(place.closest(".day-task"), waiting.filter((press) => press.url === addressHere(place)));
  const at = new Map();
  for (const press of presses) {
    const task = taskOf(press);
    const place = task && placeOf(press, task);
    if (place) at.set(place, [...(at.get(place) ?? []), press]);
  }
  for (const place of page.querySelectorAll("[data-waiting], [data-waits]")) {
    const own = at.get(place) ?? [];
    const said = own.map((press) => `${press.id} ${told(press)}`).join(" ");
    // Said again only when it is something else, so that it is read out once.
    if (said !== (place.dataset.said ?? "")) {
      place.dataset.said = said;
      place.replaceChildren(...own.map(rowOf));
    }
    if (!("waiting" in place.dataset)) continue;
    const task = place.closest(".day-task");
    const again = task.querySelector("[data-again]");
    again.hidden = !own.some((press) => press.problem) || !task.querySelector("[data-press]");
  }
  const readHere = refused.filter(taskOf);
  forget.hidden = !readHere.length;
  const line =
    text ??
    [
      ...news,
      waiting.length
        ? countWords(
            "%(count)s press waits for the network on this phone.",
            "%(count)s presses wait for the network on this phone.",
            waiting.length,
          )
        : refused.length
          ? readHere.length
            ? words("Some presses were not kept. Read why at the task.")
            : words("Some presses were not kept. Read why under “What is kept on this phone”.")
          : "",
    ]
      .join(" ")
      .trim();
  if (status.textContent !== line) status.textContent = line;
}

// What came of presses that were sent, for the page that loads itself again.
function keepNews(press) {
  const name = taskOf(press)?.querySelector("h2").textContent.replace(/^\d+\.\s*/, "");
  const values = { press: `${name ? `${name}, ` : ""}${saying(press)}` };
  sent.push(
    store.isOwn(press)
      ? words("Kept: %(press)s.", values)
      : words("Kept in your other organisation: %(press)s.", values),
  );
  news = sent;
  drafts.setItem(newsKey, JSON.stringify(sent));
}

function takeNews() {
  const kept = drafts.getItem(newsKey);
  drafts.removeItem(newsKey);
  return kept ? JSON.parse(kept) : [];
}

// A sentence at a field, or none any more.
function say(form, name, text) {
  const field = form.querySelector(`[data-field="${name}"]`);
  const errors = field?.querySelector("[data-errors]");
  if (!errors) return false;
  const sentence = document.createElement("p");
  sentence.textContent = text;
  errors.lastElementChild.replaceChildren(sentence);
  errors.hidden = !text;
  field.classList.toggle("wrong", Boolean(text));
  if (text) field.closest("details")?.setAttribute("open", "");
  for (const input of field.querySelectorAll("input:not([type=file])")) {
    input.toggleAttribute("aria-invalid", Boolean(text));
    if (text) {
      input.setAttribute("aria-invalid", "true");
      input.setAttribute("aria-describedby", errors.id);
    } else input.removeAttribute("aria-describedby");
  }
  return true;
}

function empty(form) {
  form.reset();
  photosOf.get(form).clear();
  drafts.removeItem(draftOf(form));
  delete form.dataset.at;
  for (const name of [...TYPED, "photos"]) say(form, name, "");
}

// A phone that is short of memory lets go of the page while its camera is open; what was typed is there again after.
const TYPED = ["done", "people", "hours", "problem"];
// A browser that is set to keep nothing forbids even asking.
const drafts = (() => {
  try {
    return window.sessionStorage;
  } catch {
    return { getItem: () => null, setItem() {}, removeItem() {} };
  }
})();
const draftOf = (form) => `day-typing ${page.dataset.user} ${form.getAttribute("action")}`;

function keepDraft(form) {
  drafts.setItem(draftOf(form), JSON.stringify(TYPED.map((name) => form.elements[name]?.value ?? "")));
}

function takeDraft(form) {
  const draft = drafts.getItem(draftOf(form));
  if (!draft || form.querySelector(".wrong")) return;
  const values = JSON.parse(draft);
  if (values.length === TYPED.length) putInto(form, values);
}

// Boxes that the state of the task has no use for are left out.
function putInto(form, values) {
  TYPED.forEach((name, at) => {
    const box = form.elements[name];
    if (!box) return;
    box.value = values[at] ?? "";
    if (box.value !== box.defaultValue) box.closest("details")?.setAttribute("open", "");
  });
}

const typed = (form) =>
  photosOf.get(form).inHand ||
  [...form.elements].some((field) => "defaultValue" in field && field.type !== "file" && field.value !== field.defaultValue);

const send = sender({
  store,
  scope: page.dataset.scope,
  onKept: keepNews,
  onSignIn: () => show(words("Sign in again to send what waits on this phone.")),
  onDone: async () => {
    await show();
    const busy = document.activeElement?.matches("input:not([type=hidden])");
    const left = (await store.all()).length;
    if (sent.length && !left && !pressed && !busy && ![...photosOf.keys()].some(typed)) location.reload();
  },
});

// Pressing.

async function keep(form, button) {
  const at = form.dataset.at ?? new Date().toISOString();
  const fields = Object.fromEntries([...new FormData(form)].filter(([, value]) => typeof value === "string"));
  delete fields.csrfmiddlewaretoken;
  const photos = await photosOf.get(form).all();
  if (photos.length && !fields.problem.trim()) {
    say(form, "problem", words("Say in a few words what the photo shows, for example: bent the wrong way."));
    form.elements.problem.focus();
    return;
  }
  const url = addressOf({ url: new URL(form.action).pathname, user: page.dataset.user });
  const task = form.closest(".day-task").querySelector("h2").textContent.replace(/^\d+\.\s*/, "");
  const press = { url, task, fields: { ...fields, what: button?.value ?? "done", key: newKey(), at } };
  news = [];
  try {
    await store.add(press, photos);
  } catch {
    if (navigator.onLine) sendPlainly(form, button, photos);
    else say(form, "photos", words("There is no room left on this phone. Leave photos out, or press where there is reception."));
    return;
  }
  if (document.activeElement?.matches("input")) document.activeElement.blur();
  empty(form);
  await show();
}

// Nothing can be kept here, so the form goes the usual way.
function sendPlainly(form, button, photos) {
  const files = new DataTransfer();
  photos.forEach((photo, at) => files.items.add(new File([photo.bytes], `photo-${at + 1}.jpg`, { type: photo.type })));
  form.querySelector("input[type=file][multiple]").files = files.files;
  drafts.removeItem(draftOf(form));
  form.dataset.plain = "";
  form.requestSubmit(button);
}

// What was refused goes back into the form of its task, to be put right and pressed again.
async function putBack(form, url) {
  const press = (await store.all()).find((one) => one.problem && one.url === url);
  if (!press || typed(form)) {
    say(form, "problem", press ? words("Press what you are typing here first.") : "");
    return;
  }
  const photos = await store.photosOf(press);
  putInto(form, TYPED.map((name) => press.fields[name]));
  await photosOf.get(form).put(photos.map(({ bytes, type }) => ({ bytes, type })));
  const wrong = Object.entries(press.wrong ?? {});
  if (wrong.length) form.dataset.at = press.fields.at;
  for (const [name, text] of wrong) say(form, name, text);
  await store.remove(press);
  await show();
  form.querySelector(".wrong input:not([type=file])")?.focus();
}

function readyForms() {
  for (const buttons of page.querySelectorAll('[data-fits], [data-press] :has(> [value="note"])')) {
    const place = document.createElement("div");
    place.dataset.waits = "";
    place.setAttribute("role", "status");
    buttons.after(place);
  }
  for (const form of page.querySelectorAll("[data-press]")) {
    const place = form.querySelector("[data-photos]");
    photosOf.set(form, new Photos(place, (text) => say(form, "photos", text)));
    takeDraft(form);
    form.addEventListener("input", () => keepDraft(form));
    const task = form.closest(".day-task");
    task.querySelector("[data-again] button").addEventListener("click", () =>
      putBack(form, addressHere(task.querySelector("[data-waiting]"))),
    );
  }
  page.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.matches("[data-press]") || "plain" in form.dataset) return;
    event.preventDefault();
    if ("keeping" in form.dataset) return;
    form.dataset.keeping = "";
    pressed += 1;
    try {
      await keep(form, event.submitter);
    } finally {
      pressed -= 1;
      delete form.dataset.keeping;
    }
    send();
  });
}

forget.addEventListener("click", async () => {
  for (const press of await store.all()) if (press.problem && taskOf(press)) await store.remove(press);
  await show();
});

// The list of any day that was opened, beside those of today and tomorrow.
async function keepThis() {
  if (!("serviceWorker" in navigator)) return;
  await registered();
  const cache = await caches.open("day-list-1");
  await keepAssets(cache, await keepPage(cache, location.href));
  // The same list has an address with its day and one without; neither is older than the other.
  const kept = await cache.match(location.href);
  if (kept) await cache.put(new URL(page.dataset.day, location.href).href, kept);
  page.dataset.kept = "";
}

readyForms();
const earlier = takeNews();
setTimeout(() => {
  news = [...earlier, ...news];
  show().catch(() => {});
}, MOMENT);
takeOver()
  .catch(() => {})
  .then(() => show())
  .then(send)
  .catch(() => {});
window.addEventListener("online", send);
setInterval(send, 20000);
keepThis().catch(() => {});
