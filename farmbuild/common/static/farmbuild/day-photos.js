// Photos chosen for a press: made small here, so that they fit on the device and through a weak link, and shown.

import { countWords, words } from "./words.js";

const LONGEST = 1600;
const PREVIEW = 160;
const QUALITY = 0.85;

function drawn(image, longest) {
  const scale = Math.min(1, longest / Math.max(image.width, image.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(image.width * scale));
  canvas.height = Math.max(1, Math.round(image.height * scale));
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.imageSmoothingQuality = "high";
  pen.drawImage(image, 0, 0, canvas.width, canvas.height);
  return canvas;
}

// A JPEG of at most LONGEST pixels, upright, without what the camera wrote into it. Fails on what is no picture.
async function smaller(file) {
  const image = await createImageBitmap(file, { imageOrientation: "from-image" });
  try {
    const canvas = drawn(image, LONGEST);
    const blob = await new Promise((give) => canvas.toBlob(give, "image/jpeg", QUALITY));
    if (!blob) throw new Error("There is no room to draw the photo.");
    return {
      bytes: await blob.arrayBuffer(),
      type: "image/jpeg",
      preview: drawn(canvas, PREVIEW).toDataURL("image/jpeg", 0.7),
    };
  } finally {
    image.close();
  }
}

// Pages load nothing from outside, blob addresses neither, so a preview is written into its own address.
async function previewOf(photo) {
  return (await smaller(new Blob([photo.bytes], { type: photo.type }))).preview;
}

function notRead(file) {
  return /\.(heic|heif)$/i.test(file.name) || /hei[cf]/.test(file.type)
    ? words("“%(file)s” is in the HEIC format, which cannot be read here. Set the camera to JPEG (on an iPhone: Settings, Camera, Formats, Most Compatible) and take it again, or choose a screenshot of it.", { file: file.name })
    : words("“%(file)s” cannot be read as a photo. Choose a JPEG, PNG or WebP picture.", { file: file.name });
}

// One set of photos, of one form.
export class Photos {
  #place;
  #say;
  #chosen = [];
  #choosing = false;
  #waiting = 0;
  #work = Promise.resolve();

  // say(text): puts a sentence at the photos, or takes it away.
  constructor(place, say) {
    this.#place = place;
    this.#say = say;
    place.dataset.ready = "";
    for (const input of place.querySelectorAll("input[type=file]")) {
      input.addEventListener("click", () => (this.#choosing = true));
      input.addEventListener("cancel", () => (this.#choosing = false));
    }
    place.addEventListener("change", (event) => {
      const files = [...(event.target.files ?? [])];
      event.target.value = "";
      this.#choosing = false;
      this.#waiting += 1;
      this.#work = this.#work.then(() => this.#take(files)).finally(() => (this.#waiting -= 1));
    });
  }

  // Also while the camera is open: what it gives must find this page as it was.
  get inHand() {
    return this.#choosing || this.#waiting > 0 || this.#chosen.length > 0;
  }

  // What is chosen, once all of it is made small.
  async all() {
    await this.#work;
    return this.#chosen.map(({ bytes, type }) => ({ bytes, type }));
  }

  clear() {
    this.#chosen = [];
    this.#say("");
    this.#show();
  }

  async put(photos) {
    this.#chosen = await Promise.all(photos.map(async (photo) => ({ ...photo, preview: await previewOf(photo) })));
    this.#show();
  }

  async #take(files) {
    const most = Number(this.#place.dataset.most);
    const wrong = [];
    for (const file of files) {
      if (this.#chosen.length >= most) {
        wrong.push(words("Up to %(most)s photos go with one problem.", { most }));
        break;
      }
      this.#note(words("Making the photo ready …"));
      try {
        this.#chosen.push(await smaller(file));
      } catch {
        wrong.push(notRead(file));
      }
    }
    this.#say(wrong.join(" "));
    this.#show();
  }

  #note(text) {
    this.#place.querySelector("[data-photo-note]").textContent = text;
  }

  #show() {
    const list = this.#place.querySelector("[data-previews]");
    list.replaceChildren(
      ...this.#chosen.map((photo, at) => {
        const image = document.createElement("img");
        image.src = photo.preview;
        image.alt = words("Photo %(at)s, not sent yet", { at: at + 1 });
        const button = document.createElement("button");
        button.type = "button";
        button.textContent = words("Leave out");
        button.setAttribute("aria-label", words("Leave photo %(at)s out", { at: at + 1 }));
        button.addEventListener("click", () => {
          this.#chosen = this.#chosen.filter((one) => one !== photo);
          this.#show();
          (list.querySelector("button") ?? this.#place.querySelector("input")).focus();
        });
        const row = document.createElement("li");
        row.append(image, button);
        return row;
      }),
    );
    const count = this.#chosen.length;
    this.#note(
      count
        ? countWords(
            "%(count)s photo goes along when you press Start, Stop or Done.",
            "%(count)s photos go along when you press Start, Stop or Done.",
            count,
          )
        : "",
    );
  }
}
