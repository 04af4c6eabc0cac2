"use strict";
// Everything here is a help on top of pages that work without it.

const token = () => document.querySelector("input[name=csrfmiddlewaretoken]")?.value ?? "";

// What a printed sheet is, at the head of each page that follows the first; look.css says where.
document.documentElement.style.setProperty("--sheet-name", JSON.stringify(document.title));

// What a box takes: lengths and money say so, other numbers by their keyboard; "" is no number.
function kindOf(field) {
  const { kind, unit } = field.dataset;
  if (kind || unit) return kind ?? "length";
  return { numeric: "count", decimal: "decimal" }[field.inputMode] ?? "";
}

// Under the box; where no place is kept for it, one is made once there is something to say.
function echoUnder(field, text, wrong) {
  const box = field.closest(".with-unit, .step") ?? field;
  let echo = box.nextElementSibling;
  if (!echo?.matches("[data-echo]")) {
    if (!text) return;
    echo = document.createElement("span");
    Object.assign(echo.dataset, { echo: "" });
    echo.className = "echo";
    echo.setAttribute("role", "status");
    box.after(echo);
  }
  echo.textContent = text;
  echo.classList.toggle("problem", wrong);
}

// What was understood of a number, under its field, as the field is left.
function echoNumbers() {
  const url = document.body.dataset.understoodUrl;
  document.addEventListener("focusout", async (event) => {
    const field = event.target;
    const kind = url && field.matches?.("input") ? kindOf(field) : "";
    if (!kind) return;
    const text = field.value.trim();
    if (!text) return echoUnder(field, "", false);
    const { unit = "", system = "", places = "", low = "", high = "" } = field.dataset;
    const query = new URLSearchParams({ text, kind, unit, system, places, low, high });
    const { material, length } = field.form?.elements ?? {};
    // Whether it is far from usual can be asked of prices and of the length of one piece.
    if (material?.value && (kind === "money" || field.name === "length")) {
      query.set("material", material.value);
      query.set("length", length?.value ?? "");
    }
    try {
      const answer = await fetch(`${url}?${query}`, { headers: { Accept: "application/json" } });
      if (!answer.ok) return;
      const said = await answer.json();
      if (field.value.trim() !== text) return;
      // A question says the number itself.
      const doubt = said.problem ?? said.question;
      echoUnder(field, doubt ?? said.understood ?? "", doubt !== undefined);
    } catch {
      echoUnder(field, "", false);
    }
  });
}

// Our own sentences come from the server, at the field; the browser's bubbles would hide them.
function readyForms() {
  for (const form of document.querySelectorAll("form.sheet")) form.noValidate = true;
  document.querySelector(".error-summary")?.focus();
}

// What a press led to stands on the fresh page from the start, which nothing reads out; said a moment later it is.
function announceMessages() {
  const text = [...document.querySelectorAll(".message")].map((message) => message.innerText.trim()).join(" ");
  const place = document.querySelector("[data-announce]");
  if (!text || !place) return;
  setTimeout(() => (place.textContent = text), 300);
  // Whoever reads the page line by line finds it once.
  setTimeout(() => (place.textContent = ""), 5000);
}

// A second press while the first is under way does nothing. data-repeat marks forms that give a file and stay.
function guardSubmits() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post" || "repeat" in form.dataset) return;
    if ("sent" in form.dataset) {
      event.preventDefault();
      return;
    }
    if (event.defaultPrevented) return;
    form.dataset.sent = "";
    for (const button of form.querySelectorAll("button")) button.setAttribute("aria-disabled", "true");
    // Work that takes longer than a moment says what is being done; it stands in the form, hidden.
    for (const doing of form.querySelectorAll("[data-doing]")) doing.hidden = false;
  });
  window.addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
      for (const button of form.querySelectorAll("button")) button.removeAttribute("aria-disabled");
      for (const doing of form.querySelectorAll("[data-doing]")) doing.hidden = true;
    }
  });
}

// Leaving a form with typing that is not saved asks first.
function warnOfUnsaved() {
  const changed = (field) => {
    if (field.type === "hidden" || field.type === "submit") return false;
    if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
    if (field.type === "file") return field.files.length > 0;
    if (field.options) {
      const first = [...field.options].some((option) => option.defaultSelected) || field.multiple ? null : 0;
      return [...field.options].some((option, at) => option.selected !== (option.defaultSelected || at === first));
    }
    return "defaultValue" in field && field.value !== field.defaultValue;
  };
  window.addEventListener("beforeunload", (event) => {
    for (const form of document.querySelectorAll("form.sheet")) {
      if (form.method !== "post" || "sent" in form.dataset || "repeat" in form.dataset) continue;
      if ([...form.elements].some(changed)) event.preventDefault();
    }
  });
}

