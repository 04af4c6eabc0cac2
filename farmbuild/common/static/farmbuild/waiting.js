// What waits on this phone to be sent, in words and as a row from which it can be dropped.
import { PATIENCE } from "./sending.js";
import { countWords, words } from "./words.js";

// By the organisation's clock, whatever the phone's: 14:05, and the day where it is not today.
function clock(at, zone) {
  const { lang } = document.documentElement;
  const spoken = lang === "en" ? "en-GB" : lang;
  const said = (options) => {
    try {
      return (moment) => new Intl.DateTimeFormat(spoken, { ...options, timeZone: zone }).format(moment);
    } catch {
      return (moment) => `${new Intl.DateTimeFormat(spoken, { ...options, timeZone: "UTC" }).format(moment)} UTC`;
    }
  };
  const time = said({ hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const day = said({ day: "numeric", month: "long" });
  const moment = new Date(at);
  if (day(moment) === day(new Date())) return time(moment);
  return words("%(time)s on %(day)s", { time: time(moment), day: day(moment) });
}

// Such as: done, 14:05, with 1 photo. Or: 1 lot at Gate rack, 14:05 (GATE-1: 3).
export function saying(press, zone) {
  const { done = "", what, at, pressed_at } = press.fields;
  if (press.said) return `${press.said}, ${clock(pressed_at, zone)}${press.listed ? ` (${press.listed})` : ""}`;
  const photos = press.photos ? countWords(", with %(count)s photo", ", with %(count)s photos", press.photos) : "";
  const count = done.trim() && what !== "start" ? words(", %(count)s counted", { count: done.trim() }) : "";
  return `${words(what)}, ${clock(at, zone)}${count}${photos}`;
}

// ``told`` gets the sentence of what came of dropping it.
export function rowOf(press, said, store, told) {
  const row = document.createElement("p");
  const button = Object.assign(document.createElement("button"), { type: "button", textContent: words("Drop") });
  button.setAttribute("aria-label", words("Drop: %(press)s", { press: said }));
  button.addEventListener("click", async () => {
    const dropped = await store.drop(press, PATIENCE);
    await told(
      dropped
        ? words("Dropped: %(press)s.", { press: said })
        : words("It is on its way already, so it cannot be dropped now."),
    );
  });
  const waits = press.problem
    ? words("Not kept: %(press)s. %(why)s", { press: said, why: press.problem })
    : words("Waits for the network: %(press)s.", { press: said });
  row.append(waits, " ", button);
  return row;
}
