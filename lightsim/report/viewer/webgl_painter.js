// Paints a photograph from its layers with WebGL2: one pass mixes the lights, applies the tone curve and hatches
// what is burnt out. A picture is {width, height, layers: [{data: Uint16Array of half floats, scale}]}.

import {NOISE_SHADER} from "./noise.js";
import {TONE_SHADER} from "./tone.js";

const MOST_LAYERS = 14;

const CORNERS = `#version 300 es
void main() { gl_Position = vec4(4.0 * float(gl_VertexID & 1) - 1.0, 2.0 * float(gl_VertexID & 2) - 1.0, 0.0, 1.0); }`;

function fragmentShader(count) {
  const each = [...Array(count).keys()];
  return `#version 300 es
precision highp float; precision highp int;
${each.map((i) => `uniform highp sampler2D layer${i}; uniform mat3 matrix${i};`).join("\n")}
uniform vec2 size; uniform bool hatched; uniform vec3 accent;
out vec4 pixel;
${TONE_SHADER}
${NOISE_SHADER}
vec3 mixed(vec2 place) {
  vec3 sum = vec3(0.0);
${each.map((i) => `  sum += matrix${i} * texture(layer${i}, place).rgb;`).join("\n")}
  return noisy(sum, uvec2(place * size));
}
bool burnt(vec3 x) { return max(x.r, max(x.g, x.b)) >= saturation * (1.0 - 1e-6); }
void main() {
  vec2 at = vec2(gl_FragCoord.x, size.y - gl_FragCoord.y);
  vec3 linear = mixed(at / size);
  vec3 shown = toned(linear);
  if (hatched && burnt(linear)) {
    bool edge = !burnt(mixed((at + vec2(1, 0)) / size)) || !burnt(mixed((at - vec2(1, 0)) / size))
      || !burnt(mixed((at + vec2(0, 1)) / size)) || !burnt(mixed((at - vec2(0, 1)) / size));
    if (edge || mod(at.x + at.y, 6.0) < 1.5) shown = accent;
  }
  pixel = vec4(shown, 1.0);
}`;
}

export class WebglPainter {
  // null where the browser has no WebGL2
  static on(canvas, numbers) {
    const gl = canvas.getContext("webgl2", {alpha: true, antialias: false, preserveDrawingBuffer: true});
    return gl === null ? null : new WebglPainter(canvas, gl, numbers);
  }

  constructor(canvas, gl, numbers) {
    Object.assign(this, {canvas, gl, numbers, picture: null, programs: new Map(), textures: new Map()});
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 2);
  }

  static MOST_LAYERS = MOST_LAYERS;

  setPicture(picture) {
    const {gl, canvas} = this;
    for (const [layer, texture] of this.textures) {
      if (picture.layers.includes(layer)) continue;
      gl.deleteTexture(texture);
      this.textures.delete(layer);
    }
    this.picture = picture;
    if (canvas.width !== picture.width || canvas.height !== picture.height) {
      canvas.width = picture.width;
      canvas.height = picture.height;
    }
  }

  // noise : {electrons, read} for each channel, null for a clean picture
  paint(matrices, {hatched = false, accent = [1, 0, 0.4]} = {}, noise = null) {
    const {gl, picture, numbers} = this;
    if (picture === null || gl.isContextLost()) return;
    const {program, places} = this.#program(picture.layers.length);
    gl.viewport(0, 0, picture.width, picture.height);
    gl.useProgram(program);
    picture.layers.forEach((layer, i) => {
      gl.activeTexture(gl.TEXTURE0 + i);
      gl.bindTexture(gl.TEXTURE_2D, this.#texture(layer));
      gl.uniform1i(places.layers[i], i);
      gl.uniformMatrix3fv(places.matrices[i], true, matrices[i].map((part) => part * layer.scale));
    });
    gl.uniform2f(places.size, picture.width, picture.height);
    gl.uniform1f(places.saturation, numbers.saturation);
    gl.uniform1f(places.knee, numbers.knee);
    gl.uniform1f(places.hue, numbers.hue_share);
    gl.uniform3fv(places.electrons, noise?.electrons ?? [0, 0, 0]);
    gl.uniform1f(places.read, noise?.read ?? 0);
    gl.uniform1i(places.hatched, hatched ? 1 : 0);
    gl.uniform3fv(places.accent, accent);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  }

  // Eight-bit red, green, blue, alpha of each pixel, rows from the top.
  pixels() {
    const {gl, picture: {width, height}} = this;
    const bottomUp = new Uint8Array(4 * width * height), result = new Uint8ClampedArray(4 * width * height);
    gl.readPixels(0, 0, width, height, gl.RGBA, gl.UNSIGNED_BYTE, bottomUp);
    for (let row = 0; row < height; row += 1) {
      const from = 4 * width * (height - 1 - row);
      result.set(bottomUp.subarray(from, from + 4 * width), 4 * width * row);
    }
    return result;
  }

  #texture(layer) {
    const {gl, picture} = this;
    let texture = this.textures.get(layer);
    if (texture !== undefined) return texture;
    texture = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGB16F, picture.width, picture.height, 0, gl.RGB, gl.HALF_FLOAT,
      layer.data);
    for (const [name, value] of [["MIN_FILTER", "NEAREST"], ["MAG_FILTER", "NEAREST"],
      ["WRAP_S", "CLAMP_TO_EDGE"], ["WRAP_T", "CLAMP_TO_EDGE"]]) {
      gl.texParameteri(gl.TEXTURE_2D, gl[`TEXTURE_${name}`], gl[value]);
    }
    this.textures.set(layer, texture);
    return texture;
  }

  #program(count) {
    if (this.programs.has(count)) return this.programs.get(count);
    const {gl} = this, program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, CORNERS], [gl.FRAGMENT_SHADER, fragmentShader(count)]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program));
    const place = (name) => gl.getUniformLocation(program, name);
    const each = [...Array(count).keys()];
    const places = {layers: each.map((i) => place(`layer${i}`)), matrices: each.map((i) => place(`matrix${i}`))};
    for (const name of ["size", "saturation", "knee", "hue", "hatched", "accent", "electrons", "read"]) places[name] = place(name);
    this.programs.set(count, {program, places});
    return this.programs.get(count);
  }
}
