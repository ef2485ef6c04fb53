// Half floats (IEEE 754 binary16) to numbers, by a table of all 65,536.

let table = null;

export function halfTable() {
  if (table !== null) return table;
  table = new Float32Array(65536);
  for (let bits = 0; bits < 65536; bits += 1) {
    const sign = bits & 0x8000 ? -1 : 1, exponent = (bits >> 10) & 31, fraction = bits & 1023;
    table[bits] = exponent === 0
      ? sign * fraction * 2 ** -24
      : exponent === 31 ? 0 : sign * (1 + fraction / 1024) * 2 ** (exponent - 15);
  }
  return table;
}
