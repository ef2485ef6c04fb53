// What was measured in the picture, the histogram, the picked drop, the cautions.

import {element, svg} from "./controls.js";
import {clockWords} from "./store.js";

// words, keys (the first that is there), how the value is written
const ROWS = [
  ["Petal contrast", ["petal_contrast_stops"], stops],
  ["Shadow depth", ["shadow_depth_stops"], stops],
  ["Texture, fine", ["texture_fine_rms"], rms],
  ["Texture, coarse", ["texture_coarse_rms"], rms],
  ["Lighting ratio", ["lighting_stops"], stops],
];

const DROP_ROWS = [
  ["Width", ["highlight_long_mm"], (mm) => `${mm.toPrecision(2)} mm`],
  ["Long : short", ["highlight_aspect"], (ratio) => ratio.toFixed(2)],
  ["From the middle", ["highlight_place_share"], (share) => `${Math.round(100 * share)} % of the way to the rim`],
  ["Toward", ["highlight_clock"], clockWords],
  ["Over the petal", ["highlight_stops_above_petal"], (value) => `${value.toFixed(1)} stops`],
  ["Of the drop’s disc", ["highlight_disc_share"], percent],
];

function stops(value) {
  return `${(2 ** value).toPrecision(3)} : 1, ${value.toFixed(1)} stops`;
}

function rms(share) {
  return `${percent(share)} RMS`;
}

function percent(share) {
  return `${Number((100 * share).toPrecision(2))} %`;
}

export class NumbersPanel {
  constructor(store, photo) {
    Object.assign(this, {store, photo, timer: null});
    store.on("numbers", () => this.#draw());
    store.on("state", () => this.#cautions());
  }

  #draw() {
    const {frame, drop, missing, notes, not_buildable: unbuildable} = this.store.measures;
    const warning = document.getElementById("unbuildable");
    warning.hidden = unbuildable.length === 0;
    warning.textContent = `This cannot be built: ${unbuildable.join("; ")}.`;
    const rows = ROWS.flatMap(([words, keys, write]) => row(words, keys, write, frame, missing));
    const petal = frame.petal_stops_from_mid_tone;
    if (Number.isFinite(petal)) rows.push(...pair("Petal", Math.abs(petal) < 0.05 ? "at the mid-tone" : `${signed(petal)} stops from mid-tone`));
    if (Number.isFinite(notes.room_light_share)) rows.push(...pair("Room light", percent(notes.room_light_share)));
    if (Number.isFinite(frame.clipped_share)) rows.push(...pair("Burnt out", percent(frame.clipped_share)));
    document.getElementById("numbers").replaceChildren(...rows);
    const told = drop === null ? pair("", missing.reference_drop ?? "no drop can be measured", "why")
      : [...pair("Drop", `${drop.drop}`),
        ...DROP_ROWS.flatMap(([words, keys, write]) => row(words, keys, write, drop, {}))];
    const why = Object.values(drop?.missing ?? {})[0];
    if (why && told.length <= 2) told.push(...pair("", why, "why"));
    document.getElementById("drop-numbers").replaceChildren(...told);
  }

  // After each painting: the histogram and the drop's enlarged picture.
  painted() {
    if (this.timer !== null) return;
    this.timer = setTimeout(() => {
      this.timer = null;
      this.#histogram();
      this.#dropPicture();
    }, 60);
  }

  #histogram() {
    const {counts, clipped, from, to} = this.photo.viewer.histogram();
    const most = Math.max(...counts, 1), width = 264 / counts.length, root = document.getElementById("histogram");
    const bars = counts.map((count, i) => svg("rect", {class: "bar", x: (i * width).toFixed(2), width: (width - .6).toFixed(2),
      y: (54 - 52 * Math.sqrt(count / most)).toFixed(1), height: (52 * Math.sqrt(count / most)).toFixed(1)}));
    const ticks = [];
    for (let stop = from + 1; stop < to; stop += 1) {
      const x = (stop - from) * 264 / (to - from), words = svg("text", {x, y: 70});
      words.textContent = stop === 0 ? "mid-tone" : `${signed(stop, 0)}`;
      ticks.push(svg("line", {class: "tick", x1: x, x2: x, y1: 54, y2: stop === 0 ? 2 : 58}));
      if (Math.abs(stop) !== 1) ticks.push(words);
    }
    root.replaceChildren(...ticks, ...bars);
    root.setAttribute("aria-label", `Histogram in stops from mid-tone; ${percent(clipped)} burnt out`);
  }

  #dropPicture() {
    const canvas = document.getElementById("drop-picture"), context = canvas.getContext("2d");
    const {measures} = this.store, place = measures?.drops?.[measures?.drop?.drop];
    context.clearRect(0, 0, canvas.width, canvas.height);
    if (place === undefined) return;
    const source = this.photo.canvas, half = place[2] * 1.35 * source.width;
    context.imageSmoothingQuality = "high";
    context.drawImage(source, place[0] * source.width - half, place[1] * source.width - half, 2 * half, 2 * half,
      0, 0, canvas.width, canvas.height);
  }

  #cautions() {
    const {cautions} = this.store.state;
    if (cautions === undefined) return;
    document.getElementById("cautions").replaceChildren(...cautions.map(({words, on}) =>
      element("li", {className: on.length ? "" : "last", textContent: words})));
  }
}

function signed(value, places = 1) {
  return `${value < 0 ? "−" : "+"}${Math.abs(value).toFixed(places)}`;
}

function pair(words, value, name = "") {
  return [element("dt", {textContent: words}), element("dd", {textContent: value, className: name})];
}

function row(words, keys, write, values, missing) {
  const key = keys.find((one) => values[one] !== undefined);
  if (key === undefined) return [];
  const value = values[key];
  if (value !== null) return pair(words, write(value));
  return missing[key] ? pair(words, missing[key], "why") : [];
}
