// Re-checks the design as its rows change; without this script the button "Check it" does the same.
const form = document.getElementById("design");
const verdict = document.getElementById("verdict");
let last = 0;
let waiting = 0;

function said(list, severity, text) {
  const item = document.createElement("li");
  item.className = severity;
  const word = document.createElement("strong");
  word.textContent = severity;
  item.append(word, " ", text);
  list.append(item);
}

function rows(id, lines, heads) {
  const body = document.getElementById(id);
  if (!body) return;
  body.replaceChildren(...lines.flatMap((line) => {
    const row = document.createElement("tr");
    const under = heads === "under" ? line.pop() : null;
    line.forEach((text, at) => {
      const cell = document.createElement(at === 0 && heads ? "th" : "td");
      if (at === 0 && heads) cell.scope = "row";
      if (/^[\d−–-]/.test(text)) cell.className = "n";
      cell.textContent = text;
      row.append(cell);
    });
    if (line.includes("fails")) row.className = "fails";
    if (under === null) return [row];
    const more = document.createElement("tr");
    more.className = "from";
    const cell = more.appendChild(document.createElement("td"));
    cell.colSpan = line.length;
    cell.textContent = under;
    return [row, more];
  }));
}

function tell(answer) {
  for (const list of form.querySelectorAll("[data-notes]")) {
    const key = list.dataset.notes;
    list.replaceChildren();
    for (const note of answer.notes[key] || []) said(list, note.severity, note.message);
  }
  for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
  for (const [key, text] of Object.entries(answer.wrong)) {
    form.elements.namedItem(key)?.setAttribute("aria-invalid", "true");
    const row = key.replace(/^(\w+-\d+)-\w+$/, "$1");
    const list = form.querySelector(`[data-notes="${key}"]`) || form.querySelector(`[data-notes="${row}"]`);
    if (list) said(list, "danger", text);
  }
  const line = document.createElement("p");
  const bad = Object.keys(answer.wrong).length;
  line.className = answer.passes ? "ok" : "wrong";
  line.textContent = answer.passes ? "Every stage holds and no rule of danger is broken."
    : bad ? (answer.wrong[""] || `${bad} to put right below.`) : "It does not pass: a stage fails or a rule of danger is broken. It can be kept, with the danger said on it.";
  if (verdict.textContent !== line.textContent) verdict.replaceChildren(line);
  if (bad) return;
  rows("stage-rows", answer.stages, "under");
  rows("material-rows", answer.materials, true);
  rows("rule-rows", answer.rules, false);
  document.getElementById("differently-rows")?.replaceChildren(...answer.differently.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
  const drawing = document.querySelector("#hole svg");
  if (drawing) drawing.outerHTML = answer.section;
  const charts = document.getElementById("strength");
  if (charts) charts.innerHTML = answer.strength.map((svg) => `<div class="chart">${svg}</div>`).join("");
}

async function check() {
  const mine = ++last;
  const body = JSON.stringify({ job: form.dataset.job, form: Object.fromEntries(new FormData(form)) });
  const answer = await fetch("/api/design/check", { method: "POST", headers: { "content-type": "application/json" }, body }).catch(() => null);
  if (answer?.ok && mine === last) tell(await answer.json());
}

form.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = setTimeout(check, 350);
});
