// The set from above and from the side, to scale. Lights and cards are dragged along their own ray: the distance.

import {svg} from "./controls.js";
import {calm} from "./store.js";

export class SetViews {
  constructor(store, chosen, choose) {
    Object.assign(this, {store, chosen, choose, grabbed: null});
    this.views = [["above", (p) => [p.right, -p.toward]], ["side", (p) => [-p.toward, -p.up]]]
      .map(([id, flat]) => ({root: document.getElementById(id), flat}));
    const draw = calm(() => this.#draw());
    store.on("state own", () => (this.grabbed === null ? draw() : this.#draw()));
  }

  // A point of the scene's frame in the room's: right, toward the camera's side, up against gravity; mm.
  #room([x, y, z]) {
    const [, upY, upZ] = this.store.state.set.up;
    return {right: x, toward: -upZ * y + upY * z, up: upY * y + upZ * z};
  }

  #draw() {
    if (this.store.state?.set === undefined) return;
    const things = this.store.things();
    if (this.grabbed === null) this.extent = this.#extent(things);
    for (const view of this.views) this.#drawOne(view, things);
  }

  // Half the side of the square that holds all that stands within a metre.
  #extent(things) {
    const reach = things.map((thing) => thing.distance).filter((mm) => mm < 1000);
    return 1.25 * Math.max(160, this.store.state.set.working_distance_mm + 60, ...reach);
  }

  #drawOne({root, flat}, things) {
    const {set} = this.store.state, half = this.extent;
    root.setAttribute("viewBox", `${-half} ${-half} ${2 * half} ${2 * half}`);
    const at = (point) => flat(this.#room(point)).map((part) => Number(part.toFixed(1)));
    const line = (points, name, closed = true) =>
      svg("path", {class: name, d: `M${points.map((point) => at(point).join(" ")).join("L")}${closed ? "Z" : ""}`});
    const size = half / 18, font = Math.max(1.3 * size, 12 * 2 * half / (root.clientWidth || 300));
    const clamped = (value, room) => Math.min(Math.max(value, room - half), half - room);
    // Words in the middle at a place of the drawing, kept within it.
    const word = ([x, y], words) => {
      const wide = 0.28 * font * words.length;
      const made = svg("text", {class: "measure", x: clamped(x, wide), y: clamped(y, size)});
      made.style.fontSize = `${font}px`;
      made.textContent = words;
      return made;
    };
    const front = set.working_distance_mm, back = set.backdrop_mm;
    const drawn = [
      line([[0, 0, Math.min(front + 200, 3 * half)], [0, 0, -Math.min(back ?? 60, 2 * half)]], "axis", false),
      ...set.bodies.map((body) => this.#body(body, at, things)),
      line(petal(set), "subject", false),
    ];
    if (back !== null && back < 2 * half) drawn.push(line([[-half, 0, -back], [half, 0, -back]], "axis", false));
    const [middleX, middleY] = at([0, 0, front * 0.55]);
    const aside = things.length > 0 && at(things[0].centre)[0] < middleX ? 1 : -1;  // away from the key
    const free = word([middleX + aside * 2.2 * font, middleY + size], `${Math.round(front)} mm`);
    const handles = things.map((thing) => this.#thing(thing, {at, line, word, font, half}));
    // The handles are kept while one of them is held, so that the pointer stays with it.
    const plate = root.querySelector(".plate") ?? root.appendChild(svg("g", {class: "plate"}));
    plate.replaceChildren(...drawn, ...handles.flatMap(({parts}) => parts), free);
    this.#handles(root, things, at, size, half);
  }

  // A solid thing's outline; a lamp's own moves with the hand until the server's place comes.
  #body(body, at, things) {
    const before = this.store.state.lights.find((light) => light.name === body.thing);
    const now = things.find((thing) => thing.name === body.thing);
    const by = before && now ? now.centre.map((part, i) => part - before.centre[i]) : [0, 0, 0];
    const outline = hull(body.points.map((point) => at(point.map((part, i) => part + by[i]))));
    return svg("path", {class: "solid", d: `M${outline.map((point) => point.join(" ")).join("L")}Z`});
  }

  #thing(thing, {at, line, word, font, half}) {
    const kind = thing.kind === "card" ? "" : " light", far = thing.distance > 1.3 * half;
    if (far) return {parts: [word(at(thing.centre.map((part) => part * half * 0.8 / thing.distance)),
      `${thing.name}, ${(thing.distance / 1000).toFixed(1)} m away`)]};
    const under = Math.max(...thing.outline.map((point) => at(point)[1])) + 1.2 * font;
    return {parts: [line([[0, 0, 0], thing.centre], `ray${kind}`, false), line(thing.outline, `face${kind}`),
      word([at(thing.centre)[0], under], `${thing.name} ${Math.round(thing.distance)} mm`)]};
  }

