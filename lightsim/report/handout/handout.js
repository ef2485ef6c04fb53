// The handout: for each set a photograph that follows what varies, the flash's power, shutter, ISO and room
// light. All pictures lie in this file; nothing is asked of any server.

const {numbers: figures, marks, sets} = JSON.parse(document.getElementById("data").textContent);

class SetView {
  constructor(place, set) {
    Object.assign(this, {place, set, unpacked: new Map(), changed: {power: 0, shutter: 0, iso: 0, room: 0}});
    this.viewer = new Viewer(place.querySelector("canvas"), figures);
    this.viewer.onPainted = () => this.say();
    this.at = set.axes.map((axis, i) => i === 0 ? set.first % axis.values.length
      : Math.floor(set.first / set.axes[0].values.length));
    this.controls = place.querySelector(".controls");
    this.markers = [...place.parentElement.querySelectorAll(".chart")];
    this.build();
    place.hidden = false;
    this.show();
  }

  get frame() {
    const [column = 0, row = 0] = this.at, width = this.set.axes[0]?.values.length ?? 1;
    return this.set.frames[row * width + column];
  }

  build() {
    const {set} = this;
    set.axes.forEach((axis, i) => axis.values.length > 1 && this.slider(capital(axis.name), 0, axis.values.length - 1, this.at[i],
      (value) => { this.at[i] = value; this.show(); }, (value) => axis.values[value]));
    const flash = set.lights.find((light) => light.kind === "flash");
    const varied = new Set(set.axes.map((axis) => axis.key));
    if (flash !== undefined && !varied.has("power")) {
      this.dial("Flash power", marks.power, flash.power, "power");
    }
    if (!varied.has("shutter")) this.dial("Shutter", marks.shutter, set.settings.shutter_s, "shutter");
    if (!varied.has("iso")) this.dial("ISO", marks.iso, set.settings.iso, "iso");
    const room = set.lights.find((light) => light.kind === "ambient");
    if (room !== undefined && room.output > 0 && !varied.has("room")) {
      this.slider("Room light", -9, 12, 0, (value) => { this.changed.room = value / 3; this.expose(); },
        (value) => `${Number((room.output * 2 ** (value / 3)).toPrecision(2))} lx`);
    }
    this.check("Mark what is burnt out", (on) => this.viewer.mark({hatched: on}));
    const back = node("button", {type: "button", textContent: "As photographed"});
    back.addEventListener("click", () => this.reset());
    this.controls.append(back);
  }

  // A slider over the marks of a dial, which starts at the set's own value.
  dial(label, all, value, key) {
    const start = nearest(all, value);
    this.slider(label, 0, all.length - 1, start, (mark) => {
      this.changed[key] = mark === start ? 0 : Math.log2(all[mark].value / value);
      this.expose();
    }, (mark) => all[mark].label.replace("ISO ", ""));
  }

  slider(label, low, high, start, change, words) {
    const id = `control-${SetView.count += 1}`, row = node("div", {className: "control"});
    const input = node("input", {type: "range", id, min: low, max: high, step: 1, value: start});
    const output = node("output", {htmlFor: id, textContent: words(start)});
    const follow = () => {
      output.textContent = words(Number(input.value));
      input.setAttribute("aria-valuetext", output.textContent);
    };
    input.addEventListener("input", () => { follow(); change(Number(input.value)); });
    follow();
    (this.starts ??= []).push(() => {
      if (row.dataset.varies) return;
      input.value = start;
      follow();
      change(start);
    });
    if (this.set.axes.some((axis) => capital(axis.name) === label)) row.dataset.varies = "yes";
    row.append(node("label", {htmlFor: id, textContent: label}), output, input);
    this.controls.append(row);
  }

  check(label, change) {
    const id = `control-${SetView.count += 1}`, row = node("div", {className: "control check"});
    const input = node("input", {type: "checkbox", id});
    input.addEventListener("change", () => change(input.checked));
    row.append(input, node("label", {htmlFor: id, textContent: label}));
    this.controls.append(row);
  }

