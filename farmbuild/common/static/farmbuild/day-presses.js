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

export class Presses {
  #base;
  #user;

  constructor(user) {
    this.#user = user;
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

  async refuse(press, problem, fields) {
    const transaction = await this.#begin("readwrite");
    const done = finished(transaction);
    transaction.objectStore("presses").put({ ...press, problem, wrong: fields });
    await done;
  }

  async remove(press) {
    const transaction = await this.#begin("readwrite");
    const done = finished(transaction);
    transaction.objectStore("presses").delete(press.id);
    transaction.objectStore("photos").delete(photosOf(press.id));
    await done;
  }
}
