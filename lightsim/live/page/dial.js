// The dial: the flower's sky seen from the lens. The middle is light from the lens, the rim from behind.

import {svg} from "./controls.js";
import {clockWords, tradeName} from "./store.js";

const RADIUS = 100;
const ZONES = [[15, "frontal"], [45, "three-quarter"], [90, "side"], [150, "back"]];

export const TINTS = [
  ["petal contrast", ["petal_contrast_stops"]],
  ["texture", ["texture_fine_stops"]],
  ["brightness", ["petal_stops_from_mid_tone"]],
  ["nothing", []],
];

export function place(angle, clock) {
  const turn = clock * Math.PI / 6, r = RADIUS * angle / 180;
  return [r * Math.sin(turn), -r * Math.cos(turn)];
}

export class Dial {
  // chosen() -> name of the thing that is moved; choose(name)
  constructor(store, chosen, choose) {
    Object.assign(this, {store, chosen, choose, handles: new Map()});
    this.root = document.getElementById("dial");
    this.tint = document.getElementById("tint");
    this.tint.append(...TINTS.map(([words], i) => new Option(words, i)));
    this.tint.addEventListener("change", () => this.#drawSky());
    this.cells = svg("g", {"aria-hidden": "true"});
    this.marks = svg("g");
    this.hidden = svg("path", {class: "hidden-cell", "aria-hidden": "true"});
    this.freeFrom = {};
    this.root.append(hatch(), this.cells, this.hidden, rings(), this.marks);
    store.on("numbers", () => {
      Object.assign(this.freeFrom, store.measures.free_from_deg);
      this.#drawHidden();
    });
    store.on("state own", () => this.#draw());
    store.on("sky", () => this.#drawSky());
  }

  #draw() {
    const things = this.store.things(), names = new Set(things.map((thing) => thing.name));
    for (const [name, handle] of this.handles) {
      if (names.has(name)) continue;
      handle.remove();
      this.handles.delete(name);
    }
    this.#drawHidden();
    for (const thing of things) {
      if (!this.handles.has(thing.name)) this.#addHandle(thing);
      const handle = this.handles.get(thing.name), [x, y] = place(thing.angle, thing.clock);
      handle.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)})`);
      handle.setAttribute("class",
        `handle ${thing.kind === "card" ? "card" : "light"}${thing.name === this.chosen() ? " chosen" : ""}`);
      handle.setAttribute("aria-valuenow", Math.round(thing.angle));
      handle.setAttribute("aria-valuetext",
        `${Math.round(thing.angle)} degrees, ${clockWords(thing.clock)}, ${tradeName(thing.angle)}`);
    }
  }

  // What the lens hides: where the chosen light would stand in its way.
  #drawHidden() {
    const angle = this.freeFrom[this.chosen()] ?? 0;
    this.hidden.setAttribute("d", angle > 0 ? circle(angle) : "");
  }

  #addHandle(thing) {
    const mark = thing.kind === "card" ? svg("rect", {class: "mark", x: -4.5, y: -4.5, width: 9, height: 9}) : svg("circle", {class: "mark", r: 5});
    const handle = svg("g", {tabindex: 0, role: "slider", "aria-label": `${thing.name} on the dial`,
      "aria-valuemin": 0, "aria-valuemax": 180},
    svg("circle", {class: "reach", r: 14}), svg("circle", {class: "halo", r: 10}), mark,
    text(9, 3, thing.name));
    handle.addEventListener("focus", () => this.choose(thing.name));
    handle.addEventListener("keydown", (event) => this.#key(event, thing.name));
    handle.addEventListener("pointerdown", (event) => this.#grab(event, thing.name, handle));
    this.handles.set(thing.name, handle);
    this.marks.append(handle);
  }

  // A ring is held at the lens's front.
  #isFixed(name) {
    return this.store.things().find((one) => one.name === name)?.fixed === true;
  }

  #grab(event, name, handle) {
    event.preventDefault();
    handle.focus({preventScroll: true});
    if (this.#isFixed(name)) return;
    handle.setPointerCapture(event.pointerId);
    this.store.hand(true);
    const drag = (moved) => this.#drag(moved, name);
    const end = () => {
      handle.removeEventListener("pointermove", drag);
      for (const kind of ["pointerup", "pointercancel"]) handle.removeEventListener(kind, end);
      this.store.hand(false);
    };
    handle.addEventListener("pointermove", drag);
    for (const kind of ["pointerup", "pointercancel"]) handle.addEventListener(kind, end);
  }

  #drag(event, name) {
    const inverse = this.root.getScreenCTM().inverse();
    const {x, y} = new DOMPoint(event.clientX, event.clientY).matrixTransform(inverse);
    const fine = event.shiftKey;
    const angle = snapped(Math.min(180, Math.hypot(x, y) / RADIUS * 180), 1, fine ? 0 : 5, 1.2);
    let clock = Math.atan2(x, -y) * 6 / Math.PI;
    clock = snapped(clock <= 0 ? clock + 12 : clock, 0.05, fine ? 0 : 0.25, 0.06);
    this.store.move(name, {angle, clock: clock === 0 ? 12 : clock});
  }

  // Arrow keys: up and down turn toward the lens and away, left and right go round; shift goes finer.
  #key(event, name) {
    const steps = event.shiftKey ? [1, 0.05] : [5, 0.25];
    const moves = {ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1],
      PageUp: [-3, 0], PageDown: [3, 0]};
    if (!(event.key in moves) || this.#isFixed(name)) return;
    event.preventDefault();
    const thing = this.store.things().find((one) => one.name === name);
    const [byAngle, byClock] = moves[event.key];
    const next = {};
    if (byAngle !== 0) next.angle = Math.min(180, Math.max(0, stepped(thing.angle, byAngle * steps[0], steps[0])));
    if (byClock !== 0) next.clock = ((stepped(thing.clock, byClock * steps[1], steps[1]) % 12) + 12) % 12 || 12;
    this.store.move(name, next);
  }

  #drawSky() {
    const {places} = this.store.sky, keys = TINTS[Number(this.tint.value)][1];
    const valueOf = (measures) => keys.map((key) => measures[key]).find((value) => value !== undefined && value !== null);
    const values = places.map(([, , , measures]) => valueOf(measures)).filter(Number.isFinite);
    const low = Math.min(...values), span = Math.max(...values) - low || 1;
    const known = new Map(places.map((one) => [`${one[0]} ${one[1]}`, one]));
    this.cells.replaceChildren(...places.flatMap(([angle, clock, stands, measures]) => {
      const d = sector(angle, clock, reach(known, angle, clock));
      if (!stands) return [svg("path", {class: "hidden-cell", d})];
      const value = valueOf(measures);
      if (!Number.isFinite(value)) return [];
      const share = 6 + 60 * (value - low) / span;
      const cell = svg("path", {class: "cell", d});
      cell.style.fill = `color-mix(in oklab, var(--accent) ${share.toFixed(0)}%, var(--paper))`;
      return [cell];
    }));
    const words = keys.length && values.length
      ? `${TINTS[Number(this.tint.value)][0]} ${low.toFixed(1)} (pale) to ${(low + span).toFixed(1)} stops; ` : "";
    document.getElementById("sky-shown").textContent =
      places.length ? `${words}${places.length} ${places.length === 1 ? "place" : "places"} known${places.some((one) => !one[2]) ? "; hatched: cannot stand there" : ""}` : "";
  }
}

// The nearest step; near a coarse one that, so that kept places are met.
function snapped(value, step, coarse, near) {
  const wide = coarse > 0 ? Math.round(value / coarse) * coarse : Infinity;
  return Math.abs(value - wide) <= near ? wide : Math.round(value / step) * step;
}

function stepped(value, by, step) {
  const next = value + by, grid = Math.round(next / step) * step;
  return Math.abs(grid - next) < 1e-6 ? grid : (by > 0 ? Math.floor(next / step) : Math.ceil(next / step)) * step;
}

// Half the extent of a cell: half way to the nearest known neighbour, on each axis.
function reach(known, angle, clock) {
  const steps = [[5, 0.25], [10, 0.5], [15, 1], [30, 3]];
  const has = (a, c) => known.has(`${a} ${c <= 0 ? c + 12 : c > 12 ? c - 12 : c}`);
  const byAngle = steps.find(([step]) => has(angle + step, clock) || has(angle - step, clock))?.[0] ?? 30;
  const byClock = steps.find(([, step]) => has(angle, clock + step) || has(angle, clock - step))?.[1] ?? 3;
  return [byAngle / 2, byClock / 2];
}

function sector(angle, clock, [halfAngle, halfClock]) {
  const inner = Math.max(0, angle - halfAngle), outer = Math.min(180, angle + halfAngle);
  if (angle === 0) return circle(outer);
  if (angle === 180) return `${circle(180)}${circle(inner)}`;
  const [a, b, c, d] = [[inner, -1], [outer, -1], [outer, 1], [inner, 1]].map(([at, side]) =>
    place(at, clock + side * halfClock).map((part) => part.toFixed(2)).join(" "));
  const radius = (at) => (RADIUS * at / 180).toFixed(2);
  return `M${a}L${b}A${radius(outer)} ${radius(outer)} 0 0 1 ${c}L${d}A${radius(inner)} ${radius(inner)} 0 0 0 ${a}Z`;
}

function circle(angle) {
  const r = RADIUS * angle / 180;
  return `M${-r} 0A${r} ${r} 0 0 1 ${r} 0A${r} ${r} 0 0 1 ${-r} 0Z`;
}

function text(x, y, words, name = "") {
  const made = svg("text", {x, y, class: name});
  made.textContent = words;
  return made;
}

function hatch() {
  return svg("defs", {}, svg("pattern", {id: "hatch", width: 4, height: 4, patternUnits: "userSpaceOnUse",
    patternTransform: "rotate(45)"}, svg("line", {class: "hatch-line", x1: 0, y1: 0, x2: 0, y2: 4})));
}

function rings() {
  const drawn = svg("g", {"aria-hidden": "true"});
  for (const angle of [30, 60, 90, 120, 150, 180]) {
    drawn.append(svg("circle", {class: `ring${angle === 90 ? " side" : ""}`, r: RADIUS * angle / 180}));
    if (angle < 180) drawn.append(text(1.5, -RADIUS * angle / 180 - 2.2, `${angle}°`, "degrees"));
  }
  for (let hour = 1; hour <= 12; hour += 1) {
    const [x, y] = place(180, hour), at = (share) => `${(x * share).toFixed(2)} ${(y * share).toFixed(2)}`;
    drawn.append(svg("path", {class: "spoke", d: `M${at(1)}L${at(1.03)}`}), text(x * 1.1, y * 1.1, hour, "hour"));
  }
  for (const [angle, words] of ZONES) drawn.append(text(0, RADIUS * angle / 180 + 2, words, "zone"));
  return drawn;
}
