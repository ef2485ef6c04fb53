// Saving, opening, and a file that another program has changed.

import {element} from "./controls.js";

export class Files {
  constructor(store, say) {
    Object.assign(this, {store, say, asked: null});
    this.dialog = document.getElementById("dialog");
    const press = (id, work) => document.getElementById(id).addEventListener("click", work);
    press("save", () => this.save());
    press("save-as", () => this.#name("Save as", "Save", (file) => this.#save(file)));
    press("open-file", () => this.#name("Open a scene", "Open", (file) => store.link.send("open", {file})));
    press("undo", () => store.link.send("undo"));
    press("redo", () => store.link.send("redo"));
    store.on("state", () => this.#draw());
    store.link.addEventListener("ask", ({detail}) => this.#ask(detail));
    document.addEventListener("keydown", (event) => this.#key(event));
  }

  #draw() {
    const {state} = this.store;
    document.getElementById("undo").disabled = !state.can_undo;
    document.getElementById("redo").disabled = !state.can_redo;
    document.getElementById("scene-name").textContent = state.file ?? "A new set";
    document.getElementById("saved-mark").textContent = state.file === null ? "not saved yet" : state.saved ? "" : "changed";
    document.title = `${state.file ?? "new set"} · lightsim`;
  }

  #key(event) {
    if (!(event.ctrlKey || event.metaKey) || event.target.matches?.("input[type=text], input[type=number]")) return;
    const key = event.key.toLowerCase();
    if (key === "s") this.save();
    else if (key === "z") this.store.link.send(event.shiftKey ? "redo" : "undo");
    else if (key === "y") this.store.link.send("redo");
    else return;
    event.preventDefault();
  }

  save() {
    if (this.store.state.file === null) this.#name("Save as", "Save", (file) => this.#save(file));
    else this.#save(null);
  }

  #save(file, force = null) {
    this.asked = file;
    this.store.link.send("save", {file, force});
  }

  #ask({about, file}) {
    if (about === "overwrite") {
      this.#choose(`${file} is there already.`, [["Replace it", () => this.#save(this.asked, true)], ["Leave it", null]]);
    } else if (about === "changed") {
      this.#choose(`${file} was changed by another program since it was read.`,
        [["Save mine over it", () => this.#save(null, true)], ["Take in what the file holds", () => this.store.link.send("take file")],
          ["Leave both", null]]);
    } else {
      this.#choose(`${file} was changed by another program.`,
        [["Take it in", () => this.store.link.send("take file")], ["Keep what is here", () => this.store.link.send("keep mine")]]);
    }
  }

  #choose(words, answers) {
    const buttons = answers.map(([text, work]) => {
      const button = element("button", {type: "button", textContent: text});
      button.addEventListener("click", () => { this.dialog.close(); work?.(); });
      return button;
    });
    this.#open("A question", element("p", {textContent: words}), element("div", {className: "row"}, ...buttons));
  }

  #name(title, word, work) {
    const input = element("input", {type: "text", id: "file-name", value: this.store.state.file ?? "my-set.toml", required: true});
    const form = element("form", {method: "dialog"},
      element("label", {htmlFor: "file-name", textContent: `File, in ${this.store.state.folder} `}), input,
      element("div", {className: "row"}, this.#cancel(), element("button", {type: "submit", textContent: word})));
    form.addEventListener("submit", () => { if (input.value.trim()) work(input.value.trim()); });
    this.#open(title, form);
  }

  #cancel() {
    const button = element("button", {type: "button", textContent: "Cancel"});
    button.addEventListener("click", () => this.dialog.close());
    return button;
  }

  #open(title, ...content) {
    if (this.dialog.open) this.dialog.close();
    this.dialog.replaceChildren(element("h2", {id: "dialog-title", textContent: title}), ...content);
    this.dialog.showModal();
  }
}
