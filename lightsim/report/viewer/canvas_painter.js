// Paints a photograph from its layers on a plain canvas: where there is no WebGL2, or too many lights for it.

import {halfTable} from "./half_floats.js";
import {addNoise} from "./noise.js";
import {toneTables} from "./tone.js";

export class CanvasPainter {
  constructor(canvas, numbers) {
    Object.assign(this, {canvas, numbers, picture: null, context: canvas.getContext("2d")});
    this.tone = toneTables(numbers);
  }

  setPicture(picture) {
    this.picture = picture;
    if (this.canvas.width !== picture.width || this.canvas.height !== picture.height) {
      this.canvas.width = picture.width;
      this.canvas.height = picture.height;
    }
    this.image = this.context.createImageData(picture.width, picture.height);
  }

  // noise : {electrons, read} for each channel, null for a clean picture
  paint(matrices, {hatched = false, accent = [1, 0, 0.4]} = {}, noise = null) {
    const {picture, image} = this;
    if (picture === null) return;
    const linear = mixed(picture, matrices), {data} = image;
    if (noise !== null) addNoise(linear, picture.width, noise);
    for (let at = 0, to = 0; at < linear.length; at += 3, to += 4) {
      this.tone(linear[at], linear[at + 1], linear[at + 2], data, to);
    }
    if (hatched) this.#hatch(linear, accent);
    this.context.putImageData(image, 0, 0);
  }

  pixels() {
    return this.image.data;
  }

  #hatch(linear, accent) {
    const {width, height} = this.picture, {data} = this.image;
    const limit = this.numbers.saturation * (1 - 1e-6);
    const burnt = (x, y) => {
      const at = 3 * (Math.min(Math.max(y, 0), height - 1) * width + Math.min(Math.max(x, 0), width - 1));
      return Math.max(linear[at], linear[at + 1], linear[at + 2]) >= limit;
    };
    for (let y = 0; y < height; y += 1) {
      for (let x = 0; x < width; x += 1) {
        if (!burnt(x, y)) continue;
        const edge = !burnt(x + 1, y) || !burnt(x - 1, y) || !burnt(x, y + 1) || !burnt(x, y - 1);
        if (edge || (x + y + 1) % 6 < 1.5) {
          accent.forEach((part, channel) => { data[4 * (y * width + x) + channel] = 255 * part; });
        }
      }
    }
  }
}

// The linear picture: each layer times its matrix, added; three numbers a pixel. `step` takes each step-th pixel.
export function mixed(picture, matrices, step = 1) {
  const half = halfTable(), count = Math.ceil(picture.width * picture.height / step);
  const sum = new Float32Array(3 * count);
  picture.layers.forEach((layer, number) => {
    const [a, b, c, d, e, f, g, h, i] = matrices[number].map((part) => part * layer.scale), {data} = layer;
    for (let at = 0, from = 0; at < sum.length; at += 3, from += 3 * step) {
      const red = half[data[from]], green = half[data[from + 1]], blue = half[data[from + 2]];
      sum[at] += a * red + b * green + c * blue;
      sum[at + 1] += d * red + e * green + f * blue;
      sum[at + 2] += g * red + h * green + i * blue;
    }
  });
  return sum;
}
