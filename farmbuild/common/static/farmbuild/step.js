"use strict";
// One fewer and one more beside a box for a whole number, large enough for a glove.

for (const field of document.querySelectorAll("form[data-hand] :is(input[name=quantity], input[name=sticks])")) {
  const place = document.createElement("div");
  place.className = "step";
  place.dataset.step = "1";
  field.replaceWith(place);
  place.append(field);
}

for (const place of document.querySelectorAll("[data-step]")) {
  const field = place.querySelector("input:not([type=hidden])");
  if (!field) continue;
  const least = Number(place.dataset.step || 0);
  const label = field.labels?.[0];
  const name = (label?.querySelector("strong") ?? label)?.textContent.trim() ?? "";
  const button = (text, by, words) => {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = text;
    made.setAttribute("aria-label", `${words}, ${name}`);
    made.addEventListener("click", () => {
      // What is more than plain digits may be read in another way here than on the server.
      if (!/^\s*\d*\s*$/.test(field.value)) return;
      const now = Number(field.value);
      field.value = String(Math.max(least, now + by));
      field.dispatchEvent(new Event("input", { bubbles: true }));
    });
    return made;
  };
  field.before(button("−", -1, "One fewer"));
  field.after(button("+", 1, "One more"));
}
