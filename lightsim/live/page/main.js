// The live page: puts its parts together and says what goes wrong.

import {Dial} from "./dial.js";
import {Files} from "./files.js";
import {FlowerPanel} from "./flower_panel.js";
import {Kept} from "./kept.js";
import {LightPanel} from "./light_panel.js";
import {Link} from "./link.js";
import {NumbersPanel} from "./numbers_panel.js";
import {Photo} from "./photo.js";
import {SetViews} from "./set_views.js";
import {SettingsPanel} from "./settings_panel.js";
import {Start} from "./start.js";
import {calm, clockWords, Store, tradeName} from "./store.js";

const link = new Link(), store = new Store(link);
const photo = new Photo(store), light = new LightPanel(store);
const dial = new Dial(store, () => light.chosen(), (name) => light.choose(name));
new SetViews(store, () => light.chosen(), (name) => light.choose(name));
new SettingsPanel(store);
new FlowerPanel(store);
const numbers = new NumbersPanel(store, photo), kept = new Kept(store, photo);
const message = document.getElementById("message");
let clearing = null;

// kind: "note" and "refused" go after a while, "failed" when a picture comes, "lost" when the server is back.
function say(words, kind = "") {
  message.textContent = words;
  message.className = kind;
  clearTimeout(clearing);
  if (words && ["note", "refused"].includes(kind)) clearing = setTimeout(() => say(""), 10000);
}

new Files(store, say);
new Start(store);
photo.onPainted = () => numbers.painted();
light.onChosen = () => store.dispatchEvent(new Event("own"));

link.addEventListener("refused", ({detail}) => say(detail.problems.join("\n"), "refused"));
link.addEventListener("failed", ({detail}) => say(detail.problems.join("\n"), "failed"));
link.addEventListener("note", ({detail}) => say(detail.words, "note"));
link.addEventListener("made", ({detail}) => say(`Written beside the scene: ${detail.files.join(", ")}`, "note"));
link.addEventListener("lost", ({detail}) => say(detail.refused
  ? "The server refuses this page: open the address that lightsim printed."
  : "The connection is lost; trying again. Nothing that is here is lost.", "lost"));
link.addEventListener("welcome", () => { if (message.className === "lost") say(""); });
link.addEventListener("doing", ({detail}) => {
  document.getElementById("quality").dataset.doing = detail.words;
});
store.on("picture", () => {
  if (message.className === "failed") say("");
});

// The accent is the petal's own colour: fetched again when that changes.
let petal = "";
store.on("state own", calm(() => {
  const things = store.things(), key = things[0];
  document.getElementById("caption").textContent = key
    ? `${key.name} at ${Math.round(key.angle)}°, ${clockWords(key.clock)}: ${tradeName(key.angle)}` : "room light";
  const colours = JSON.stringify(store.state?.table?.petal?.reflectance_tip);
  if (petal && colours !== petal) document.getElementById("theme").href = `/theme.css?${encodeURIComponent(colours)}`;
  petal = colours;
}));

const ground = document.getElementById("ground");
function setGround(dark) {
  document.documentElement.dataset.ground = dark ? "dark" : "light";
  ground.setAttribute("aria-pressed", String(dark));
}
ground.addEventListener("click", () => setGround(ground.getAttribute("aria-pressed") !== "true"));

document.addEventListener("keydown", (event) => {
  const typing = event.target.matches?.("input[type=text], input[type=number], select");
  if (event.key === "k" && !typing && !event.ctrlKey && !event.metaKey) kept.keep();
});

link.connect();
window.lightsim = {store, photo, kept, dial, link};
