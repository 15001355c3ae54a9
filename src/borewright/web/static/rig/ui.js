// Big things to tap. No drag, nothing smaller than a gloved finger, numbers by steps with the keys there for who wants them.

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
export function chips(label, words, { chosen = "", needed = false, then = () => {} } = {}) {
  const box = el("div", { class: "chips", role: "group", "aria-label": label });
  const state = { value: chosen, node: el("section", {}, el("h3", { text: label }), box) };
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
export function stepper(label, value, unit, steps, { least = 0, most = Infinity, digits = 1 } = {}) {
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
    const next = Math.min(most, Math.max(least, (state.value ?? 0) + by));
    state.value = next;
    field.dispatchEvent(new Event("input"));
  };
  const key = (by) => button(`${by > 0 ? "+" : "−"}${Math.abs(by)}`, () => step(by), "step");
  state.node = el("section", { class: "number" }, el("label", { for: id, text: `${label}${unit ? `, ${unit}` : ""}` }),
    field, el("div", { class: "steps" }, ...steps.map((s) => key(-s)), ...[...steps].reverse().map((s) => key(s))));
  return state;
}

/** Several readings of one thing. */
export function readings(label, unit, start, steps, options) {
  const taken = [];
  const shown = el("p", { class: "taken", "aria-live": "polite" });
  const number = stepper(label, start, unit, steps, options);
  const tell = () => { shown.textContent = taken.length ? `Taken: ${taken.join(", ")} ${unit}` : ""; };
  const add = (value) => { taken.push(value); tell(); state.changed(); };
  const state = {
    get all() { return taken.length ? taken : number.value ? [number.value] : []; },
    add, changed: () => {},
    node: el("section", {}, number.node, button("One more reading", () => { if (number.value) add(number.value); }), shown),
  };
  number.field.addEventListener("input", () => state.changed());
  return state;
}

export const metres = (m) => `${Number(m.toFixed(2))} m`;

/** Flow as it is read at the rig: litres a minute under the metric system, gallons a minute else. */
export function flowWords(flow, units) {
  if (units === "US") return `${Number((flow * 15850.323).toPrecision(3))} US gpm`;
  if (units === "imperial") return `${Number((flow * 13198.155).toPrecision(3))} imp gpm`;
  return `${Number((flow * 60000).toPrecision(3))} L/min`;
}