  #handles(root, things, at, size, half) {
    for (const old of root.querySelectorAll(".handle")) {
      if (!things.some((thing) => thing.name === old.dataset.name)) old.remove();
    }
    for (const thing of things) {
      let handle = [...root.querySelectorAll(".handle")].find((one) => one.dataset.name === thing.name);
      if (handle === undefined) {
        handle = svg("g", {class: "handle", tabindex: 0, role: "slider", "aria-valuemin": 1,
          "aria-label": `distance of ${thing.name}, ${root.id === "above" ? "from above" : "from the side"}`},
        svg("circle", {class: "reach"}), svg("circle", {class: "halo"}));
        handle.dataset.name = thing.name;
        this.#listen(handle, root, at);
        root.append(handle);
      }
      const [x, y] = at(thing.centre);
      handle.setAttribute("transform", `translate(${x} ${y})`);
      handle.setAttribute("visibility", thing.fixed || thing.distance > 1.3 * half ? "hidden" : "visible");
      handle.querySelector(".reach").setAttribute("r", size * 1.6);
      handle.querySelector(".halo").setAttribute("r", size * 1.2);
      handle.setAttribute("aria-valuenow", Math.round(thing.distance));
      handle.setAttribute("aria-valuemax", 100000);
      handle.setAttribute("aria-valuetext", `${Math.round(thing.distance)} mm`);
      handle.classList.toggle("chosen", thing.name === this.chosen());
    }
  }

  #listen(handle, root) {
    const {name} = handle.dataset, find = () => this.store.things().find((thing) => thing.name === name);
    handle.addEventListener("focus", () => this.choose(name));
    handle.addEventListener("keydown", (event) => {
      const by = {ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1}[event.key];
      if (by === undefined) return;
      event.preventDefault();
      this.store.move(name, {distance: Math.max(10, find().distance + by * (event.shiftKey ? 1 : 10))});
    });
    handle.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      handle.focus({preventScroll: true});
      handle.setPointerCapture(event.pointerId);
      this.grabbed = name;
      this.store.hand(true);
    });
    handle.addEventListener("pointermove", (event) => {
      if (this.grabbed !== name) return;
      const {x, y} = new DOMPoint(event.clientX, event.clientY).matrixTransform(root.getScreenCTM().inverse());
      const view = this.views.find((one) => one.root === root), thing = find();
      const unit = view.flat(this.#room(thing.centre.map((part) => part / thing.distance)));
      const along = (x * unit[0] + y * unit[1]) / (unit[0] ** 2 + unit[1] ** 2);
      if (unit[0] ** 2 + unit[1] ** 2 > 0.02) this.store.move(name, {distance: Math.max(20, Math.round(along))});
    });
    for (const end of ["pointerup", "pointercancel"]) {
      handle.addEventListener(end, () => {
        if (this.grabbed !== name) return;
        this.grabbed = null;
        this.store.hand(false);
      });
    }
  }
}

// Convex hull of points in the plane, by Andrew's monotone chain.
function hull(points) {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const turn = (o, a, b) => (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
  const half = (order) => {
    const chain = [];
    for (const point of order) {
      while (chain.length > 1 && turn(chain.at(-2), chain.at(-1), point) <= 0) chain.pop();
      chain.push(point);
    }
    return chain.slice(0, -1);
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

// The petal's middle line and its width, tilted.
function petal({petal_mm: [width, length], petal_tilt: [tilt, clock]}) {
  const lean = tilt * Math.PI / 180, turn = clock * Math.PI / 6;
  const height = (x, y) => -Math.tan(Math.min(lean, 1.3)) * (x * Math.sin(turn) + y * Math.cos(turn));
  const points = [...Array(25).keys()].map((step) => {
    const around = step / 12 * Math.PI, x = width / 2 * Math.sin(around), y = length / 2 * Math.cos(around);
    return [x, y, height(x, y)];
  });
  return points;
}
