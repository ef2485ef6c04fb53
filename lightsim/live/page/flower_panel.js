// The petal's form, place and colours; the water on it.

import {choice, colour, element, slider} from "./controls.js";
import {calm} from "./store.js";

export class FlowerPanel {
  constructor(store) {
    Object.assign(this, {store, updates: null});
    this.fields = document.getElementById("flower-fields");
    store.on("state", () => this.#draw());
    store.on("own", calm(() => this.#draw()));
  }

  #draw() {
    if (this.store.state?.table === undefined || this.store.rules === null) return;
    if (this.updates === null) this.#build();
    for (const update of this.updates) update();
  }

  #build() {
    const {store, fields} = this;
    this.updates = [];
    const add = (update) => this.updates.push(update);
    const value = (label, path, unit, low, high, step, places = 0) => add(slider(fields, store,
      {label, unit, low, high, step, places, get: () => store.get(path), set: (given) => store.set({[path]: given})}));
    const forms = store.rule("petal.form").choices;
    add(choice(fields, {label: "Form", choices: () => forms.filter((form) => form !== "mesh" || store.get("petal.form") === "mesh")
      .map((form) => [form, form === "mesh" ? "from a mesh file" : form]),
    get: () => store.get("petal.form"), set: (form) => store.set({"petal.form": form})}));
    value("Curl", "petal.curl", "", -1, 1, 0.05, 2);
    value("Tilt", "petal.tilt_deg", "°", 0, 85, 1);
    value("Leans back at", "petal.tilt_clock", "o’clock", 0, 12, 0.25, 2);
    value("Turn", "petal.turn_deg", "°", -180, 180, 1);
    for (const end of ["tip", "foot"]) {
      add(colour(fields, {label: `Colour, ${end}`, get: () => store.get(`petal.reflectance_${end}`),
        set: (rgb) => store.set({[`petal.reflectance_${end}`]: rgb, [`petal.transmittance_${end}`]: through(rgb)})}));
    }
    fields.append(element("hr", {className: "rule"}));
    add(slider(fields, store, {label: "Drops sprayed", low: 0, high: 400, step: 5, get: () => store.get("drops.count"),
      set: (count) => store.set({"drops.count": Math.round(count)})}));
    value("Median size", "drops.diameter_mm", "mm", 0.1, 3, 0.05, 2);
    value("Contact angle", "drops.contact_angle_deg", "°", 60, 150, 1);
    const anew = element("button", {type: "button", textContent: "Spray anew"});
    anew.addEventListener("click", () => store.set({"drops.seed": ((store.get("drops.seed") ?? 1) % 2147483646) + 1}));
    const note = element("p", {className: "note"});
    fields.append(element("div", {className: "row whole"}, anew), note);
    add(() => {
      const placed = (store.get("drops.placed") ?? []).length;
      note.textContent = `${placed} put by hand. Moving or taking away a sprayed drop turns all into drops put by hand.`;
    });
  }
}

// A petal of that colour lets a third of the light through, a little deeper in colour; both never more than all.
export function through(rgb) {
  return rgb.map((part) => Math.round(1000 * Math.min(0.45 * part ** 1.2, 1 - part)) / 1000);
}
