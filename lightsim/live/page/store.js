// What the page knows: the server's state with the hand's own changes laid over it until the server has them.

const OWN_MS = 500;  // the hand's value stands at least so long, and until the server has answered after it

export class Store extends EventTarget {
  constructor(link) {
    super();
    Object.assign(this, {link, state: null, rules: null, numbers: null, measures: null, picture: null,
      sky: {on: true, places: []}, own: new Map(), gesture: null, lastGesture: 0, queued: null, sending: false, stateAt: 0, held: false});
    link.addEventListener("welcome", ({detail}) => {
      this.rules = {keys: detail.keys, marks: detail.marks};
      this.numbers = detail.numbers;
      this.#tell("welcome");
    });
    link.addEventListener("state", ({detail}) => {
      this.state = detail;
      this.stateAt = performance.now();
      this.#tell("state");
    });
    link.addEventListener("numbers", ({detail}) => { this.measures = detail; this.#tell("numbers"); });
    link.addEventListener("sky", ({detail}) => { this.sky = detail; this.#tell("sky"); });
    link.addEventListener("picture", ({detail}) => { this.picture = detail; this.#tell("picture"); });
  }

  #tell(name) {
    this.dispatchEvent(new Event(name));
  }

  on(names, listener) {
    for (const name of names.split(" ")) this.addEventListener(name, listener);
  }

  // A value of the scene by its place, such as "light[0].power"; null where it is not given.
  get(path) {
    const own = this.own.get(path);
    if (this.#stands(own)) return own.value;
    let place = this.state?.table ?? null;
    for (const step of path.split(/[.[\]]+/).filter(Boolean)) place = place?.[step] ?? null;
    return place;
  }

  rule(path) {
    const parts = path.replace(/\[\d+\]/g, "").split("."), key = parts.pop();
    return this.rules.keys[parts.join(".")]?.[key] ?? {};
  }

  // One change by the hand: shown at once, sent to the server; those of one gesture are one step of undo.
  set(values, hold = null) {
    for (const [path, value] of Object.entries(values)) this.own.set(path, {value, at: performance.now()});
    this.#queue({kind: "set", fields: {values: {...(this.queued?.fields.values ?? {}), ...values}, hold}});
    this.#tell("own");
  }

  // A light or a card elsewhere: {angle, clock, distance}, any of them.
  move(thing, place) {
    const path = `move ${thing}`, before = this.own.get(path);
    const recent = this.#stands(before) ? before.value : {};
    this.own.set(path, {value: {...recent, ...place}, at: performance.now()});
    const same = this.queued?.kind === "move" && this.queued.fields.thing === thing;
    this.#queue({kind: "move", fields: {...(same ? this.queued.fields : {}), thing, ...place}});
    this.#tell("own");
  }

  // Where a light or a card stands for the hand.
  things() {
    if (this.state?.lights === undefined) return [];
    return [...this.state.lights, ...this.state.cards].map((thing) => {
      const own = this.own.get(`move ${thing.name}`);
      return this.#stands(own) ? moved(thing, own.value) : thing;
    });
  }

  #stands(own) {
    return own !== undefined && (performance.now() - own.at < OWN_MS || this.stateAt < own.at);
  }

  // The first change goes out at once, those after it one an animation frame at most.
  #queue(change) {
    const now = performance.now();
    if (now - this.lastGesture > 1200 && !this.held) this.gesture = crypto.randomUUID();
    this.lastGesture = now;
    if (this.queued !== null && (this.queued.kind !== change.kind
      || this.queued.fields.thing !== change.fields.thing || this.queued.fields.hold !== change.fields.hold)) {
      this.#send();
    }
    change.fields.gesture = this.gesture;
    this.queued = change;
    if (this.sending) return;
    this.sending = true;
    this.#send();
    requestAnimationFrame(() => { this.sending = false; this.#send(); });
  }

  #send() {
    if (this.queued === null) return;
    this.link.send(this.queued.kind, this.queued.fields);
    this.queued = null;
  }

  // Whether something is held by the hand: refining and the sky wait.
  hand(down) {
    if (down) this.gesture = crypto.randomUUID();
    this.held = down;
    if (!down) this.#send();
    this.link.send("hand", {down});
  }
}

// The work done at once, and while it is asked for again and again no more often than each CALM_MS: what is beside
// the photograph must not take the processor from it while something is dragged.
const CALM_MS = 80;
export function calm(work) {
  let last = -Infinity, timer = null;
  const now = () => { timer = null; last = performance.now(); work(); };
  return () => {
    if (timer !== null) return;
    const wait = last + CALM_MS - performance.now();
    if (wait <= 0) now();
    else timer = setTimeout(now, wait);
  };
}

// A thing elsewhere, with its outline shifted: near enough until the server's own place comes.
export function moved(thing, place) {
  const now = {angle: thing.angle, clock: thing.clock, distance: thing.distance, ...place};
  const centre = direction(now.angle, now.clock).map((part) => part * now.distance);
  const outline = thing.outline.map((point) => point.map((part, i) => part + centre[i] - thing.centre[i]));
  return {...thing, ...now, centre, outline};
}

// Unit vector toward an angle off the lens axis and a clock position: x right, y up, z toward the lens.
export function direction(angle, clock) {
  const a = angle * Math.PI / 180, turn = clock * Math.PI / 6;
  return [Math.sin(a) * Math.sin(turn), Math.sin(a) * Math.cos(turn), Math.cos(a)];
}

export function clockWords(clock) {
  let minutes = Math.round(clock * 60) % 720;
  if (minutes < 60) minutes += 720;
  const hour = Math.floor(minutes / 60), rest = minutes % 60;
  return rest === 0 ? `${hour} o’clock` : `${hour}:${String(rest).padStart(2, "0")}`;
}

export function tradeName(angle) {
  if (angle <= 30) return "frontal light";
  if (angle <= 60) return "three-quarter light";
  return angle <= 120 ? "side light" : "back light";
}
