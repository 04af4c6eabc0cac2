// The sheet of a place of a count where there may be no reception: what is counted waits on this phone until it is sent.
import { Presses } from "./day-presses.js";
import { PATIENCE, sender } from "./sending.js";

const form = document.querySelector("[data-count]");
const status = document.querySelector("[data-count-status]");
const { kept, person } = document.body.dataset;
const store = new Presses(person);
let mine;
let answered;

const here = () => location.pathname;
// By the organisation's clock, whatever the phone's.
const clock = (at) =>
  new Date(at).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: form.dataset.zone });
const boxes = () => [...form.querySelectorAll("[data-step] input:not([type=hidden])")];

// Of this sheet alone; the rest is only counted.
async function show(text = "") {
  const presses = await store.all();
  const own = presses.filter((press) => press.url.split("?")[0] === here());
  const others = presses.length - own.length;
  const rows = own.map((press) => {
    const row = document.createElement("p");
    const button = Object.assign(document.createElement("button"), { type: "button", textContent: "Drop" });
    button.setAttribute("aria-label", `Drop: ${press.said}`);
    button.addEventListener("click", async () => {
      const dropped = await store.drop(press, PATIENCE);
      await show(dropped ? `Dropped: ${press.said}.` : "It is on its way already, so it cannot be dropped now.");
    });
    row.append(press.problem ? `Not kept: ${press.said}. ${press.problem} ` : `Waits for the network: ${press.said}. `, button);
    return row;
  });
  const words = [text, others ? `${others} more ${others === 1 ? "press waits" : "presses wait"} on this phone.` : ""];
  const line = document.createElement("p");
  line.textContent = words.join(" ").trim();
  status.replaceChildren(...(line.textContent ? [line] : []), ...rows);
  if (own.some((press) => !press.problem) && form.dataset.next) {
    const on = Object.assign(document.createElement("a"), { href: form.dataset.next, className: "button", textContent: "Go on" });
    status.append(on);
  }
}

const send = sender({
  store,
  scope: kept,
  onKept: (press, said) => {
    if (press.key === mine) answered = said.to;
  },
  onSignIn: () => show("Sign in again to send what waits on this phone."),
  onDone: async () => {
    if (answered) return location.assign(answered);
    const own = (await store.all()).find((press) => press.key === mine);
    // Refused: the page itself says it at the box.
    if (own?.problem && navigator.onLine) {
      await store.remove(own);
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
  const filled = boxes().filter((box) => box.value.trim() && box.value !== box.defaultValue).length;
  mine = fields.once;
  if (!filled) {
    delete form.dataset.keeping;
    if (!navigator.onLine) return location.assign(pressed?.value ? `?page=${pressed.value}` : form.dataset.next);
    form.dataset.plain = "";
    return form.requestSubmit(pressed);
  }
  const said = `${filled} lot${filled === 1 ? "" : "s"} at ${form.dataset.place}, ${clock(fields.pressed_at)}`;
  try {
    await store.add({ url: here() + location.search, fields, key: mine, said }, []);
    await send();
  } catch {
    form.dataset.plain = "";
    form.requestSubmit(pressed);
  } finally {
    delete form.dataset.keeping;
  }
});

// What waits stands in its boxes again when the sheet is opened once more.
async function fill() {
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
