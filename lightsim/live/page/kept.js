// Pictures that were kept: each with its settings; compared by a wipe, gone back to, named, made into pages.

import {Viewer} from "/viewer/viewer.js";
import {element} from "./controls.js";
import {lightsOf, settingsOf} from "./photo.js";
import {clockWords} from "./store.js";

const PAGES = [["comparison", "Comparison", 2], ["contact sheet", "Contact sheet", 2], ["plan", "Plan of the set-up", 0],
  ["handout", "Handout", 2]];

export class Kept {
  constructor(store, photo) {
    Object.assign(this, {store, photo, entries: [], compared: null, viewer: null});
    this.list = document.getElementById("kept");
    this.other = document.getElementById("other");
    this.wipe = document.getElementById("wipe");
    document.getElementById("keep").addEventListener("click", () => this.keep());
    document.getElementById("wipe-end").addEventListener("click", () => this.compare(null));
    this.wipe.addEventListener("input", () => this.#cut());
    const row = document.getElementById("make-row");
    this.buttons = PAGES.map(([what, words, least]) => {
      const button = element("button", {type: "button", textContent: words, disabled: least > 0});
      button.dataset.least = least;
      button.addEventListener("click", () => store.link.send("make", {what, kept: this.entries.map(({name, table}) => ({name, table}))}));
      row.append(button);
      return button;
    });
  }

  keep() {
    const {store, photo} = this;
    if (store.picture === null) return;
    const key = store.state.lights[0];
    const name = key ? `${Math.round(key.angle)}°, ${clockWords(key.clock)}` : "room light";
    this.entries.push({name, table: structuredClone(store.state.table), picture: store.picture,
      lights: structuredClone(lightsOf(store)), settings: {...settingsOf(store)}, thumb: thumb(photo.canvas)});
    this.#draw();
  }

  #draw() {
    this.list.replaceChildren(...this.entries.map((entry, number) => this.#item(entry, number)));
    document.getElementById("kept-none").hidden = this.entries.length > 0;
    for (const button of this.buttons) button.disabled = this.entries.length < Number(button.dataset.least);
  }

  #item(entry, number) {
    const name = element("input", {type: "text", value: entry.name, maxLength: 60, "aria-label": `Name of kept picture ${number + 1}`});
    name.addEventListener("change", () => { entry.name = name.value; });
    const press = (words, label, work) => {
      const button = element("button", {type: "button", className: "plain", textContent: words, "aria-label": `${label} ${entry.name}`});
      button.addEventListener("click", work);
      return button;
    };
    return element("li", {}, entry.thumb, name, element("div", {className: "row"},
      press("compare", "Compare with", () => this.compare(entry)),
      press("go back", "Go back to", () => this.store.link.send("go to", {table: entry.table})),
      press("drop it", "Drop the kept picture", () => {
        this.entries.splice(number, 1);
        if (this.compared === entry) this.compare(null);
        this.#draw();
      })));
  }

  // The kept picture on the left of a line that is moved, the set's on the right; null ends it.
  compare(entry) {
    this.compared = entry;
    document.getElementById("wipe-row").hidden = entry === null;
    this.other.hidden = entry === null;
    if (entry === null) return;
    this.viewer ??= new Viewer(this.other, this.store.numbers);
    this.viewer.show(entry.picture);
    this.viewer.expose(entry.lights, entry.settings);
    document.getElementById("wipe-name").textContent = entry.name;
    this.#cut();
    this.wipe.focus({preventScroll: true});
  }

  #cut() {
    this.other.style.clipPath = `inset(0 ${100 - Number(this.wipe.value)}% 0 0)`;
    this.wipe.setAttribute("aria-valuetext", `${this.wipe.value} % of the width shows ${this.compared?.name ?? ""}`);
  }
}

function thumb(source) {
  const made = element("canvas", {width: 276, height: Math.round(276 * source.height / source.width)});
  made.setAttribute("aria-hidden", "true");
  made.getContext("2d").drawImage(source, 0, 0, made.width, made.height);
  return made;
}
