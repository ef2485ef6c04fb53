// Native controls that mirror a value of the scene: slider with number, row of marks, choice, colour.

let count = 0;

export function element(tag, properties = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name in made && name !== "list") made[name] = value;
    else made.setAttribute(name, value);
  }
  made.append(...children);
  return made;
}

export function svg(tag, attributes = {}, ...children) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

function nextId(stem) {
  count += 1;
  return `${stem}-${count}`;
}

// Whether a control is in the person's hands: then the server's value must not be put into it.
function isBusy(control) {
  return control.matches(":active") || (document.activeElement === control && control.type === "number"
    && control.dataset.typing === "yes");
}

// A slider and a number for one value. get() -> number or null, set(value); low, high: of the slider.
export function slider(into, store, {label, unit = "", low, high, step, get, set, places = 0, words = null}) {
  const id = nextId("field");
  const range = element("input", {type: "range", id, min: low, max: high, step});
  const number = element("input", {type: "number", step: "any", "aria-label": `${label}${unit ? `, ${unit}` : ""}, number`});
  const shown = element("span", {className: "unit", textContent: unit});
  const box = element("span", {className: "number"}, number, shown);
  const name = element("label", {htmlFor: id, textContent: label});
  range.addEventListener("input", () => { set(Number(range.value)); });
  hold(range, store);
  number.addEventListener("input", () => { number.dataset.typing = "yes"; });
  number.addEventListener("change", () => {
    number.dataset.typing = "no";
    if (number.value !== "" && Number.isFinite(Number(number.value))) set(Number(number.value));
  });
  number.addEventListener("blur", () => { number.dataset.typing = "no"; });
  into.append(name, range, box);
  const parts = [name, range, box];
  return () => {
    const value = get();
    for (const part of parts) part.hidden = value === null;
    if (value === null) return;
    if (!isBusy(range)) range.value = value;
    if (!isBusy(number)) number.value = Number(value.toFixed(places));
    range.setAttribute("aria-valuetext", words ? words(value) : `${Number(value.toFixed(places))} ${unit}`);
  };
}

// A slider over marked values, such as f-numbers. marks: [{label, value, exact}]; nearest(value) -> index.
export function markSlider(into, store, {label, marks, get, set, words}) {
  const id = nextId("field");
  const range = element("input", {type: "range", id, min: 0, max: marks.length - 1, step: 1});
  const shown = element("output", {htmlFor: id});
  const name = element("label", {htmlFor: id, textContent: label});
  range.addEventListener("input", () => { set(marks[Number(range.value)]); });
  hold(range, store);
  into.append(name, range, shown);
  return () => {
    const value = get();
    for (const part of [name, range, shown]) part.hidden = value === null;
    if (value === null) return;
    const near = nearest(marks, value);
    if (!isBusy(range)) range.value = near;
    shown.textContent = words ? words(value, marks[near]) : marks[near].label;
    range.setAttribute("aria-valuetext", shown.textContent);
  };
}

export function nearest(marks, value) {
  let best = 0;
  marks.forEach((mark, i) => {
    const gap = (one) => Math.min(Math.abs(Math.log(one.exact / value)), Math.abs(Math.log(one.value / value)));
    if (gap(mark) < gap(marks[best])) best = i;
  });
  return best;
}

// A choice among words. choices() -> [[value, words]]
export function choice(into, {label, choices, get, set}) {
  const id = nextId("field");
  const select = element("select", {id, className: "wide"});
  const name = element("label", {htmlFor: id, textContent: label});
  select.addEventListener("change", () => { set(select.value); });
  into.append(name, select);
  return () => {
    const wanted = choices(), text = JSON.stringify(wanted);
    if (select.dataset.choices !== text) {
      select.dataset.choices = text;
      select.replaceChildren(...wanted.map(([value, words]) => element("option", {value, textContent: words})));
    }
    const value = get();
    for (const part of [name, select]) part.hidden = value === null;
    if (value !== null && document.activeElement !== select) select.value = String(value);
  };
}

// A colour given as shares of light (linear); get() -> [r, g, b] or null.
export function colour(into, {label, get, set}) {
  const id = nextId("field");
  const input = element("input", {type: "color", id, className: "wide"});
  const name = element("label", {htmlFor: id, textContent: label});
  input.addEventListener("change", () => {
    set([1, 3, 5].map((at) => decoded(parseInt(input.value.slice(at, at + 2), 16) / 255)));
  });
  into.append(name, input);
  return () => {
    const value = get();
    if (value === null || document.activeElement === input) return;
    input.value = `#${value.map((part) => Math.round(255 * encoded(part)).toString(16).padStart(2, "0")).join("")}`;
  };
}

function encoded(x) {
  return x <= 0.0031308 ? 12.92 * x : 1.055 * x ** (1 / 2.4) - 0.055;
}

function decoded(y) {
  const x = y <= 0.04045 ? y / 12.92 : ((y + 0.055) / 1.055) ** 2.4;
  return Math.round(x * 1000) / 1000;
}

// While a slider is held, refining and the sky wait.
function hold(range, store) {
  range.addEventListener("pointerdown", () => store.hand(true));
  for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) {
    range.addEventListener(end, () => { if (store.held) store.hand(false); });
  }
}
