// What stands on the table, asked in the trade's words, with sensible answers filled in.

import {element, svg} from "./controls.js";
import {through} from "./flower_panel.js";
import {DIFFUSERS} from "./light_panel.js";

const SENSORS = [["36 × 24", [36, 24]], ["23.5 × 15.6", [23.5, 15.6]], ["17.3 × 13", [17.3, 13]]];
const FLOWERS = [
  ["rose", [0.58, 0.2, 0.33], [0.62, 0.52, 0.3]], ["white", [0.72, 0.72, 0.68], [0.6, 0.66, 0.4]],
  ["yellow", [0.72, 0.55, 0.05], [0.66, 0.4, 0.04]], ["blue", [0.2, 0.24, 0.6], [0.5, 0.5, 0.62]],
  ["red", [0.5, 0.03, 0.05], [0.25, 0.02, 0.03]], ["green leaf", [0.09, 0.22, 0.05], [0.12, 0.28, 0.07]],
];
const ROOMS = [["evening lamp", 100, 2900], ["usual room", 300, 4000], ["by a window", 1200, 5800]];
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
    const form = element("form", {method: "dialog", className: "start"});
    const fields = {
      sensor: radios("sensor", SENSORS.map(([words]) => words), 0, SENSORS.map(([, size]) => sensorPicture(size))),
      focal: number("Focal length", 100, "mm", 20, 300), own: number("The lens alone reaches", 1, "times life size", 0, 5, 0.1),
      tubes: number("Tubes, all together", 48, "mm", 0, 300), closeUp: number("Close-up lens (or 0)", 0, "dioptres", 0, 20, 0.5),
      guide: number("Guide number, ISO 100", 32, "m", 4, 80),
      diffuser: radios("diffuser", ["none", "small", "large", "round"], 1, ["none", "small", "large", "round"].map(diffuserPicture)),
      room: radios("room", ROOMS.map(([words]) => words), 1),
      flower: radios("flower", FLOWERS.map(([words]) => words), 0, FLOWERS.map(([, tip]) => petalPicture(tip))),
      drops: radios("drops", DROPS.map(([words]) => words), 1, DROPS.map(([, count]) => petalPicture(null, Math.round(2 + count / 11)))),
    };
    const group = (title, ...parts) => element("fieldset", {}, element("legend", {textContent: title}), ...parts.map((one) => one.box));
    const leave = element("button", {type: "button", textContent: "Not now"});
    leave.addEventListener("click", () => this.dialog.close());
    const lead = element("p", {className: "quiet", textContent: "Change what is different with you; all of it can be changed "
      + "afterwards too. The photograph comes at once."});
    form.append(element("div", {className: "sides"},
      element("div", {}, group("Flower", fields.flower), group("Water on it", fields.drops), group("Room", fields.room)),
      element("div", {}, group("Camera: its sensor, in mm", fields.sensor),
        group("Lens and what lengthens it", fields.focal, fields.own, fields.tubes, fields.closeUp),
        group("Flash, with its diffuser", fields.guide, fields.diffuser))),
    element("div", {className: "row"}, leave, element("button", {type: "submit", className: "primary", textContent: "Put it on the table"})));
    form.addEventListener("submit", () => this.#put(fields));
    if (this.dialog.open) this.dialog.close();
    this.dialog.replaceChildren(element("h2", {id: "dialog-title", textContent: "What stands on the table?"}), lead, form);
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
  const box = element("p", {className: "asked"}, element("label", {htmlFor: input.id, textContent: label}), input,
    element("span", {className: "quiet", textContent: unit}));
  return {box, get: () => Number(input.value)};
}

function radios(name, words, chosen, pictures = null) {
  const box = element("div", {className: "choices"});
  const inputs = words.map((text, i) => {
    const input = element("input", {type: "radio", name, value: i, checked: i === chosen});
    const label = element("label", {}, input);
    if (pictures) label.append(pictures[i]);
    label.append(text);
    box.append(label);
    return input;
  });
  return {box, get: () => inputs.findIndex((input) => input.checked)};
}

function picture(...parts) {
  return svg("svg", {class: "mark", viewBox: "-20 -20 40 40", "aria-hidden": "true"}, ...parts);
}

// A petal in its colour, or in outline with drops on it, the same for the same number of them.
function petalPicture(tip, drops = 0) {
  const petal = svg("path", {class: "petal", d: "M0 19C-15 8-17-8-9-16C-5-19-2-17 0-15C2-17 5-19 9-16C17-8 15 8 0 19Z"});
  if (tip) petal.style.fill = `color(srgb-linear ${tip.join(" ")})`;
  const dots = [...Array(drops).keys()].map((i) => {
    const turn = 2.4 * i, far = 11.5 * Math.sqrt((i + 0.5) / drops);
    return svg("circle", {class: "drop", cx: far * Math.cos(turn), cy: far * Math.sin(turn) - 3, r: 1.5 + (i * 7) % 3 * 0.35});
  });
  return picture(petal, ...dots);
}

function sensorPicture([width, height]) {
  return picture(svg("rect", {class: "outline", x: -width / 2, y: -height / 2, width, height}));
}

// The flash's head with what stands before it, all to one scale.
function diffuserPicture(word) {
  const one = DIFFUSERS[word], scale = 0.22;
  const head = svg("rect", {class: "head", x: -6, y: -3.5, width: 12, height: 7});
  if (one === null) return picture(head);
  const [w, h] = [one.width_mm * scale, one.height_mm * scale];
  const sheet = one.shape === "round" ? svg("circle", {class: "outline", r: w / 2})
    : svg("rect", {class: "outline", x: -w / 2, y: -h / 2, width: w, height: h});
  return picture(head, sheet);
}