// Long work: start it, ask how far it is, show that, and load the page again when it is over.
function followProgress() {
  for (const place of document.querySelectorAll("[data-progress-url]")) follow(place);
}

async function follow(place) {
  const bar = place.querySelector("progress");
  const note = place.querySelector("[data-note]");
  const say = (text) => {
    if (note && note.textContent !== text) note.textContent = text;
  };
  let over = false;
  if (place.dataset.runUrl) {
    fetch(place.dataset.runUrl, { method: "POST", headers: { "X-CSRFToken": token(), Accept: "application/json" } })
      .then((answer) => {
        if (!answer.ok && !over) say("The work could not be started. Load the page again to try once more.");
      })
      .catch(() => {});
  }
  for (let silent = 0; silent < 20; ) {
    await new Promise((wake) => setTimeout(wake, 500));
    try {
      const answer = await fetch(place.dataset.progressUrl, { headers: { Accept: "application/json" } });
      if (!answer.ok) throw new Error(answer.status);
      const { state, done, total, note: words } = await answer.json();
      silent = 0;
      if (bar && total) {
        bar.max = total;
        bar.value = done;
      }
      if (words) say(words);
      if (state === "ready" || state === "failed") {
        over = true;
        window.location.reload();
        return;
      }
    } catch {
      silent += 1;
    }
  }
  say("There is no answer any more. Load the page again to see how far the work is.");
}

// Ticks on a sheet stay on this device.
function keepTicks() {
  for (const box of document.querySelectorAll("input[type=checkbox][data-tick]")) {
    const key = `tick ${box.dataset.tick}`;
    try {
      box.checked = localStorage.getItem(key) === "1";
      box.addEventListener("change", () => {
        // A stick of two houses has a box at each.
        for (const same of document.querySelectorAll("input[data-tick]"))
          if (same.dataset.tick === box.dataset.tick) same.checked = box.checked;
        if (box.checked) localStorage.setItem(key, "1");
        else localStorage.removeItem(key);
      });
    } catch {
      return;
    }
  }
}

// In a form of rows Enter goes to the next box, and the arrow keys up and down to the same box of another row.
function stepThroughRows() {
  for (const form of document.querySelectorAll("form[data-rows]")) {
    form.addEventListener("keydown", (event) => {
      const field = event.target;
      if (!field.matches("input[data-part]") || event.isComposing) return;
      const down = { ArrowDown: 1, ArrowUp: -1 }[event.key];
      if (!down && event.key !== "Enter") return;
      const named = down ? `input[data-part="${field.dataset.part}"]` : "input[data-part]";
      const fields = [...form.querySelectorAll(named)].filter((box) => box.offsetParent);
      const next = fields[fields.indexOf(field) + (down ?? 1)];
      event.preventDefault();
      if (next) {
        next.focus();
        next.select();
      } else if (!down) {
        form.querySelector("button.action")?.focus();
      }
    });
  }
}

// Paper cannot be opened: what is worked out in a table is printed with it, and cautions are whole.
function printWorkings() {
  let opened = [];
  window.addEventListener("beforeprint", () => {
    opened = [...document.querySelectorAll("table .working:not([open]), .caution details:not([open]), .on-paper:not([open]), .fold:not([open])")];
    for (const working of opened) working.open = true;
  });
  window.addEventListener("afterprint", () => {
    for (const working of opened) working.open = false;
    opened = [];
  });
}

function offerPrinting() {
  for (const button of document.querySelectorAll("button[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => window.print());
  }
}

echoNumbers();
readyForms();
announceMessages();
guardSubmits();
warnOfUnsaved();
followProgress();
keepTicks();
stepThroughRows();
printWorkings();
offerPrinting();

// Whoever has the phone next reads nothing that was kept for this one; what waits to be sent stays.
document.addEventListener("submit", ({ target }) => {
  if (target.matches("[data-sign-out]")) window.caches?.delete("day-list-1");
});
if ("keepsNothing" in document.body.dataset) window.caches?.delete("day-list-1");
