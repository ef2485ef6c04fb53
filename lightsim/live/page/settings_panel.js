// The camera's settings in the trade's marks, and what holds the exposure while one of them changes.

import {choice, element, markSlider, slider} from "./controls.js";
import {calm} from "./store.js";

const HOLDS = [["", "nothing"], ["power", "flash power"], ["shutter", "shutter"], ["iso", "ISO"]];

export class SettingsPanel {
  constructor(store) {
    Object.assign(this, {store, updates: null, hold: ""});
    this.fields = document.getElementById("settings-fields");
    store.on("state numbers", () => this.#draw());
    store.on("own", calm(() => this.#draw()));
  }

  #draw() {
    if (this.store.state?.settings === undefined) return;
    if (this.updates === null) this.#build();
    for (const update of this.updates) update();
  }

  // A change with the exposure held by another setting than the one that changes.
  #set(values, own) {
    this.store.set(values, this.hold && this.hold !== own ? this.hold : null);
  }

  #build() {
    const {store, fields} = this, marks = store.rules.marks;
    this.updates = [];
    const add = (update) => this.updates.push(update);
    const range = (name, low, high) => marks[name].filter((mark) => mark.value >= low && mark.value <= high);
    add(markSlider(fields, store, {label: "f-number", marks: range("f_number", 1.4, 45),
      get: () => store.get("camera.f_number"), set: (mark) => this.#set({"camera.f_number": mark.value}, "f-number"),
      words: (value) => `f/${value}, eff. ${store.state.settings.effective_f_number.toFixed(0)}`}));
    add(this.#note(() => lensWords(store.state.lens)));
    add(markSlider(fields, store, {label: "Shutter", marks: [...range("shutter_s", 1 / 9000, 31)].reverse(),
      get: () => store.get("exposure.shutter_s"), set: (mark) => this.#set({"exposure.shutter_s": mark.value}, "shutter")}));
    add(markSlider(fields, store, {label: "ISO", marks: range("iso", 25, 25600),
      get: () => store.get("exposure.iso"), set: (mark) => this.#set({"exposure.iso": mark.value}, "iso"),
      words: (value, mark) => mark.label.replace("ISO ", "")}));
    add(markSlider(fields, store, {label: "Flash power", marks: [...marks.power].reverse(),
      get: () => this.#flash() < 0 ? null : store.get(`light[${this.#flash()}].power`),
      set: (mark) => this.#set({[`light[${this.#flash()}].power`]: mark.value}, "power")}));
    add(choice(fields, {label: "Hold by", choices: () => HOLDS, get: () => this.hold,
      set: (value) => { this.hold = value; }}));
    add(this.#auto());
    add(this.#noise());
    fields.append(element("hr", {className: "rule"}));
    this.#balance(add);
    add(slider(fields, store, {label: "Room light", unit: "lx", low: 0, high: 2000, step: 10,
      get: () => store.get("ambient.ev100") === null ? store.get("ambient.illuminance_lx") ?? store.state.room.output : null,
      set: (value) => store.set({"ambient.illuminance_lx": value})}));
    fields.append(element("hr", {className: "rule"}));
    add(slider(fields, store, {label: "Tubes", unit: "mm", low: 0, high: 120, step: 1,
      get: () => store.get("lens") === null ? null : (store.get("lens.extension_tubes_mm") ?? []).reduce((a, b) => a + b, 0),
      set: (value) => this.#set({"lens.extension_tubes_mm": value > 0 ? [value] : []}, "tubes")}));
    add(slider(fields, store, {label: "Close-up lens", unit: "D", low: 0, high: 10, step: 0.5, places: 1,
      get: () => store.get("lens") === null ? null : dioptres(store.get("lens.close_up_dioptres")),
      set: (value) => this.#set({"lens.close_up_dioptres": value > 0 ? [value] : []}, "close-up")}));
    add(slider(fields, store, {label: "Field width", unit: "mm", low: 3, high: 80, step: 0.5, places: 1,
      get: () => store.get("lens") === null ? store.get("camera.field_width_mm") ?? 24 : null,
      set: (value) => store.set({"camera.field_width_mm": value})}));
    add(slider(fields, store, {label: "Looks down", unit: "°", low: -30, high: 90, step: 1,
      get: () => store.get("camera.looks_down_deg"), set: (value) => store.set({"camera.looks_down_deg": value})}));
    add(this.#note(() => trainWords(store.state.lens)));
  }

  #flash() {
    return this.store.state.lights.findIndex((light) => light.kind === "flash");
  }

  #auto() {
    const input = element("input", {type: "checkbox"});
    const label = element("label", {className: "check whole"}, input, "Bring the petal to the mid-tone by itself");
    input.addEventListener("change", () => this.store.set({"exposure.auto": input.checked}));
    this.fields.append(label);
    return () => { input.checked = this.store.get("exposure.auto") === true; };
  }

  #noise() {
    const input = element("input", {type: "checkbox"});
    this.fields.append(element("label", {className: "check whole"}, input, "Show the sensor’s noise at this ISO"));
    input.addEventListener("change", () => this.store.set({noise: input.checked ? {} : null}));
    return () => { input.checked = this.store.get("noise") !== null; };
  }

  #balance(add) {
    const {store, fields} = this;
    const named = () => [["key", "the key light"], ...store.state.lights.slice(1).map((light) => [light.name, light.name]),
      ["ambient", "the room"], ["kelvin", "a colour temperature"]];
    add(choice(fields, {label: "White is", choices: named,
      get: () => typeof store.get("exposure.white_balance") === "number" ? "kelvin" : store.get("exposure.white_balance"),
      set: (word) => store.set({"exposure.white_balance": word === "kelvin" ? store.state.settings.white_balance_k : word})}));
    add(slider(fields, store, {label: "Kelvin", unit: "K", low: 2500, high: 10000, step: 50,
      get: () => typeof store.get("exposure.white_balance") === "number" ? store.get("exposure.white_balance") : null,
      set: (value) => store.set({"exposure.white_balance": value})}));
  }

  #note(words) {
    const note = element("p", {className: "note"});
    this.fields.append(note);
    return () => { note.textContent = words(); };
  }
}

function dioptres(value) {
  return Array.isArray(value) ? value.reduce((a, b) => a + b, 0) : value ?? 0;
}

function figure(value, places = 2) {
  return value === undefined || value === null ? "?" : String(Number(value.toPrecision(places)));
}

function lensWords(lens) {
  if (lens.depth_of_field_mm === undefined) return "";
  return `sharp over ${figure(lens.depth_of_field_mm)} mm; diffraction leaves detail down to ${figure(lens.diffraction_detail_um)} µm`;
}

function trainWords(lens) {
  if (lens.magnification === undefined) return "";
  return `${figure(lens.magnification)} times life size, a field ${figure(lens.field_width_mm, 3)} mm wide, `
    + `${figure(lens.working_distance_mm, 3)} mm free before the lens`;
}
