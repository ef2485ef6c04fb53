// The photograph on the page: the viewer, zoom and pan, what a click in it does, the drop that is picked.

import {Viewer} from "/viewer/viewer.js";
import {element, svg} from "./controls.js";

const TOOLS = [["pick", "Pick a drop"], ["focus", "Focus"], ["put", "Put a drop"], ["move", "Move it"],
  ["remove", "Take it away"]];
const MOST_ZOOM = 4;

export class Photo {
  constructor(store) {
    Object.assign(this, {store, zoom: 1, pan: [0, 0], tool: "pick", cross: [0.5, 0.5], dragged: null});
    this.canvas = document.getElementById("picture");
    this.window = document.getElementById("window");
    this.sheet = document.getElementById("sheet");
    this.over = document.getElementById("over");
    this.viewer = null;
    this.#tools();
    this.#zoomButtons();
    this.#pointer();
    this.canvas.addEventListener("keydown", (event) => this.#key(event));
    const hatched = document.getElementById("hatched");
    hatched.addEventListener("change", () => this.viewer?.mark({hatched: hatched.checked}));
    store.on("welcome", () => this.#begin());
    store.on("picture", () => this.#picture());
    store.on("state own", () => this.expose());
    store.on("numbers state", () => this.#drawOver());
    new ResizeObserver(() => this.#askWidth()).observe(this.window);
  }

  #begin() {
    const plain = new URLSearchParams(location.search).has("plain");
    this.viewer ??= new Viewer(this.canvas, this.store.numbers, {plain});
    this.viewer.onPainted = () => this.onPainted?.();
    this.#accent();
    this.#askWidth(true);
  }

  #accent() {
    const text = getComputedStyle(document.documentElement).getPropertyValue("--accent").trim();
    const parts = [1, 3, 5].map((at) => parseInt(text.slice(at, at + 2), 16) / 255);
    if (parts.every(Number.isFinite)) this.viewer?.mark({accent: parts});
  }

  // The size that the page can show, so that the server traces no more than that.
  #askWidth(again = false) {
    const px = Math.round(this.window.clientWidth * Math.min(window.devicePixelRatio, 2));
    if (px < 16 || (!again && Math.abs(px - (this.asked ?? 0)) < 60)) return;
    this.asked = px;
    this.store.link.send("width", {px: Math.min(px, 960)});
  }

  #picture() {
    const {picture, link} = this.store;
    this.viewer.show(picture);
    this.expose();
    requestAnimationFrame(() => link.shown(picture.serial));
    const words = {sketch: "sketch", draft: "draft", normal: "full quality"}[picture.quality];
    document.getElementById("quality").textContent = `${picture.width} × ${picture.height}, ${words}`;
  }

  // Lights and settings as the hand has them.
  expose() {
    const {state} = this.store;
    if (this.viewer === null || state?.settings === undefined) return;
    const lights = lightsOf(this.store), settings = settingsOf(this.store);
    const given = JSON.stringify([lights.map(({name, kind, output, kelvin}) => [name, kind, output, kelvin]), settings]);
    if (given === this.given) return;  // a light was moved: its picture is on the way
    this.given = given;
    this.viewer.expose(lights, settings);
  }

  #tools() {
    const box = document.getElementById("tools");
    for (const [value, words] of TOOLS) {
      const input = element("input", {type: "radio", name: "tool", value, checked: value === this.tool});
      input.addEventListener("change", () => { this.tool = value; });
      box.append(element("label", {}, input, words));
    }
  }

