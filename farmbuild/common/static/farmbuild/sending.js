// Sends what waits on this phone, one after the other as it was pressed.

import { words } from "./words.js";

// A photo through a weak link; what is cut off is sent again and still kept once.
export const PATIENCE = 120000;
const REFUSED = {
  400: "It could not be read. Press once more.",
  404: "It is not there any more.",
  413: "It is too large to be sent. Leave the photos out.",
};

const NAME = "input[name=csrfmiddlewaretoken]";

async function token(scope) {
  if (!scope) return document.querySelector(NAME)?.value ?? "";
  const answer = await fetch(scope, { headers: { "X-Kept": "1" } });
  return new DOMParser().parseFromString(await answer.text(), "text/html").querySelector(NAME)?.value ?? "";
}

function post(press, photos, csrf) {
  const body = new FormData();
  for (const [name, value] of Object.entries(press.fields)) body.append(name, value);
  photos.forEach((photo, at) =>
    body.append("photos", new Blob([photo.bytes], { type: photo.type }), `photo-${at + 1}.jpg`),
  );
  return fetch(press.url, {
    method: "POST",
    body,
    // Whoever is signed in by then, it is sent in the name of who pressed it, or not at all.
    headers: { "X-CSRFToken": csrf, "X-Pressed-By": press.user.split(" ").at(-1), Accept: "application/json" },
    signal: AbortSignal.timeout?.(PATIENCE),
  });
}

// ``scope``: a page with a fresh token. What came of it is told as it comes.
export function sender({ store, scope, onKept, onSignIn, onDone }) {
  let sending = false;
  let askedAgain = false;
  return async function send() {
    // Asked for while a try is under way, that try may be one without reception: another follows it.
    askedAgain = sending;
    if (sending) return;
    sending = true;
    let press;
    try {
      for (;;) {
        press = await store.claim();
        if (!press) break;
        const photos = await store.photosOf(press);
        let answer = await post(press, photos, await token());
        if (answer.status === 403) answer = await post(press, photos, await token(scope));
        if (answer.redirected || answer.status === 403) {
          await store.release(press);
          await onSignIn();
          return;
        }
        if (answer.ok) {
          // Anything else that answers for the server, such as the sign-in page of a hotspot, has not kept it.
          const said = await answer.json();
          if (said.kept !== true) break;
          await store.remove(press);
          await onKept(press, said);
        } else if (answer.status === 422) {
          const said = await answer.json();
          await store.refuse(press, said.problem, said.fields);
        } else if (answer.status in REFUSED) {
          await store.refuse(press, words(REFUSED[answer.status]), {});
        } else {
          break;
        }
        press = undefined;
      }
    } catch {
      // No reception; whoever made this tries again.
    } finally {
      if (press) await store.release(press).catch(() => {});
      sending = false;
    }
    if (askedAgain) return send();
    await onDone();
  };
}
