// The sheet of a place of a count where there may be no reception: what is counted waits on this phone until it is sent.
import { Presses } from "./day-presses.js";
import { PATIENCE, sender } from "./sending.js";
import { rowOf, saying } from "./waiting.js";
import { countWords, words } from "./words.js";

const form = document.querySelector("[data-count]");
const status = document.querySelector("[data-count-status]");
const { kept, person } = document.body.dataset;
const store = new Presses(person);
let mine;
let answered;

const here = () => location.pathname;
const boxes = () => [...form.querySelectorAll("[data-step] input:not([type=hidden])")];

// Of this sheet alone; the rest is only counted.
async function show(text = "") {
  const presses = await store.all();
  const own = presses.filter((press) => press.url.split("?")[0] === here());
  const others = presses.length - own.length;
  const rows = own.map((press) => rowOf(press, saying(press, form.dataset.zone), store, show));
  const more =
    others &&
    countWords("%(count)s more press waits on this phone.", "%(count)s more presses wait on this phone.", others);
  const line = document.createElement("p");
  line.textContent = [text, more || ""].join(" ").trim();
  status.replaceChildren(...(line.textContent ? [line] : []), ...rows);
  if (own.some((press) => !press.problem) && form.dataset.next) {
    const on = Object.assign(document.createElement("a"), { href: form.dataset.next, className: "button", textContent: words("Go on") });
    status.append(on);
  }
}

const send = sender({
  store,
  scope: kept,
  onKept: (press, said) => {
    if (press.key === mine) answered = said.to;
  },
  onSignIn: () => show(words("Sign in again to send what waits on this phone.")),
  onDone: async () => {
    if (answered) return location.assign(answered);
    const own = (await store.all()).find((press) => press.key === mine);
    // Refused: the page itself says it at the box. Until it has, it stays on this phone.
    if (own?.problem) {
      form.dataset.plain = "";
      return form.requestSubmit(pressed);
    }
    await show();
  },
});

let pressed;

form?.addEventListener("submit", async (event) => {
  if ("plain" in form.dataset) return;
  event.preventDefault();
  if ("keeping" in form.dataset) return;
  form.dataset.keeping = "";
  pressed = event.submitter;
  const fields = Object.fromEntries(new FormData(form, pressed));
  delete fields.csrfmiddlewaretoken;
  fields.pressed_at = new Date().toISOString();
  const filled = boxes().filter((box) => box.value.trim() && box.value !== box.defaultValue);
  mine = fields.once;
  if (!filled.length && !form.querySelector(".wrong")) {
    delete form.dataset.keeping;
    return location.assign(pressed?.value ? `?page=${pressed.value}` : form.dataset.next);
  }
  const said = countWords("%(count)s lot at %(place)s", "%(count)s lots at %(place)s", filled.length, {
    place: form.dataset.place,
  });
  const listed = filled.map((box) => `${box.closest(".count-row").querySelector("strong").textContent}: ${box.value}`).join(", ");
  try {
    if (!(await waitsAlready(fields))) await store.add({ url: here() + location.search, fields, key: mine, said, listed }, []);
    await send();
  } catch {
    form.dataset.plain = "";
    form.requestSubmit(pressed);
  } finally {
    delete form.dataset.keeping;
  }
});

// The same sheet pressed once more: what waits of it, or was refused, gives way, unless it is the same.
async function waitsAlready(fields) {
  const isOf = (one) => one.key === fields.once || (one.problem && boxes().some(({ name }) => one.fields[name]));
  for (const press of (await store.all()).filter(isOf)) {
    if (!press.problem && boxes().every(({ name }) => press.fields[name] === fields[name])) return true;
    await store.drop(press, PATIENCE);
  }
  return false;
}

// What waits stands in its boxes again when the sheet is opened once more. What was refused and now stands at its box
// is not said twice.
async function fill() {
  if (form.querySelector(".wrong"))
    for (const press of await store.all()) if (press.problem && press.url.split("?")[0] === here()) await store.remove(press);
  for (const press of await store.all())
    if (press.url.split("?")[0] === here())
      for (const box of boxes()) if (box.name in press.fields && press.fields[box.name]) box.value = press.fields[box.name];
}

if (form) {
  fill()
    .then(() => show())
    .then(send)
    .catch(() => {});
  window.addEventListener("online", send);
  setInterval(send, 20000);
}
