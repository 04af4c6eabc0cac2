"use strict";
// Houses drawn to their places, by finger, mouse or arrow keys. Without this the boxes below the plan do all.

const plan = document.querySelector("[data-places]");
const sheet = document.getElementById("places");
const scaled = plan?.querySelector("[data-units-a-mm]");
const said = plan?.querySelector("[data-said]");
const INCH = 25.4;

const boxesOf = (house) => {
  const row = sheet.querySelector(`fieldset[data-house="${house.dataset.house}"]`);
  const box = (name) => row?.querySelector(`input[name$="-${name}"]`);
  return row && { along: box("along"), across: box("across"), turn: box("ridge_turn") };
};

// Half a foot, or a tenth of a metre.
const stepOf = (box) => (box.dataset.system === "metric" ? 100 : 6 * INCH);

function words(mm, box) {
  if (box.dataset.system === "metric") return `${Math.round(mm)} mm`;
  const halves = Math.round(mm / (6 * INCH));
  const inches = halves % 2 ? " 6\"" : "";
  return `${Math.floor(halves / 2)}'${inches}`;
}

function place(house, along, across) {
  const boxes = boxesOf(house);
  const step = stepOf(boxes.along);
  const snapped = [along, across].map((mm) => Math.max(0, Math.round(mm / step) * step));
  [house.at.along, house.at.across] = snapped;
  boxes.along.value = words(snapped[0], boxes.along);
  boxes.across.value = words(snapped[1], boxes.across);
  if (!boxes.turn.value) boxes.turn.value = "0";
  const units = Number(scaled.dataset.unitsAMm);
  const right = (snapped[0] - Number(house.dataset.along)) * units;
  const down = (Number(house.dataset.across) - snapped[1]) * units;
  house.setAttribute("transform", `translate(${right} ${down})`);
  house.classList.add("moved");
  name(house, boxes);
}

function name(house, boxes) {
  const where = boxes.along.value ? `${boxes.along.value} along, ${boxes.across.value} across` : "not placed";
  house.setAttribute("aria-label", `${house.dataset.name}, ${where}`);
}

function tell(house) {
  said.textContent = `${house.getAttribute("aria-label")}. Not saved yet.`;
}

function takeInHand(house) {
  const boxes = boxesOf(house);
  house.at = { along: Number(house.dataset.along), across: Number(house.dataset.across) };
  house.setAttribute("tabindex", "0");
  house.setAttribute("role", "button");
  name(house, boxes);
  house.addEventListener("keydown", (event) => {
    const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const way = ways[event.key];
    if (!way) return;
    event.preventDefault();
    const step = stepOf(boxes.along);
    place(house, house.at.along + way[0] * step, house.at.across + way[1] * step);
    tell(house);
  });
  house.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    event.preventDefault();
    house.focus();
    house.setPointerCapture(event.pointerId);
    house.from = { x: event.clientX, y: event.clientY, ...house.at };
  });
  house.addEventListener("pointermove", (event) => {
    const { from } = house;
    if (!from) return;
    const mm = house.ownerSVGElement.getScreenCTM().a * Number(scaled.dataset.unitsAMm);
    place(house, from.along + (event.clientX - from.x) / mm, from.across - (event.clientY - from.y) / mm);
  });
  for (const end of ["pointerup", "pointercancel"]) {
    house.addEventListener(end, () => {
      if (house.from && house.classList.contains("moved")) tell(house);
      house.from = null;
    });
  }
}

if (scaled && sheet) {
  for (const house of plan.querySelectorAll(".movable")) if (boxesOf(house)) takeInHand(house);
  plan.querySelector("[data-hint]").hidden = false;
}