  #zoomButtons() {
    const press = (id, work) => document.getElementById(id).addEventListener("click", work);
    press("zoom-in", () => this.setZoom(this.zoom * Math.SQRT2));
    press("zoom-out", () => this.setZoom(this.zoom / Math.SQRT2));
    press("zoom-fit", () => this.setZoom(1));
    this.window.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && this.zoom === 1) return;
      event.preventDefault();
      this.setZoom(this.zoom * 2 ** (-event.deltaY / 400), this.#share(event));
    }, {passive: false});
  }

  // zoom: 1 fits the page. The picture's place `about` (shares) stays where it is.
  setZoom(zoom, about = [0.5, 0.5]) {
    const next = Math.min(Math.max(zoom, 1), MOST_ZOOM), {clientWidth: width, clientHeight: height} = this.window;
    const at = [about[0] * width * this.zoom + this.pan[0], about[1] * height * this.zoom + this.pan[1]];
    this.pan = [at[0] - about[0] * width * next, at[1] - about[1] * height * next];
    this.zoom = next;
    this.#place();
  }

  #place() {
    const {clientWidth: width, clientHeight: height} = this.window;
    this.pan = [Math.min(0, Math.max(this.pan[0], width * (1 - this.zoom))),
      Math.min(0, Math.max(this.pan[1], height * (1 - this.zoom)))];
    this.sheet.style.transform = `translate(${this.pan[0]}px, ${this.pan[1]}px) scale(${this.zoom})`;
    this.window.classList.toggle("zoomed", this.zoom > 1);
    document.getElementById("zoom-shown").textContent = `${Math.round(100 * this.zoom)} %`;
  }

  #share(event) {
    const box = this.canvas.getBoundingClientRect();
    return [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
  }

  #pointer() {
    let start = null;
    this.window.addEventListener("pointerdown", (event) => {
      const share = this.#share(event);
      const drop = this.tool === "move" ? this.#dropAt(share) : null;
      start = {x: event.clientX, y: event.clientY, pan: [...this.pan], far: false, drop};
      this.window.setPointerCapture(event.pointerId);
      if (drop !== null) this.store.hand(true);
    });
    this.window.addEventListener("pointermove", (event) => {
      if (start === null) return;
      const by = [event.clientX - start.x, event.clientY - start.y];
      start.far ||= Math.hypot(...by) > 5;
      if (start.far && start.drop === null && this.zoom > 1) {
        this.pan = [start.pan[0] + by[0], start.pan[1] + by[1]];
        this.#place();
      }
      if (start.far && start.drop !== null) this.#moveDrop(start.drop, this.#share(event));
    });
    this.window.addEventListener("pointerup", (event) => {
      if (start === null) return;
      const {far, drop} = start;
      start = null;
      if (drop !== null) {
        this.store.link.send("pick", {drop});
        this.store.hand(false);
      }
      if (!far) this.#use(this.#share(event));
    });
    this.window.addEventListener("pointercancel", () => { start = null; });
  }

  #moveDrop(drop, [x, y]) {
    const now = performance.now();
    if (now - (this.movedAt ?? 0) < 100 || x < 0 || x > 1 || y < 0 || y > 1) return;
    this.movedAt = now;
    this.store.link.send("move drop", {drop, x, y, gesture: this.store.gesture});
  }

  // What a click at a place (shares of the picture) does.
  #use([x, y]) {
    if (x < 0 || x > 1 || y < 0 || y > 1) return;
    const {link} = this.store;
    if (this.tool === "focus") return void link.send("focus", {x, y});
    if (this.tool === "put") {
      return void link.send("put drop", {x, y, diameter_mm: this.store.get("drops.diameter_mm") ?? 0.8});
    }
    const picked = this.store.state?.drop ?? null;
    if (this.tool === "move" && this.#dropAt([x, y]) === null && picked !== null) {
      return void link.send("move drop", {drop: picked, x, y, gesture: null});
    }
    const drop = this.#dropAt([x, y]);
    if (drop !== null) link.send(this.tool === "remove" ? "remove drop" : "pick", {drop});
  }

  #dropAt([x, y]) {
    const drops = this.store.measures?.drops ?? [], height = y * this.canvas.height / this.canvas.width;
    let best = null, gap = 1.15;
    drops.forEach(([dropX, dropY, radius], number) => {
      const distance = Math.hypot(x - dropX, height - dropY) / radius;
      if (distance < gap) [best, gap] = [number, distance];
    });
    return best;
  }

  // Arrow keys move a cross, Enter uses it; plus and minus zoom.
  #key(event) {
    const step = event.shiftKey ? 0.005 : 0.03;
    const moves = {ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step]};
    if (event.key in moves) {
      this.cross = this.cross.map((part, i) => Math.min(Math.max(part + moves[event.key][i], 0), 1));
      this.showsCross = true;
      this.#drawOver();
    } else if (event.key === "Enter" || event.key === " ") this.#use(this.cross);
    else if (event.key === "+" || event.key === "=") this.setZoom(this.zoom * Math.SQRT2, this.cross);
    else if (event.key === "-") this.setZoom(this.zoom / Math.SQRT2, this.cross);
    else return;
    event.preventDefault();
  }

  // An ellipse round the highlight of the drop that is told of, as it was measured: place, size, which way it lies.
  #highlight([x, y, radius], drop) {
    const {picture} = this.store, share = drop.highlight_place_share, long = drop.highlight_long_mm;
    if (!Number.isFinite(share) || !Number.isFinite(long) || picture === null) return [];
    const turn = (drop.highlight_clock ?? 12) * Math.PI / 6, half = 0.5 / (picture.width * picture.mm_per_px);
    const [cx, cy] = [x + share * radius * Math.sin(turn), y - share * radius * Math.cos(turn)];
    const ellipse = {cx, cy, rx: long * half + 0.006, ry: (drop.highlight_short_mm ?? long) * half + 0.006,
      transform: `rotate(${-(drop.highlight_orientation_deg ?? 0)} ${cx} ${cy})`};
    return [svg("ellipse", {class: "picked highlight", ...ellipse})];
  }

  #drawOver() {
    const {measures} = this.store, ratio = this.canvas.height / this.canvas.width;
    this.over.setAttribute("viewBox", `0 0 1 ${ratio}`);
    const drawn = [], place = measures?.drops?.[measures?.drop?.drop];
    if (place !== undefined && this.store.state?.drop !== null) {
      const circle = {cx: place[0], cy: place[1], r: place[2] * 1.12};
      drawn.push(svg("circle", {class: "picked outer", ...circle}), svg("circle", {class: "picked", ...circle}));
      drawn.push(...this.#highlight(place, measures.drop));
    }
    if (this.showsCross && document.activeElement === this.canvas) {
      const [x, y] = [this.cross[0], this.cross[1] * ratio];
      drawn.push(svg("path", {class: "cross",
        d: `M${x - 0.02} ${y}h.015M${x + 0.005} ${y}h.015M${x} ${y - 0.02}v.015M${x} ${y + 0.005}v.015`}));
    }
    this.over.replaceChildren(...drawn);
  }
}

// The lights with what the hand has changed: a flash's power, the room's light.
export function lightsOf(store) {
  const {lights, room} = store.state;
  const own = lights.map((light, number) => {
    const power = light.kind === "flash" ? store.get(`light[${number}].power`) ?? light.power : light.power;
    return {...light, output: light.output * power / light.power};
  });
  const lux = store.get("ambient.illuminance_lx");
  return [...own, {...room, output: lux ?? room.output}];
}

export function settingsOf(store) {
  const {settings, lights, room} = store.state;
  const exact = (name, value) => store.rules.marks[name].find((mark) => Math.abs(mark.value / value - 1) < 0.005)?.exact ?? value;
  const balance = store.get("exposure.white_balance");
  const named = [...lights, room].find((light) => light.name === balance);
  const kelvin = typeof balance === "number" ? balance
    : named?.kelvin ?? (balance === "key" ? (lights[0] ?? room).kelvin : settings.white_balance_k);
  return {...settings, white_balance_k: kelvin, iso: exact("iso", store.get("exposure.iso") ?? settings.iso),
    shutter_s: store.get("exposure.shutter_s") ?? settings.shutter_s,
    auto: store.get("exposure.auto") ?? settings.auto};
}
