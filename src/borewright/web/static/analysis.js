// Narrows the units and the form of a row to those of the thing named in it; without this script every unit is offered and the server checks.
const form = document.getElementById("analysis");
const table = JSON.parse(form.dataset.units);
const named = (name) => table[name.trim().toLowerCase().replace(/\s+/g, " ")];
const offered = new Map();

function narrow(input, chosen) {
  const number = input.name.slice(5);
  const unit = form.elements[`unit_${number}`];
  const kind = form.elements[`form_${number}`];
  if (!offered.has(number)) offered.set(number, [...unit.options].map((o) => o.value));
  const found = named(input.value);
  const before = unit.value;
  const units = found ? [...found[0]] : offered.get(number);
  if (found && before && !units.includes(before)) {
    if (chosen) unit.value = "";
    else units.push(before); // a sheet's own spelling stays until the server has read it
  }
  const keep = units.includes(unit.value) && unit.value === before && (!chosen || before) ? before : units[0];
  unit.replaceChildren(...units.map((u) => new Option(u || "none", u, false, u === keep)));
  kind.disabled = Boolean(found) && !found[1].length;
  if (found && found[1].length) kind.replaceChildren(new Option("choose", ""), ...found[1].map((f) => new Option(f, f, false, f === kind.value)));
}

for (const input of form.querySelectorAll("input[name^=name_]")) {
  if (input.value) narrow(input, false);
  input.addEventListener("change", () => narrow(input, true));
}
