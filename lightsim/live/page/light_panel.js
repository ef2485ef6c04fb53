// Which light or card is moved, and its place, size and aim by slider and number.

import {choice, element, markSlider, slider} from "./controls.js";
import {calm, clockWords, tradeName} from "./store.js";

export class LightPanel {
  constructor(store) {
    Object.assign(this, {store, name: null, shown: "", updates: []});
    this.things = document.getElementById("things");
    this.fields = document.getElementById("light-fields");
    const sky = document.getElementById("sky");
    sky.addEventListener("change", () => store.link.send("sky", {on: sky.checked}));
    store.on("state", () => this.#draw());
    store.on("own", calm(() => this.#draw()));
    this.onChosen = () => {};
  }

  chosen() {
    return this.name;
  }

  choose(name) {
    if (this.name === name) return;
    this.name = name;
    for (const input of this.things.querySelectorAll("input")) input.checked = input.value === name;
    this.#build();
    this.onChosen();
  }

  #draw() {
    const things = this.store.things(), names = things.map((thing) => thing.name);
    if (!names.includes(this.name)) this.name = names[0] ?? null;
    const kinds = things.map((thing) => `${thing.name} ${thing.kind} ${this.#hasDiffuser(thing)}`).join("|");
    if (this.shown !== kinds) {
      this.shown = kinds;
      this.things.replaceChildren(this.things.firstElementChild, ...things.map((thing) => this.#radio(thing)));
      this.#build();
    }
    for (const update of this.updates) update();
  }

  #radio(thing) {
    const input = element("input", {type: "radio", name: "thing", value: thing.name, checked: thing.name === this.name});
    input.addEventListener("change", () => this.choose(thing.name));
    return element("label", {}, input, thing.kind === "card" && thing.name !== "card" ? `${thing.name} (card)` : thing.name);
  }

  #find() {
    return this.store.things().find((thing) => thing.name === this.name);
  }

  // Where the chosen thing stands in the scene, such as "light[0]".
  #path() {
    const {lights, cards} = this.store.state;
    const light = lights.findIndex((one) => one.name === this.name);
    return light >= 0 ? `light[${light}]` : `card[${cards.findIndex((one) => one.name === this.name)}]`;
  }

  #hasDiffuser(thing) {
    const number = this.store.state.lights.findIndex((one) => one.name === thing.name);
    return number >= 0 && this.store.get(`light[${number}].diffuser`) !== null;
  }

  #build() {
    const {store, fields} = this;
    fields.replaceChildren();
    this.updates = [];
    if (this.name === null || this.#find() === undefined) return;
    const name = this.name, path = this.#path(), light = path.startsWith("light");
    const add = (update) => this.updates.push(update);
    const note = element("p", {className: "note"});
    if (!this.#find().fixed) this.#place(name, add);
    const sheet = light && store.get(`${path}.diffuser`) !== null ? `${path}.diffuser` : path;
    this.#size(sheet, add);
    if (!this.#find().fixed) this.#aim(path, add);
    if (light) this.#lamp(path, add);
    fields.append(note);
    add(() => {
      const thing = this.#find();
      if (thing) note.textContent = thing.fixed ? "a ring, held at the lens’s front" : `${tradeName(thing.angle)}, from ${clockWords(thing.clock)}`;
    });
    for (const update of this.updates) update();
  }

  #place(name, add) {
    const {store, fields} = this;
    add(slider(fields, store, {label: "Angle", unit: "°", low: 0, high: 180, step: 1, places: 1,
      get: () => this.#find()?.angle ?? null, set: (angle) => store.move(name, {angle}),
      words: (angle) => `${Math.round(angle)} degrees off the lens axis, ${tradeName(angle)}`}));
    add(slider(fields, store, {label: "Clock", unit: "o’clock", low: 0, high: 12, step: 0.05, places: 2,
      get: () => this.#find()?.clock ?? null, set: (clock) => store.move(name, {clock}),
      words: clockWords}));
    add(slider(fields, store, {label: "Distance", unit: "mm", low: 40, high: 800, step: 5,
      get: () => this.#find()?.distance ?? null, set: (distance) => store.move(name, {distance})}));
  }

  #size(sheet, add) {
    const {store, fields} = this;
    add(slider(fields, store, {label: "Width", unit: "mm", low: 5, high: 400, step: 1,
      get: () => store.get(`${sheet}.width_mm`), set: (value) => store.set({[`${sheet}.width_mm`]: value})}));
    if (!["round", "ring"].includes(store.get(`${sheet}.shape`))) {
      add(slider(fields, store, {label: "Height", unit: "mm", low: 5, high: 400, step: 1,
        get: () => store.get(`${sheet}.height_mm`), set: (value) => store.set({[`${sheet}.height_mm`]: value})}));
    }
  }

  #aim(path, add) {
    const {store, fields} = this;
    [["Aim right", 0], ["Aim up", 1]].forEach(([label, axis]) => {
      add(slider(fields, store, {label, unit: "mm", low: -60, high: 60, step: 1,
        get: () => (store.get(`${path}.aim_mm`) ?? [0, 0, 0])[axis],
        set: (value) => {
          const aim = [...(store.get(`${path}.aim_mm`) ?? [0, 0, 0])];
          aim[axis] = value;
          store.set({[`${path}.aim_mm`]: aim});
        }}));
    });
  }

  #lamp(path, add) {
    const {store, fields} = this;
    add(slider(fields, store, {label: "Kelvin", unit: "K", low: 2500, high: 10000, step: 50,
      get: () => store.get(`${path}.colour_temperature_k`),
      set: (value) => store.set({[`${path}.colour_temperature_k`]: value})}));
    if (store.get(`${path}.kind`) !== "flash") {
      for (const [key, label, unit, high] of [["illuminance_lx", "Light", "lx", 5000], ["ev100", "Light", "EV", 16]]) {
        add(slider(fields, store, {label, unit, low: 0, high, step: unit === "EV" ? 0.1 : 10, places: 1,
          get: () => store.get(`${path}.${key}`), set: (value) => store.set({[`${path}.${key}`]: value})}));
      }
      return;
    }
    add(markSlider(fields, store, {label: "Power", marks: [...store.rules.marks.power].reverse(),
      get: () => store.get(`${path}.power`), set: (mark) => store.set({[`${path}.power`]: mark.value})}));
    if (this.#find().fixed) return;
    add(choice(fields, {label: "Diffuser", choices: () => [["none", "none"], ["small", "small, 60 × 40 mm"],
      ["large", "large, 150 × 150 mm"], ["round", "round, 100 mm"], ["own", "as the scene has it"]],
    get: () => diffuserWord(store.get(`${path}.diffuser`)),
    set: (word) => { if (word !== "own") store.set({[`${path}.diffuser`]: DIFFUSERS[word]}); }}));
  }
}

const DIFFUSERS = {
  none: null,
  small: {shape: "rectangle", width_mm: 60, height_mm: 40, loss_stops: 1.3},
  large: {shape: "rectangle", width_mm: 150, height_mm: 150, loss_stops: 1.7},
  round: {shape: "round", width_mm: 100, height_mm: 100, loss_stops: 1.5},
};

function diffuserWord(diffuser) {
  if (diffuser === null) return "none";
  const found = Object.entries(DIFFUSERS).find(([, one]) => one !== null && one.shape === diffuser.shape
    && one.width_mm === diffuser.width_mm && (one.shape === "round" || one.height_mm === diffuser.height_mm));
  return found?.[0] ?? "own";
}

export {DIFFUSERS};
