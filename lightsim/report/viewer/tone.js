// The linear photograph -> eight-bit sRGB: the curve of `photograph/tone`, for one pixel and as shader text.

export function shoulder(linear, numbers) {
  const {saturation, knee} = numbers;
  if (linear <= knee) return Math.max(linear, 0);
  const span = saturation - knee;
  const t = Math.min((linear - knee) / span, 1);
  return 1 - (1 - knee) * (1 - t) ** (span / (1 - knee));
}

export function srgbCode(linear) {
  const x = Math.min(Math.max(linear, 0), 1);
  return Math.round(255 * (x <= 0.0031308 ? 12.92 * x : 1.055 * x ** (1 / 2.4) - 0.055));
}

// Both curves as tables, for painting on the processor: 4096 steps keep within half a code.
const STEPS = 16384;
export function toneTables(numbers) {
  const curve = new Float32Array(STEPS + 1), code = new Uint8ClampedArray(STEPS + 1);
  for (let step = 0; step <= STEPS; step += 1) {
    curve[step] = shoulder(step / STEPS * numbers.saturation, numbers);
    code[step] = srgbCode((step / STEPS) ** 2);
  }
  const {saturation, knee, hue_share: hue} = numbers;
  const curved = (x) => curve[Math.round(x / saturation * STEPS)];
  const coded = (x) => code[Math.round(Math.sqrt(Math.min(x, 1)) * STEPS)];
  return (r, g, b, into, at) => {
    r = Math.min(Math.max(r, 0), saturation);
    g = Math.min(Math.max(g, 0), saturation);
    b = Math.min(Math.max(b, 0), saturation);
    const most = Math.max(r, g, b);
    if (most > knee) {
      const gain = hue * curved(most) / most;
      r = r * gain + (1 - hue) * curved(r);
      g = g * gain + (1 - hue) * curved(g);
      b = b * gain + (1 - hue) * curved(b);
    }
    into[at] = coded(r); into[at + 1] = coded(g); into[at + 2] = coded(b); into[at + 3] = 255;
  };
}

export const TONE_SHADER = `
uniform float saturation, knee, hue;
vec3 shoulder(vec3 x) {
  float span = saturation - knee;
  vec3 t = clamp((x - knee) / span, 0.0, 1.0);
  vec3 curved = 1.0 - (1.0 - knee) * pow(1.0 - t, vec3(span / (1.0 - knee)));
  return mix(curved, max(x, 0.0), vec3(lessThanEqual(x, vec3(knee))));
}
vec3 toned(vec3 linear) {
  vec3 x = clamp(linear, 0.0, saturation);
  float most = max(x.r, max(x.g, x.b));
  vec3 shown = shoulder(x);
  if (most > knee) shown = x * (hue * shoulder(vec3(most)).r / most) + (1.0 - hue) * shown;
  vec3 y = clamp(shown, 0.0, 1.0);
  vec3 curved = 1.055 * pow(y, vec3(1.0 / 2.4)) - 0.055;
  return mix(curved, 12.92 * y, vec3(lessThanEqual(y, vec3(0.0031308))));
}
`;
