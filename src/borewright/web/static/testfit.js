// The fit follows as a value is typed, a button moves the curve, or the curve is dragged; without this script the buttons load the page anew.
const figure = document.getElementById("fig-drawdown");
const form = document.getElementById("byhand");
const status = document.getElementById("status");
const held = () => Object.fromEntries([...form.elements].filter((e) => e.name.startsWith("hold_") && e.value.trim()).map((e) => [e.name.slice(5), e.value.trim()]));
const part = () => Object.fromEntries([...form.elements].filter((e) => e.name.startsWith("open_") && e.value.trim()).map((e) => [e.name, e.value.trim()]));
const three = (v) => Number(v.toPrecision(4)).toString();
let waiting = null, asking = false;

async function ask(extra) {
  if (asking) { waiting = extra; return; }
  asking = true;
  figure.classList.add("busy");
  const body = {
    job: figure.dataset.job, run: figure.dataset.run, hole: figure.dataset.hole, solution: form.elements.solution.value,
    alone: form.elements.alone.checked, robust: form.elements.robust.checked, hold: held(), part: part(), ...extra,
  };
  const answer = await fetch("/api/test/fit", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) }).catch(() => null);
  const told = answer ? await answer.json().catch(() => null) : null;
  asking = false;
  figure.classList.remove("busy");
  if (!told) { status.textContent = "No answer from the program: the curve is back where it was."; back(); }
  else if (told.error) { status.textContent = `${told.error.field}: ${told.error.problem}. Want ${told.error.want}.`; back(); }
  else { before = null; show(told); }
  if (waiting) { const next = waiting; waiting = null; ask(next); }
}

function show(told) {
  moving.hidden = true;
  for (const [name, svg] of Object.entries(told.figures)) {
    const place = name === "drawdown" ? figure : document.querySelector(`#fig-${name} > div`);
    const old = place && place.querySelector("svg");
    if (old) old.outerHTML = svg;
  }
  for (const field of form.elements) {
    if (!field.name.startsWith("hold_")) continue;
    const key = field.name.slice(5);
    if (key in told.held && document.activeElement !== field) field.value = three(told.held[key]);
    field.placeholder = told.fit.parameters[key] ? three(told.fit.parameters[key].value) : "";
  }
  for (const span of document.querySelectorAll("#drawn [data-key]")) {
    const said = told.shown[span.dataset.key];
    if (!said) continue;
    span.querySelector("strong").textContent = said[0];
    span.querySelector(".between").textContent = span.dataset.key in told.held ? "held" : said[1];
  }
  const misfit = document.querySelector("#drawn [data-misfit]");
  if (misfit) misfit.textContent = `${Number(told.fit.rmse_m.toPrecision(3))} m`;
  const aicc = document.querySelector("#drawn [data-aicc]");
  if (aicc) aicc.textContent = told.fit.aicc === null ? "–" : told.fit.aicc.toFixed(1);
  const kept = Object.keys(told.held).length;
  status.textContent = `${told.fit.title}: misfit ${Number(told.fit.rmse_m.toPrecision(3))} m${kept ? `, ${kept} held` : ""}. Not kept yet.`;
}

for (const field of form.elements) {
  if (field.name.startsWith("hold_")) field.addEventListener("change", () => ask({}));
  if (field.name === "nudge") field.addEventListener("click", (event) => { event.preventDefault(); ask({ nudge: field.value }); });
}
form.elements.solution.addEventListener("change", () => form.requestSubmit());

