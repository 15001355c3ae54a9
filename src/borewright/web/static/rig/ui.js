// Big things to tap. No drag, nothing smaller than a gloved finger, numbers by steps with the keys there for who wants them.
import * as units from "./units.js";

export function el(tag, given = {}, ...inside) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "text") node.textContent = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...inside.flat().filter((x) => x !== null && x !== undefined));
  return node;
}

export const button = (text, act, className = "big") => el("button", { type: "button", class: className, onclick: act, text });

let count = 0;

/** One of several words; a second tap on the chosen one takes it back unless it is needed. */
export function chips(label, words, { chosen = "", needed = false, line = false, then = () => {} } = {}) {
  const box = el("div", { class: "chips", role: "group", "aria-label": label });
  const state = { value: chosen, node: el("section", { class: line ? "line" : null }, el("h3", { text: label }), box) };
  /** Choose one from elsewhere, without the tap's own doings. */
  state.pick = (value) => {
    state.value = value;
    [...box.children].forEach((chip, i) => chip.setAttribute("aria-pressed", String(value !== "" && (Array.isArray(words[i]) ? words[i][0] : words[i]) === value)));
  };
  for (const word of words) {
    const text = Array.isArray(word) ? word[1] : word;
    const value = Array.isArray(word) ? word[0] : word;
    const chip = el("button", { type: "button", class: "chip", "aria-pressed": String(value === chosen), text });
    chip.addEventListener("click", () => {
      state.value = state.value === value && !needed ? "" : value;
      for (const other of box.children) other.setAttribute("aria-pressed", "false");
      chip.setAttribute("aria-pressed", String(state.value === value));
      then(state.value);
    });
    box.append(chip);
  }
  return state;
}

/** A number with steps either side; the keys stay closed unless the number itself is tapped. */
export function stepper(label, value, unit, steps, { least = 0, most = Infinity, digits = 1, first = null } = {}) {
  const id = `n${(count += 1)}`;
  const field = el("input", { id, inputmode: "decimal", autocomplete: "off", value: value === null ? "" : String(Number(value.toFixed(digits))) });
  const state = {
    get value() {
      const number = Number(field.value.replace(",", "."));
      return field.value.trim() !== "" && Number.isFinite(number) ? number : null;
    },
    set value(number) { field.value = number === null ? "" : String(Number(number.toFixed(digits))); },
    field,
  };
  const step = (by) => {
    // An empty number starts at what is usual, not at nothing: the first tap says so and the next ones move it.
    const next = state.value === null && first !== null ? first : Math.min(most, Math.max(least, (state.value ?? 0) + by));
    state.value = next;
    field.dispatchEvent(new Event("input"));
  };
  const key = (by) => button(`${by > 0 ? "+" : "−"}${Math.abs(by)}`, () => step(by), "step");
  state.node = el("section", { class: "number" }, el("label", { for: id, text: `${label}${unit ? `, ${unit}` : ""}` }),
    field, el("div", { class: `steps of${steps.length}` }, ...steps.map((s) => key(-s)), ...(steps.length > 2 ? steps : [...steps].reverse()).map((s) => key(s))));
  return state;
}

/** A number in the firm's unit: `si` is what is kept and `typed` the words beside it. Steps are in the unit shown; two lists where inches want smaller ones. */
export function measure(label, kind, si, steps, { least = 0, most = Infinity, digits = units.digitsOf(kind), first = null } = {}) {
  const shown = units.fromSi(kind, si ?? null);
  const mine = Array.isArray(steps) ? steps : steps[units.isMetric() ? "metric" : "other"];
  const state = stepper(label, shown, units.unitOf(kind).replace("deg", "°").replace("m3", "m³"), mine, { least: units.fromSi(kind, least), most: units.fromSi(kind, most), digits, first: first === null ? null : units.fromSi(kind, first) });
  Object.defineProperties(state, {
    // The words are rounded to be read; a value that nobody changed stays what it was.
    si: { get: () => (state.value !== null && shown !== null && state.value === Number(shown.toFixed(digits)) ? si : units.toSi(kind, state.value)) },
    typed: { get: () => (state.value === null ? "" : `${state.value} ${units.unitOf(kind)}`) },
    set: { value: (value) => { state.value = value === null ? null : units.fromSi(kind, value); } },
    must: { get: () => { if (state.value === null) throw new RangeError(`${label}: say a number.`); return state.si; } },
  });
  return state;
}

/** The part of an entry that numbers on the glass make: SI values, and the words beside them. */
export function measured(fields) {
  const said = Object.entries(fields).filter(([, state]) => state && state.value !== null);
  const typed = Object.fromEntries(said.map(([name, state]) => [name, state.typed]));
  return { ...Object.fromEntries(said.map(([name, state]) => [name, state.si])), ...(said.length ? { typed } : {}) };
}

/** Several readings of one thing, kept in SI. */
export function readings(label, kind, start, steps, options) {
  const taken = [];
  const shown = el("p", { class: "taken", "aria-live": "polite" });
  const number = measure(label, kind, start, steps, options);
  const tell = () => { shown.textContent = taken.length ? `Taken: ${taken.map((si) => Number(units.fromSi(kind, si).toFixed(units.digitsOf(kind)))).join(", ")} ${units.unitOf(kind)}` : ""; };
  const add = (si) => { taken.push(si); tell(); state.changed(); };
  const state = {
    get all() { return taken.length ? taken : number.value ? [number.si] : []; },
    add, changed: () => {},
    node: el("section", {}, number.node, button("One more reading", () => { if (number.value) add(number.si); }), shown),
  };
  number.field.addEventListener("input", () => state.changed());
  return state;
}
