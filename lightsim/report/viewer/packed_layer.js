// Undoes `packed_layer.py`: deflated steps of luminance and ratios of colour back to half floats.

const ESCAPE = 255, RATIO_STEPS_PER_STOP = 24, BRIGHTEST_HALF = 60000;

// packed : {data: base64 text, brightest, top, steps}.  -> {data: Uint16Array of half floats, scale}
export async function unpackedLayer(packed, width, height, numbers) {
  const bytes = await inflated(packed.data), small = [Math.ceil(width / 2), Math.ceil(height / 2)];
  const reader = {bytes, at: 0};
  const codes = plane(reader, width, height);
  const red = plane(reader, ...small), blue = plane(reader, ...small);
  const scale = packed.brightest / BRIGHTEST_HALF * 16, [wr, wg, wb] = numbers.luminance;
  const light = Float32Array.from({length: packed.top + 1}, (_, code) =>
    code === 0 ? 0 : packed.brightest * 2 ** ((code - packed.top) / packed.steps) / scale);
  const ratio = (code) => 2 ** (code / RATIO_STEPS_PER_STOP);
  const data = new Uint16Array(3 * width * height);
  for (let y = 0, at = 0; y < height; y += 1) {
    const row = (y >> 1) * small[0];
    for (let x = 0; x < width; x += 1, at += 1) {
      const value = light[codes[at]], place = row + (x >> 1);
      const r = value * ratio(red[place]), b = value * ratio(blue[place]);
      data[3 * at] = half(r);
      data[3 * at + 1] = half(Math.max((value - wr * r - wb * b) / wg, 0));
      data[3 * at + 2] = half(b);
    }
  }
  return {data, scale};
}

async function inflated(base64) {
  const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate-raw"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

// One plane of whole numbers: each is what its neighbours foretell (the median predictor) plus what was left.
function plane(reader, width, height) {
  const {bytes} = reader, values = new Int32Array(width * height);
  let at = reader.at;
  for (let y = 0, here = 0; y < height; y += 1) {
    for (let x = 0; x < width; x += 1, here += 1) {
      let folded = bytes[at++];
      if (folded === ESCAPE) {
        folded = bytes[at] | (bytes[at + 1] << 8);
        at += 2;
      }
      const rest = folded & 1 ? -((folded + 1) >> 1) : folded >> 1;
      const left = x > 0 ? values[here - 1] : 0, above = y > 0 ? values[here - width] : 0;
      const corner = x > 0 && y > 0 ? values[here - width - 1] : 0;
      const low = Math.min(left, above), high = Math.max(left, above);
      values[here] = rest + (corner >= high ? low : corner <= low ? high : left + above - corner);
    }
  }
  reader.at = at;
  return values;
}

const number = new Float32Array(1), bits = new Uint32Array(number.buffer);

// The nearest half float (IEEE 754 binary16) of a number from 0 to 65504.
function half(value) {
  number[0] = Math.min(value, 65504);
  const whole = bits[0], exponent = ((whole >> 23) & 255) - 112;
  if (exponent <= 0) return Math.round(value * 2 ** 24);
  return (exponent << 10) + (((whole & 0x7fffff) + 0x1000) >> 13);
}
