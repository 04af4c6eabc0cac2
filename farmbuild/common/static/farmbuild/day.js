"use strict";
// The list of a day where there may be no reception: it is kept to be read, and presses wait here until they are sent.
(() => {
  const page = document.querySelector("[data-day-list]");
  if (!page) return;
  const store = `day-presses ${page.dataset.user}`;
  const status = document.querySelector("[data-day-status]");
  const read = () => JSON.parse(localStorage.getItem(store) ?? "[]");
  const write = (presses) => localStorage.setItem(store, JSON.stringify(presses));
  const words = { start: "Started", stop: "Stopped", done: "Done" };
  let sending = false;
  let sent = 0;

  function newKey() {
    if (crypto.randomUUID) return crypto.randomUUID();
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }

  function show(text) {
    const waiting = read().filter((press) => !press.problem);
    const refused = read().filter((press) => press.problem);
    for (const place of page.querySelectorAll("[data-waiting]")) {
      const own = read().filter((press) => press.url === place.dataset.waiting);
      place.textContent = own
        .map((press) => {
          const clock = new Date(press.fields.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
          return press.problem
            ? `${words[press.fields.what]} at ${clock} was not kept: ${press.problem}`
            : `${words[press.fields.what]} at ${clock}, kept on this phone until it is sent.`;
        })
        .join(" ");
    }
    const forget = document.querySelector("[data-forget]");
    if (forget) forget.hidden = !refused.length;
    if (!status) return;
    status.textContent =
      text ??
      (waiting.length
        ? `${waiting.length} press${waiting.length === 1 ? "" : "es"} kept on this phone, to be sent when there is reception.`
        : refused.length
          ? "Some presses were not kept. Read why at the task."
          : sent
            ? "Everything is sent."
            : "");
  }

  async function token(fresh) {
    if (!fresh) return page.querySelector("input[name=csrfmiddlewaretoken]")?.value ?? "";
    const answer = await fetch(location.href);
    const found = new DOMParser().parseFromString(await answer.text(), "text/html");
    return found.querySelector("[data-day-list] input[name=csrfmiddlewaretoken]")?.value ?? "";
  }

  const post = (press, csrf) =>
    fetch(press.url, {
      method: "POST",
      body: new URLSearchParams(press.fields),
      headers: { "X-CSRFToken": csrf, Accept: "application/json" },
    });

  async function send() {
    if (sending) return;
    sending = true;
    try {
      for (;;) {
        const press = read().find((one) => !one.problem);
        if (!press) break;
        let answer = await post(press, await token(false));
        if (answer.status === 403) answer = await post(press, await token(true));
        if (answer.redirected || answer.status === 403) {
          show("Sign in again to send what is kept on this phone.");
          return;
        }
        const rest = () => read().filter((one) => one.fields.key !== press.fields.key);
        if (answer.ok) {
          write(rest());
          sent += 1;
        } else if (answer.status === 422 || answer.status === 404) {
          const said = answer.status === 422 ? (await answer.json()).problem : "The task is not there any more.";
          write(read().map((one) => (one.fields.key === press.fields.key ? { ...one, problem: said } : one)));
        } else {
          break;
        }
      }
    } catch {
      // No reception; the timer and the event of coming online try again.
    } finally {
      sending = false;
    }
    show();
    if (sent && !read().length && !document.activeElement?.matches("input:not([type=hidden])")) location.reload();
  }

  page.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("[data-press]")) return;
    const what = event.submitter?.value ?? "done";
    const fields = Object.fromEntries(new FormData(form));
    delete fields.csrfmiddlewaretoken;
    const press = { url: new URL(form.action).pathname, fields: { ...fields, what, key: newKey(), at: new Date().toISOString() } };
    try {
      write([...read(), press]);
    } catch {
      // Nothing can be kept here, so the form goes the usual way.
      return;
    }
    event.preventDefault();
    if (document.activeElement?.matches("input")) document.activeElement.blur();
    show();
    send();
  });
  document.querySelector("[data-forget]")?.addEventListener("click", () => {
    write(read().filter((press) => !press.problem));
    show();
  });

  async function keepPage() {
    if (!("serviceWorker" in navigator)) return;
    await navigator.serviceWorker.register(page.dataset.worker, { scope: page.dataset.scope });
    const cache = await caches.open("day-list-1");
    const assets = [...document.querySelectorAll("link[href][rel], script[src]")].map((part) => part.href || part.src);
    await Promise.all(
      [location.href, ...assets].map(async (url) => {
        const answer = await fetch(url);
        if (answer.ok && !answer.redirected) await cache.put(url, answer);
      }),
    );
    page.dataset.kept = "";
  }

  show();
  send();
  window.addEventListener("online", send);
  setInterval(send, 20000);
  keepPage().catch(() => {});
})();
