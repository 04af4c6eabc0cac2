"use strict";
// The house drawn by the server as it is typed. Without this the page shows it as it was opened or sent.

const form = document.getElementById("house");
const picture = document.querySelector("[data-draw-url]");
const PAUSE = 350;
let asked = 0;
let timer;
let under;

function drawSoon() {
  clearTimeout(timer);
  timer = setTimeout(draw, PAUSE);
}

async function draw() {
  const number = ++asked;
  under?.abort();
  under = new AbortController();
  const sent = new FormData(form);
  // It counts once, when the house is saved.
  sent.delete("once");
  try {
    const reply = await fetch(picture.dataset.drawUrl, {
      method: "POST",
      body: new URLSearchParams(sent),
      headers: { Accept: "application/json" },
      signal: under.signal,
    });
    if (!reply.ok) throw new Error(reply.status);
    const answer = await reply.json();
    // What was typed since has been asked for again.
    if (number === asked) show(answer);
  } catch (error) {
    if (number === asked && error.name !== "AbortError") say("The drawing is not up to date: there is no answer. What you typed stays.");
  }
}

function say(text) {
  const facts = picture.querySelector("[data-facts]");
  if (facts.innerHTML.trim() !== text.trim()) facts.innerHTML = text;
}

function show(answer) {
  // What comes and goes above it does not move the field that is being filled in.
  const at = form.contains(document.activeElement) ? document.activeElement : form;
  const before = at.getBoundingClientRect().top;
  if (answer.views !== null) picture.querySelector("[data-views]").innerHTML = answer.views;
  picture.classList.toggle("old", answer.views === null);
  say(answer.facts);
  document.querySelector("[data-facts-more]").innerHTML = answer.more;
  for (const line of form.querySelectorAll("[data-part-line]")) {
    const words = answer.lines[line.dataset.partLine];
    if (words !== undefined && line.textContent !== words) line.textContent = words;
    line.classList.toggle("problem", answer.wrong.includes(line.dataset.partLine));
  }
  tellProblems(answer.problems);
  scrollBy(0, at.getBoundingClientRect().top - before);
  light();
}

// At each field what keeps it from being drawn; what stood there before is answered by this.
function tellProblems(problems) {
  for (const field of form.querySelectorAll(".asked .field, .part:not(#part-own-rows) .field")) {
    const box = field.querySelector("input, select");
    if (!box?.name || ["name", "site", "need_date"].includes(box.name)) continue;
    const told = problems[box.name] ?? [];
    const id = `${box.id}_error`;
    let errors = field.querySelector(".errors");
    field.classList.toggle("wrong", told.length > 0);
    if (told.length) box.setAttribute("aria-invalid", "true");
    else box.removeAttribute("aria-invalid");
    describe(box, id, told.length > 0);
    if (!told.length) {
      errors?.remove();
      continue;
    }
    if (!errors) {
      errors = document.createElement("div");
      errors.className = "errors";
      errors.id = id;
      errors.append(document.getElementById("told").content.cloneNode(true));
      (box.closest(".with-unit, .tick-line") ?? box).before(errors);
    }
    if (errors.textContent.trim() === told.join(" ")) continue;
    const said = told.map((words) => Object.assign(document.createElement("p"), { textContent: words }));
    errors.querySelector("div").replaceChildren(...said);
  }
}

function describe(box, id, does) {
  const ids = new Set((box.getAttribute("aria-describedby") ?? "").split(" ").filter(Boolean));
  if (does) ids.add(id);
  else ids.delete(id);
  if (ids.size) box.setAttribute("aria-describedby", [...ids].join(" "));
  else box.removeAttribute("aria-describedby");
}

// The field that is being filled in lights its dimension, in the view that has it.
function light() {
  const name = form.contains(document.activeElement) ? document.activeElement.name : "";
  for (const part of picture.querySelectorAll(".lit")) part.classList.remove("lit");
  const lit = name ? [...picture.querySelectorAll(`[data-field~="${CSS.escape(name)}"]`)] : [];
  for (const part of lit) part.classList.add("lit");
  const views = [...picture.querySelectorAll("[data-view]")];
  const now = lit[0]?.closest("[data-view]") ?? views.find((view) => view.classList.contains("now")) ?? views[0];
  for (const view of views) view.classList.toggle("now", view === now);
}

if (form && picture) {
  form.addEventListener("input", drawSoon);
  form.addEventListener("change", drawSoon);
  form.addEventListener("focusin", light);
  light();
  // The sentence with all that is wrong is read out; the hand goes to the first field of it.
  form.querySelector("[autofocus]")?.focus();
}
