// Presses of a day that wait on this device, with their photos. A press and its photos are stored in one transaction.

const BASE = "day-presses";

const answerOf = (request) =>
  new Promise((give, fail) => {
    request.onsuccess = () => give(request.result);
    request.onerror = () => fail(request.error);
  });

const finished = (transaction) =>
  new Promise((give, fail) => {
    transaction.oncomplete = () => give();
    transaction.onabort = () => fail(transaction.error ?? new Error("The device has no room."));
  });

function opened() {
  const opening = indexedDB.open(BASE, 1);
  opening.onupgradeneeded = () => {
    opening.result.createObjectStore("presses", { keyPath: "id", autoIncrement: true }).createIndex("user", "user");
    opening.result.createObjectStore("photos", { keyPath: ["press", "position"] });
  };
  return answerOf(opening);
}

const photosOf = (press) => IDBKeyRange.bound([press], [press, []]);

function takeOut(transaction, press) {
  transaction.objectStore("presses").delete(press.id);
  transaction.objectStore("photos").delete(photosOf(press.id));
}

// Whose presses: "SLUG KEY", the organisation and the person. One person may have such of several organisations.
const person = (user) => user.split(" ").at(-1);

export class Presses {
  #base;
  #user;

  constructor(user) {
    this.#user = user;
  }

  isOwn(press) {
    return press.user === this.#user;
  }

  // Opened at the first need, and anew after a failure.
  async #begin(mode) {
    this.#base ??= opened();
    try {
      return (await this.#base).transaction(["presses", "photos"], mode, { durability: "strict" });
    } catch (error) {
      this.#base = undefined;
      throw error;
    }
  }

  // In the order in which they were pressed.
  async all() {
    const transaction = await this.#begin("readonly");
    return answerOf(transaction.objectStore("presses").index("user").getAll(this.#user));
  }

  // Photos are {bytes, type}: bytes, because not every browser keeps a Blob for long.
  async add(press, photos) {
    const transaction = await this.#begin("readwrite");
    const done = finished(transaction);
    const id = await answerOf(
      transaction.objectStore("presses").add({ ...press, user: this.#user, photos: photos.length }),
    );
    photos.forEach((photo, position) => transaction.objectStore("photos").add({ ...photo, press: id, position }));
    await done;
  }

  async photosOf(press) {
    const transaction = await this.#begin("readonly");
    return answerOf(transaction.objectStore("photos").getAll(photosOf(press.id)));
  }

  // What was pressed before organisations stood in addresses gets the address that it has today.
  async readdress(addressOf) {
    const transaction = await this.#begin("readwrite");
    const done = finished(transaction);
    const presses = transaction.objectStore("presses");
    for (const press of await answerOf(presses.getAll())) {
      const url = addressOf(press);
      if (url !== press.url) presses.put({ ...press, url });
    }
    await done;
  }

  // The first that may be sent, of any organisation of this person, marked so that nobody drops it on its way; nothing
  // where none waits.
  async claim() {
    const transaction = await this.#begin("readwrite");
    const done = finished(transaction);
    const presses = transaction.objectStore("presses");
    const press = (await answerOf(presses.getAll())).find((one) => !one.problem && person(one.user) === person(this.#user));
    if (press) presses.put({ ...press, sending: Date.now(), tried: true });
    await done;
    return press;
  }

  // It was not sent.
  release(press) {
    return this.#change(press, (kept) => ({ ...kept, sending: 0 }));
  }

  refuse(press, problem, fields) {
    return this.#change(press, (kept) => ({ ...kept, sending: 0, problem, wrong: fields }));
  }

  async #change(press, changed) {
    const transaction = await this.#begin("readwrite");
    const done = finished(transaction);
    const presses = transaction.objectStore("presses");
    const kept = await answerOf(presses.get(press.id));
    if (kept) presses.put(changed(kept));
    await done;
  }

  async remove(press) {
    const transaction = await this.#begin("readwrite");
    const done = finished(transaction);
    takeOut(transaction, press);
    await done;
  }

  // Takes it out unless it is on its way just now, by any page of this device; gives it as it was kept.
  async drop(press, patience) {
    const transaction = await this.#begin("readwrite");
    const done = finished(transaction);
    const kept = await answerOf(transaction.objectStore("presses").get(press.id));
    const free = kept && Date.now() - (kept.sending || 0) > patience;
    if (free) takeOut(transaction, press);
    await done;
    return free ? kept : undefined;
  }
}
