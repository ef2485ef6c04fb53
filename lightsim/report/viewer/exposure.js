// Layers of light and the settings of the camera -> one matrix per light: the arithmetic of `photograph/mix`.
//
// A light is {name, kind: "flash" | "continuous" | "ambient", output, kelvin, petal: [r, g, b]}, `petal` being
// the bare petal's mean colour per unit of output. Settings are {iso (exact), shutter_s, effective_f_number,
// white_balance_k, auto}. Matrices are arrays of nine numbers, rows first, times a column of red, green, blue.

function times(matrix, vector) {
  return [0, 3, 6].map((row) =>
    matrix[row] * vector[0] + matrix[row + 1] * vector[1] + matrix[row + 2] * vector[2]);
}

function product(a, b) {
  return [...a.keys()].map((place) => {
    const row = 3 * Math.floor(place / 3), column = place % 3;
    return a[row] * b[column] + a[row + 1] * b[column + 3] + a[row + 2] * b[column + 6];
  });
}

function diagonal(vector) {
  return [vector[0], 0, 0, 0, vector[1], 0, 0, 0, vector[2]];
}

function inverse([a, b, c, d, e, f, g, h, i]) {
  const minors = [
    e * i - f * h, c * h - b * i, b * f - c * e,
    f * g - d * i, a * i - c * g, c * d - a * f,
    d * h - e * g, b * g - a * h, a * e - b * d,
  ];
  const determinant = a * minors[0] + b * minors[3] + c * minors[6];
  return minors.map((minor) => minor / determinant);
}

export function luminance(colour, numbers) {
  return colour.reduce((sum, part, channel) => sum + part * numbers.luminance[channel], 0);
}

// Colour of light of a temperature, luminance 1: a straight line between the table's two nearest entries.
export function whiteOf(kelvin, numbers) {
  const place = (1e6 / kelvin - numbers.first_mired) / numbers.mired_step;
  const last = numbers.whites.length - 1;
  const below = Math.min(Math.max(Math.floor(place), 0), last - 1);
  const share = Math.min(Math.max(place - below, 0), 1);
  return numbers.whites[below].map((part, channel) =>
    part + share * (numbers.whites[below + 1][channel] - part));
}

// What turns light of a temperature neutral: von Kries scaling in the Bradford cone space (ICC.1:2010).
export function whiteBalance(kelvin, numbers) {
  const cones = numbers.cone_of_rgb.flat();
  const from = times(cones, whiteOf(kelvin, numbers)), to = times(cones, [1, 1, 1]);
  return product(inverse(cones), product(diagonal(to.map((part, i) => part / from[i])), cones));
}

// Linear value for 1 cd/m2 of a layer: H = q L t / N^2 on the scale where the mid-tone is 0.18 (ISO 12232).
export function linearPerUnit(light, settings, numbers) {
  const time = light.kind === "flash" ? 1 : settings.shutter_s;
  return numbers.linear_per_unit * light.output * time * settings.iso / settings.effective_f_number ** 2;
}

// -> {matrices, autoStops, petal: the bare petal's linear luminance from each light, after all}
export function expose(lights, settings, numbers, gainStops = 0) {
  const balance = whiteBalance(settings.white_balance_k, numbers);
  const make = (stops) => lights.map((light) => {
    const gain = linearPerUnit(light, settings, numbers) * 2 ** stops;
    return product(balance, diagonal(whiteOf(light.kelvin, numbers).map((part) => part * gain)));
  });
  const brightness = (matrices) =>
    lights.map((light, i) => luminance(times(matrices[i], light.petal), numbers));
  let matrices = make(gainStops), petal = brightness(matrices), autoStops = 0;
  const whole = petal.reduce((sum, part) => sum + part, 0);
  if (settings.auto && whole > 0) {
    autoStops = Math.log2(numbers.mid_tone / whole);
    matrices = make(gainStops + autoStops);
    petal = brightness(matrices);
  }
  return {matrices, autoStops, petal};
}
