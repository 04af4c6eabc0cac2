"use strict";
// A whole five at once, and the count read out. Without this file the circles are tapped one by one and counted by taps.css.

const taps = document.querySelector("form.taps");
const says = taps?.querySelector("[data-tapped]");
const ticked = () => [...taps.querySelectorAll("input:checked")].reduce((sum, one) => sum + Number(one.value), 0);
const tell = () => {
  says.textContent = `${ticked()} of ${says.dataset.tapped} tapped.`;
};

for (const row of taps?.querySelectorAll(".tap-row") ?? []) {
  const marks = [...row.querySelectorAll("input")];
  if (marks.length < 5 || marks[0].value !== "1") continue;
  const button = document.createElement("button");
  button.type = "button";
  button.className = "five";
  button.textContent = "All 5";
  button.setAttribute("aria-label", `All five from ${marks[0].getAttribute("aria-label")}`);
  button.addEventListener("click", () => {
    const all = marks.every((one) => one.checked);
    for (const one of marks) one.checked = !all;
    tell();
  });
  row.append(button);
}

taps?.addEventListener("change", tell);
// The boxes are empty only after the event.
taps?.addEventListener("reset", () => setTimeout(tell));
