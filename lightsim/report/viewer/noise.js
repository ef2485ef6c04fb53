// The sensor's noise, as `photograph/sensor` counts it: photons, and what reading them adds. A pixel's mean of m
// electrons is drawn from a normal distribution of variance m + read^2, which stands for the counts of Poisson.

// For each channel the electrons of a linear value of 1. noise : {electrons, read}, electrons of a linear value
// of 1 at ISO 1.  white : linear colour of the light that is shown neutral.
export function noiseLevels(noise, iso, white) {
  return {electrons: white.map((part) => noise.electrons / iso * Math.max(part, 1e-3)), read: noise.read};
}

// Adds the noise to a linear picture (three numbers a pixel) in place; the same for the same picture size.
export function addNoise(linear, width, {electrons, read}) {
  for (let at = 0; at < linear.length; at += 3) {
    const pixel = at / 3, draws = normals(pixel % width, Math.floor(pixel / width));
    for (let channel = 0; channel < 3; channel += 1) {
      const mean = Math.max(linear[at + channel], 0) * electrons[channel];
      linear[at + channel] = (mean + Math.sqrt(mean + read * read) * draws[channel]) / electrons[channel];
    }
  }
}

// Three normal numbers for a pixel: Box and Muller (1958) over a hash of its place.
function normals(x, y) {
  const a = hashed(x, y, 1), b = hashed(x, y, 2);
  return a.map((part, i) => Math.sqrt(-2 * Math.log((part + 1) / 4294967297)) * Math.cos(2 * Math.PI * b[i] / 4294967296));
}

// The hash pcg3d: Jarzynski and Olano, Journal of Computer Graphics Techniques 9 (3), 2020.
function hashed(x, y, z) {
  const step = (part) => (Math.imul(part, 1664525) + 1013904223) >>> 0;
  let [a, b, c] = [step(x), step(y), step(z)];
  const mix = () => {
    a = (a + Math.imul(b, c)) >>> 0;
    b = (b + Math.imul(c, a)) >>> 0;
    c = (c + Math.imul(a, b)) >>> 0;
  };
  mix();
  a = (a ^ (a >>> 16)) >>> 0;
  b = (b ^ (b >>> 16)) >>> 0;
  c = (c ^ (c >>> 16)) >>> 0;
  mix();
  return [a, b, c];
}

export const NOISE_SHADER = `
uniform vec3 electrons; uniform float read;
uvec3 hashed(uvec3 v) {
  v = v * 1664525u + 1013904223u;
  v.x += v.y * v.z; v.y += v.z * v.x; v.z += v.x * v.y;
  v ^= v >> 16u;
  v.x += v.y * v.z; v.y += v.z * v.x; v.z += v.x * v.y;
  return v;
}
vec3 noisy(vec3 linear, uvec2 place) {
  if (electrons.r <= 0.0) return linear;
  vec3 a = (vec3(hashed(uvec3(place, 1u)) >> 8u) + 0.5) / 16777216.0;
  vec3 b = vec3(hashed(uvec3(place, 2u)) >> 8u) / 16777216.0;
  vec3 mean = max(linear, 0.0) * electrons;
  return (mean + sqrt(mean + read * read) * sqrt(-2.0 * log(a)) * cos(6.2831853 * b)) / electrons;
}
`;
