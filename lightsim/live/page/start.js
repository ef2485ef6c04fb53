// What stands on the table, asked in the trade's words, with sensible answers filled in.

import {element} from "./controls.js";
import {through} from "./flower_panel.js";
import {DIFFUSERS} from "./light_panel.js";

const SENSORS = [["36 × 24 mm", [36, 24]], ["23.5 × 15.6 mm", [23.5, 15.6]], ["17.3 × 13 mm", [17.3, 13]]];
const FLOWERS = [
  ["rose", [0.58, 0.2, 0.33], [0.62, 0.52, 0.3]], ["white", [0.72, 0.72, 0.68], [0.6, 0.66, 0.4]],
  ["yellow", [0.72, 0.55, 0.05], [0.66, 0.4, 0.04]], ["blue", [0.2, 0.24, 0.6], [0.5, 0.5, 0.62]],
  ["red", [0.5, 0.03, 0.05], [0.25, 0.02, 0.03]], ["green leaf", [0.09, 0.22, 0.05], [0.12, 0.28, 0.07]],
];
const ROOMS = [["dim, an evening lamp", 100, 2900], ["an ordinary room", 300, 4000], ["by a window", 1200, 5800]];
const DROPS = [["a few", 12], ["dewy", 70], ["many", 200]];

export class Start {
  constructor(store) {
    this.store = store;
    this.dialog = document.getElementById("dialog");
    document.getElementById("start-anew").addEventListener("click", () => this.open());
    store.on("state", () => {
      if (store.state.is_new && !this.asked) this.open();
      this.asked = true;
    });
  }

  open() {
    const form = element("form", {method: "dialog"});
    const fields = {
      sensor: radios("sensor", SENSORS.map(([words]) => words), 0),
      focal: number("Focal length", 100, "mm", 20, 300), own: number("The lens alone reaches", 1, "times life size", 0, 5, 0.1),
      tubes: number("Tubes, all together", 48, "mm", 0, 300), closeUp: number("Close-up lens", 0, "dioptres (0 for none)", 0, 20, 0.5),
      guide: number("Guide number at ISO 100", 32, "m", 4, 80), diffuser: radios("diffuser", ["none", "small", "large", "round"], 1),
      room: radios("room", ROOMS.map(([words]) => words), 1),
      flower: radios("flower", FLOWERS.map(([words]) => words), 0, FLOWERS.map(([, tip]) => tip)),
      drops: radios("drops", DROPS.map(([words]) => words), 1),
    };
    const group = (title, ...parts) => element("fieldset", {}, element("legend", {textContent: title}), ...parts.map((one) => one.box));
    const leave = element("button", {type: "button", textContent: "Not now"});
    leave.addEventListener("click", () => this.dialog.close());
    form.append(
      group("Camera: size of the sensor", fields.sensor), group("Lens and what lengthens it", fields.focal, fields.own, fields.tubes, fields.closeUp),
      group("Flash, with its diffuser", fields.guide, fields.diffuser), group("Room", fields.room),
      group("Flower", fields.flower), group("Water on it", fields.drops),
      element("div", {className: "row"}, leave, element("button", {type: "submit", textContent: "Put it on the table"})));
    form.addEventListener("submit", () => this.#put(fields));
    if (this.dialog.open) this.dialog.close();
    this.dialog.replaceChildren(element("h2", {id: "dialog-title", textContent: "What stands on the table?"}), form);
    this.dialog.showModal();
  }

  #put(fields) {
    const flower = FLOWERS[fields.flower.get()], room = ROOMS[fields.room.get()];
    const diffuser = DIFFUSERS[["none", "small", "large", "round"][fields.diffuser.get()]];
    const tubes = fields.tubes.get();
    this.store.set({
      "camera.sensor_mm": SENSORS[fields.sensor.get()][1], "lens.focal_length_mm": fields.focal.get(),
      "lens.native_magnification": fields.own.get(), "lens.extension_tubes_mm": tubes > 0 ? [tubes] : [],
      "lens.close_up_dioptres": fields.closeUp.get() > 0 ? [fields.closeUp.get()] : [], "light[0].guide_number_m": fields.guide.get(),
      "light[0].diffuser": diffuser, "ambient.illuminance_lx": room[1], "ambient.colour_temperature_k": room[2],
      "petal.reflectance_tip": flower[1], "petal.reflectance_foot": flower[2],
      "petal.transmittance_tip": through(flower[1]), "petal.transmittance_foot": through(flower[2]),
      "drops.count": DROPS[fields.drops.get()][1], "exposure.auto": true,
    });
  }
}

let count = 0;

function number(label, value, unit, min, max, step = 1) {
  count += 1;
  const input = element("input", {type: "number", id: `start-${count}`, value, min, max, step, required: true});
  const box = element("p", {className: "number"}, element("label", {htmlFor: input.id, textContent: `${label} `}), input, ` ${unit}`);
  return {box, get: () => Number(input.value)};
}

function radios(name, words, chosen, colours = null) {
  const box = element("div", {className: "choices"});
  const inputs = words.map((text, i) => {
    const input = element("input", {type: "radio", name, value: i, checked: i === chosen});
    const label = element("label", {}, input);
    if (colours) {
      const swatch = element("span", {className: "swatch"});
      swatch.style.background = `color(srgb-linear ${colours[i].join(" ")})`;
      label.append(swatch);
    }
    label.append(text);
    box.append(label);
    return input;
  });
  return {box, get: () => inputs.findIndex((input) => input.checked)};
}