  reset() {
    this.starts.forEach((start) => start());
  }

  async show() {
    const {frame, set} = this, wanted = frame;
    const layers = await Promise.all(Object.entries(frame.layers).map(async ([name, key]) =>
      ({...await this.layer(key), name, petal: frame.petal[name]})));
    if (wanted !== this.frame) return; // another was asked for meanwhile
    this.viewer.show({width: set.width, height: set.height, layers});
    this.expose();
    const warning = frame.warning ? ` ${frame.warning}` : "";
    const caption = this.place.querySelector(".caption");
    caption.replaceChildren(node("b", {textContent: `${frame.heading} ${frame.trade_name}`.trim()}),
      node("span", {className: "warning", textContent: warning}));
    this.mark();
  }

  // What is measured in the frame. The petal's level and the room's part follow the settings; what depends on how
  // much of each light there is holds for the photograph as it was taken, and says so once that is changed.
  say() {
    const {changed, frame, viewer} = this, {power, shutter, iso, room} = changed, mixed = power || shutter || room;
    const now = mixed || iso ? this.levels(viewer.exposed.petal) : {};
    this.place.querySelector(".measured").replaceChildren(...frame.numbers.flatMap(([name, what, said]) => {
      const past = mixed && MIXED.includes(name) ? ", as photographed" : "";
      return [node("dt", {textContent: what + past}), node("dd", {textContent: now[name] ?? said})];
    }));
  }

  levels(petal) {
    const kinds = new Map(this.set.lights.map((light) => [light.name, light.kind])), sums = {flash: 0, room: 0};
    this.viewer.picture.layers.forEach(({name}, i) => { sums[kinds.get(name) === "flash" ? "flash" : "room"] += petal[i]; });
    const below = Math.log2(sums.flash / sums.room), where = below > 0 ? "below" : "above";
    const found = {level: `${signed(Math.log2((sums.flash + sums.room) / figures.mid_tone))} stops`};
    if (Number.isFinite(below)) {
      found["room light"] = Math.abs(below) < 0.05 ? "level with the flash" : `${Math.abs(below).toFixed(1)} stops ${where} the flash`;
    }
    return found;
  }

  layer(key) {
    if (!this.unpacked.has(key)) {
      this.unpacked.set(key, unpackedLayer(this.set.layers[key], this.set.width, this.set.height, figures));
    }
    return this.unpacked.get(key);
  }

  expose() {
    const {set, changed, frame} = this, stops = {flash: changed.power, ambient: changed.room};
    const lights = set.lights.map((light) =>
      ({...light, output: frame.outputs[light.name] * 2 ** (stops[light.kind] ?? 0)}));
    this.viewer.expose(lights, {...set.settings, iso: frame.iso * 2 ** changed.iso,
      shutter_s: frame.shutter_s * 2 ** changed.shutter, effective_f_number: frame.effective_f_number});
  }

  mark() {
    if (this.set.axes.length !== 1) return;
    for (const chart of this.markers) {
      const place = chart.dataset.places.split(" ")[this.at[0]], marker = chart.querySelector(".marker");
      const [x, y] = place === "-" ? [-20, -20] : place.split(",");
      marker.setAttribute("cx", x);
      marker.setAttribute("cy", y);
    }
  }
}

SetView.count = 0;

// Names of the numbers that a change of power, shutter or room light changes, and that are not worked out here.
const MIXED = ["petal contrast", "shadow depth", "texture", "lighting ratio", "smear"];

function signed(stops) {
  const text = Math.abs(stops).toFixed(1);
  return `${Number(text) === 0 ? "±" : stops > 0 ? "+" : "−"}${text}`;
}

function node(name, properties) {
  return Object.assign(document.createElement(name), properties);
}

function capital(text) {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

function nearest(all, value) {
  const far = all.map((mark) => Math.abs(Math.log2(mark.value / value)));
  return far.indexOf(Math.min(...far));
}

const views = [...document.querySelectorAll(".viewer")].map((place) => new SetView(place, sets[place.dataset.set]));
globalThis.handout = {views};