// Dragging. Drawdown is a scale over T of a function of t T/S: deeper by g and later by f divides T by g and makes S f/g times as large, so the drawn
// curve follows the pointer exactly while the rate is steady. What else is fitted follows when the curve is let go.
const axis = (text) => { const [kind, low, high] = text.split(","); return { log: kind === "log", low: Number(low), high: Number(high) }; };
const value = ({ log, low, high }, share) => (log ? low * (high / low) ** share : low + (high - low) * share);
const share = ({ log, low, high }, v) => (log ? Math.log(v / low) / Math.log(high / low) : (v - low) / (high - low));
const frame = (svg) => { const [left, top, right, bottom] = svg.dataset.frame.split(",").map(Number); return { left, top, right, bottom, x: axis(svg.dataset.x), y: axis(svg.dataset.y) }; };
function at(event, svg) {
  const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  const { left, top, right, bottom, x, y } = frame(svg);
  return { x: value(x, (p.x - left) / (right - left)), y: value(y, (p.y - top) / (bottom - top)) };
}
function move(svg, { deeper, later }) {
  const { left, top, right, bottom, x, y } = frame(svg);
  for (const path of svg.querySelectorAll("path[data-moved]")) {
    path.dataset.was ??= path.getAttribute("d");
    let d = "", pen = "M";
    for (const point of path.dataset.was.slice(1).split("L")) {
      const [px, py] = point.split(" ").map(Number);
      const nx = left + (right - left) * share(x, value(x, (px - left) / (right - left)) * later);
      const ny = top + (bottom - top) * share(y, value(y, (py - top) / (bottom - top)) * deeper);
      if (nx < left || nx > right || !(ny >= top && ny <= bottom)) { pen = "M"; continue; }
      d += `${pen}${nx.toFixed(2)} ${ny.toFixed(2)}`;
      pen = "L";
    }
    path.setAttribute("d", d || "M0 0");
  }
}
const moving = document.getElementById("moving");
const storage = ["hold_storativity", "hold_storativity_times_half_length_squared_m2"].map((name) => form.elements[name]).find(Boolean);
const places = [form.elements.hold_transmissivity_m2_per_d, storage].filter(Boolean);
const now = (field) => Number(field.value.trim() || document.querySelector(`#drawn [data-key="${field.name.slice(5)}"] strong`)?.textContent);
let before = null, shift = { deeper: 1, later: 1 }, from = null, pause = null;
function follow(next) {
  before ??= { transmissivity: now(form.elements.hold_transmissivity_m2_per_d), storage: storage ? now(storage) : null, typed: places.map((field) => field.value) };
  shift = next;
  for (const svg of charts()) move(svg, shift);
  const transmissivity = before.transmissivity / shift.deeper;
  form.elements.hold_transmissivity_m2_per_d.value = three(transmissivity);
  let words = `Transmissivity ${three(transmissivity)} m²/d`;
  if (storage) {
    storage.value = three(before.storage / shift.deeper * shift.later);
    words += `, ${storage.name === "hold_storativity" ? "storativity" : "storage of the fracture, m²,"} ${storage.value}`;
  }
  moving.textContent = `${words}. ${figure.dataset.recovery ? "The level at the stop moves with it: the true curve follows when you let go." : "The rest follows when you let go."}`;
  moving.hidden = false;
}
function settle() {
  clearTimeout(pause);
  pause = null;
  const { deeper, later } = shift;
  if (Math.abs(Math.log(deeper)) < 0.002 && Math.abs(Math.log(later)) < 0.005) { back(); return; }
  const hold = { ...held(), transmissivity_m2_per_d: String(before.transmissivity / deeper) };
  if (storage) hold[storage.name.slice(5)] = String(before.storage / deeper * later);
  shift = { deeper: 1, later: 1 };
  ask({ hold });
}
function back() {
  shift = { deeper: 1, later: 1 };
  for (const svg of charts()) move(svg, shift);
  if (before) places.forEach((field, k) => { field.value = before.typed[k]; });
  before = null;
  moving.hidden = true;
}
const charts = () => ["#fig-drawdown", "#fig-derivative", ...[...document.querySelectorAll('[id^="fig-other-"]')].map((f) => `#${f.id}`)].map((id) => document.querySelector(`${id} svg`)).filter((svg) => svg?.dataset.frame);
const held_still = (shift) => Math.min(Math.max(shift, 0.02), 50);
if (form.elements.nudge) {
  for (const words of document.querySelectorAll(".dragword")) words.hidden = false;
  for (const place of [figure, document.querySelector("#fig-derivative")].filter(Boolean)) {
    place.classList.add("moved", "live");
    place.addEventListener("pointerdown", (event) => {
      const svg = event.target.closest("svg");
      if (!svg?.dataset.frame || event.button || asking) return;
      if (pause) settle();
      const start = at(event, svg);
      if (!(start.y > 0)) return;
      from = { svg, ...start };
      place.setPointerCapture(event.pointerId);
      event.preventDefault();
    });
    place.addEventListener("pointermove", (event) => {
      if (!from) return;
      const to = at(event, from.svg);
      follow({ deeper: held_still(to.y / from.y), later: held_still(to.x / from.x) });
    });
    place.addEventListener("pointerup", () => { if (from) { from = null; if (before) settle(); } });
    place.addEventListener("pointercancel", () => { if (from) { from = null; back(); } });
  }
  figure.tabIndex = 0;
  figure.setAttribute("aria-label", "Chart with the fitted curve: arrow keys move the curve, Escape puts it back");
  figure.setAttribute("role", "group");
  const steps = { ArrowDown: { deeper: 1.02, later: 1 }, ArrowUp: { deeper: 1 / 1.02, later: 1 }, ArrowRight: { deeper: 1, later: 1.05 }, ArrowLeft: { deeper: 1, later: 1 / 1.05 } };
  figure.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && before) { clearTimeout(pause); pause = null; from = null; back(); return; }
    const step = steps[event.key];
    if (!step || asking || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    follow({ deeper: shift.deeper * step.deeper, later: shift.later * step.later });
    clearTimeout(pause);
    pause = setTimeout(settle, 700);
  });
}
