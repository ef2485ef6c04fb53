// A photograph that is exposed where it is shown. It knows no server: give it a picture (its layers of light),
// the lights and the settings; it paints at the next animation frame.

import {CanvasPainter, mixed} from "./canvas_painter.js";
import {expose, luminance, whiteOf} from "./exposure.js";
import {noiseLevels} from "./noise.js";
import {WebglPainter} from "./webgl_painter.js";

const HISTOGRAM_PIXELS = 20000;

export class Viewer {
  // canvas : an empty one.  numbers : those of `viewer_numbers`.  plain : paint without WebGL2.
  constructor(canvas, numbers, {plain = false} = {}) {
    Object.assign(this, {canvas, numbers, picture: null, lights: [], settings: null, exposed: null});
    this.options = {hatched: false, accent: [0.8, 0.1, 0.35]};
    this.waiting = false;
    this.onPainted = () => {};
    this.painter = (plain ? null : WebglPainter.on(canvas, numbers)) ?? new CanvasPainter(canvas, numbers);
    canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
    canvas.addEventListener("webglcontextrestored", () => this.#renew());
  }

  // picture : {width, height, layers: [{name, data, scale, petal}], noise: {electrons, read} or nothing}
  show(picture) {
    if (picture.layers.length > WebglPainter.MOST_LAYERS && this.painter instanceof WebglPainter) {
      throw new Error(`found ${picture.layers.length} lights, allowed ${WebglPainter.MOST_LAYERS}`);
    }
    this.picture = picture;
    this.painter.setPicture(picture);
    this.#ask();
  }

  // lights : [{name, kind, output, kelvin}] in any order.  settings : see exposure.js
  expose(lights, settings) {
    Object.assign(this, {lights, settings});
    this.#ask();
  }

  mark(options) {
    Object.assign(this.options, options);
    this.#ask();
  }

  // Counts of pixels in bins of a third of a stop from `from` to `to` stops about the mid-tone, and the shares
  // that are clipped.
  histogram(from = -7, to = 4, perStop = 3) {
    const counts = new Array((to - from) * perStop).fill(0);
    if (this.exposed === null) return {counts, clipped: 0, from, to};
    const {picture, numbers} = this, pixels = picture.width * picture.height;
    const step = Math.max(1, Math.floor(pixels / HISTOGRAM_PIXELS));
    const linear = mixed(picture, this.exposed.matrices, step);
    let clipped = 0;
    for (let at = 0; at < linear.length; at += 3) {
      const pixel = [0, 1, 2].map((i) => Math.min(linear[at + i], numbers.saturation));
      if (Math.max(...pixel) >= numbers.saturation * (1 - 1e-6)) clipped += 1;
      const stops = Math.log2(Math.max(luminance(pixel, numbers), 1e-9) / numbers.mid_tone);
      const bin = Math.floor((stops - from) * perStop);
      counts[Math.min(Math.max(bin, 0), counts.length - 1)] += 1;
    }
    return {counts, clipped: clipped / (linear.length / 3), from, to};
  }

  paintNow() {
    this.waiting = false;
    if (this.picture === null || this.settings === null) return;
    const known = new Map(this.lights.map((light) => [light.name, light]));
    const lights = this.picture.layers.map((layer) => ({...known.get(layer.name), petal: layer.petal}));
    if (lights.some((light) => light.kind === undefined)) return;
    this.exposed = expose(lights, this.settings, this.numbers);
    this.painter.paint(this.exposed.matrices, this.options, this.#noise());
    this.onPainted(this);
  }

  #noise() {
    const {picture: {noise}, settings, exposed, numbers} = this;
    if (!noise) return null;
    return noiseLevels(noise, settings.iso * 2 ** exposed.autoStops, whiteOf(settings.white_balance_k, numbers));
  }

  #ask() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => this.paintNow());
  }

  #renew() {
    this.painter = WebglPainter.on(this.canvas, this.numbers);
    if (this.picture !== null) this.painter.setPicture(this.picture);
    this.#ask();
  }
}
