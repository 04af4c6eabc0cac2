// What waits on this phone to be sent, in words and as a row from which it can be dropped.
import { PATIENCE } from "./sending.js";

// By the organisation's clock, whatever the phone's: 14:05, and the day where it is not today.
function clock(at, zone) {
  const said = (options) => {
    try {
      return (moment) => new Intl.DateTimeFormat("en-GB", { ...options, timeZone: zone }).format(moment);
    } catch {
      return (moment) => `${new Intl.DateTimeFormat("en-GB", { ...options, timeZone: "UTC" }).format(moment)} UTC`;
    }
  };
  const time = said({ hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const day = said({ day: "numeric", month: "long" });
  const moment = new Date(at);
  return day(moment) === day(new Date()) ? time(moment) : `${time(moment)} on ${day(moment)}`;
}

// Such as: done, 14:05, with 1 photo. Or: 1 lot at Gate rack, 14:05 (GATE-1: 3).
export function saying(press, zone) {
  const { done = "", what, at, pressed_at } = press.fields;
  if (press.said) return `${press.said}, ${clock(pressed_at, zone)}${press.listed ? ` (${press.listed})` : ""}`;
  const photos = press.photos ? `, with ${press.photos} photo${press.photos === 1 ? "" : "s"}` : "";
  const count = done.trim() && what !== "start" ? `, ${done.trim()} counted` : "";
  return `${what}, ${clock(at, zone)}${count}${photos}`;
}

// ``told`` gets the sentence of what came of dropping it.
export function rowOf(press, words, store, told) {
  const row = document.createElement("p");
  const button = Object.assign(document.createElement("button"), { type: "button", textContent: "Drop" });
  button.setAttribute("aria-label", `Drop: ${words}`);
  button.addEventListener("click", async () => {
    const dropped = await store.drop(press, PATIENCE);
    await told(dropped ? `Dropped: ${words}.` : "It is on its way already, so it cannot be dropped now.");
  });
  row.append(press.problem ? `Not kept: ${words}. ${press.problem} ` : `Waits for the network: ${words}. `, button);
  return row;
}
