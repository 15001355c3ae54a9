// The fit follows as a value is typed, a button moves the curve, or the curve is dragged; without this script the buttons load the page anew.
const figure = document.getElementById("fig-drawdown");
const form = document.getElementById("byhand");
const status = document.getElementById("status");
const held = () => Object.fromEntries([...form.elements].filter((e) => e.name.startsWith("hold_") && e.value.trim()).map((e) => [e.name.slice(5), e.value.trim()]));
const three = (v) => Number(v.toPrecision(4)).toString();
let waiting = null, asking = false;

async function ask(extra) {
  if (asking) { waiting = extra; return; }
  asking = true;
  figure.classList.add("busy");
  const body = {
    job: figure.dataset.job, run: figure.dataset.run, hole: figure.dataset.hole, solution: form.elements.solution.value,
    alone: form.elements.alone.checked, robust: form.elements.robust.checked, hold: held(), ...extra,
  };
  const answer = await fetch("/api/test/fit", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) }).catch(() => null);
  const told = answer ? await answer.json().catch(() => null) : null;
  asking = false;
  figure.classList.remove("busy");
  if (!told) status.textContent = "No answer from the program: what you see has not changed.";
  else if (told.error) status.textContent = `${told.error.field}: ${told.error.problem}. Want ${told.error.want}.`;
  else show(told);
  if (waiting) { const next = waiting; waiting = null; ask(next); }
}

function show(told) {
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
    const p = told.fit.parameters[span.dataset.key];
    if (!p) continue;
    span.querySelector("strong").textContent = three(p.value);
    span.querySelector(".between").textContent = span.dataset.key in told.held ? "held" : p.low === p.high ? "" : `(${Number(p.low.toPrecision(3))} to ${Number(p.high.toPrecision(3))})`;
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

// Dragging: where the pointer went, in the numbers of the two scales.
const axis = (text) => { const [kind, low, high] = text.split(","); return { log: kind === "log", low: Number(low), high: Number(high) }; };
function at(event) {
  const svg = figure.querySelector("svg");
  const [left, top, right, bottom] = svg.dataset.frame.split(",").map(Number);
  const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  const value = ({ log, low, high }, share) => (log ? low * (high / low) ** share : low + (high - low) * share);
  return { x: value(axis(svg.dataset.x), (p.x - left) / (right - left)), y: value(axis(svg.dataset.y), (p.y - top) / (bottom - top)) };
}
let from = null;
if (form.elements.nudge) {
  figure.classList.add("live");
  for (const words of document.querySelectorAll(".dragword")) words.hidden = false;
  figure.addEventListener("pointerdown", (event) => {
    if (!event.target.closest("svg") || event.button) return;
    from = at(event);
    if (!(from.y > 0)) { from = null; return; }
    figure.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  figure.addEventListener("pointerup", (event) => {
    if (!from) return;
    const to = at(event);
    const deeper = to.y / from.y, later = to.x / from.x;
    from = null;
    if (deeper > 0.02 && (Math.abs(Math.log(deeper)) > 0.01 || Math.abs(Math.log(later)) > 0.02)) ask({ move: { deeper, later } });
  });
  figure.addEventListener("pointercancel", () => { from = null; });
}
