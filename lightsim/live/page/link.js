// The socket to the server: messages as JSON, pictures as half floats. It connects again by itself.

const LEAST_WAIT_MS = 250, MOST_WAIT_MS = 4000;

export class Link extends EventTarget {
  constructor() {
    super();
    Object.assign(this, {socket: null, run: null, waitMs: LEAST_WAIT_MS, layers: new Map(), waiting: []});
    this.lastTable = null;
  }

  get isOpen() {
    return this.socket !== null && this.socket.readyState === WebSocket.OPEN;
  }

  connect() {
    const socket = new WebSocket(`ws://${location.host}/socket`);
    socket.binaryType = "arraybuffer";
    this.socket = socket;
    this.layers.clear();  // the server sends all anew
    socket.addEventListener("message", (event) => this.#receive(event.data));
    socket.addEventListener("close", (event) => this.#lost(event));
  }

  // Messages that could not be sent go out after the next welcome, in their order.
  send(kind, fields = {}) {
    const message = {kind, ...fields};
    if (this.isOpen && this.run !== null && this.welcomed) this.socket.send(JSON.stringify(message));
    else if (kind !== "shown" && kind !== "hand") this.waiting.push(message);
  }

  #receive(data) {
    if (typeof data !== "string") {
      this.#receivePicture(data);
      return;
    }
    const message = JSON.parse(data);
    if (message.kind === "welcome") this.#welcome(message);
    if (message.kind === "state") this.lastTable = message.table;
    this.dispatchEvent(new CustomEvent(message.kind, {detail: message}));
  }

  #welcome(message) {
    const before = this.run;
    this.run = message.run;
    this.welcomed = true;
    this.waitMs = LEAST_WAIT_MS;
    const table = before !== null && before !== message.run ? this.lastTable : null;
    if (before !== null) this.socket.send(JSON.stringify({kind: "hello", run: before, table}));
    for (const waiting of this.waiting.splice(0)) this.socket.send(JSON.stringify(waiting));
  }

  #receivePicture(data) {
    const length = new DataView(data).getUint32(0, true);
    const head = JSON.parse(new TextDecoder().decode(new Uint8Array(data, 4, length)));
    let at = 4 + length;
    const count = 3 * head.width * head.height, layers = new Map();
    const sent = new Map(head.sent.map((number) => {
      const layer = new Uint16Array(data, at, count);
      at += 2 * count;
      return [number, layer];
    }));
    for (const layer of head.layers) {
      const known = this.layers.get(layer.number);
      layers.set(layer.number, known ?? {...layer, data: sent.get(layer.number)});
    }
    this.layers = layers;
    const picture = {...head, layers: [...layers.values()]};
    this.dispatchEvent(new CustomEvent("picture", {detail: picture}));
  }

  shown(serial) {
    this.send("shown", {serial});
  }

  #lost(event) {
    this.welcomed = false;
    this.dispatchEvent(new CustomEvent("lost", {detail: {refused: event.code === 4403, tooLarge: event.code === 1009}}));
    setTimeout(() => this.connect(), this.waitMs);
    this.waitMs = Math.min(2 * this.waitMs, MOST_WAIT_MS);
  }
}
