// The rig page: which job, how deep, what now, and the taps.
import { entryClock, offWords } from "./clock.js";
import { fold } from "./fold.js";
import * as outbox from "./outbox.js";
import * as store from "./store.js";
import { button, chips, el } from "./ui.js";
import { depthWords, flowWords, sizeWords, use, words as inUnits } from "./units.js";
import { whatNow } from "./whatnow.js";

// What the first look does not need is loaded after it; all of it is on the phone.
const panels = () => import("./panels.js");
const airPanel = () => import("./airpanel.js");

const main = document.getElementById("main");
const title = document.getElementById("title");
const chip = document.getElementById("outbox");
const alarm = document.getElementById("alarm");
const done = document.getElementById("done");
const dock = document.getElementById("dock");
const back = document.getElementById("back");
const jobId = (location.pathname.match(/^\/rig\/([0-9a-f-]{36})$/) || [])[1];
const view = { panel: "", last: {}, pack: {}, job: null, now: null, entries: [], unsent: new Set() };
const TAPS = [["ground", "Ground"], ["water", "Water"], ["flow", "Flow"], ["dip", "Dip"], ["casing", "Casing"], ["grout", "Grout, seal"], ["airlift", "Airlift"], ["sample", "Sample"],
  ["part", "Part rod"], ["bit", "Bit"], ["fuel", "Fuel, stores"], ["standby", "Stand-by"], ["note", "Note, photo"], ["near", "Near miss"], ["day", "Day sheet"], ["stop", "Stop hole"]];
const NAMES = { "rig.advanced": "Rod", "rig.ground": "Ground", "rig.struck": "Water", "rig.flow": "Flow", "rig.level": "Level", "rig.casing": "Casing", "rig.annulus": "Annulus", "rig.airlift": "Airlift", "rig.sample": "Sample",
  "rig.stopped": "Stopped", "rig.used": "Used", "rig.stood_by": "Stand-by", "rig.near_miss": "Near miss", "rig.photo": "Photo", "rig.note": "Note", "rig.bit": "Bit", "rig.hole_started": "Hole started", "rig.day_started": "Day started", "rig.sealed_off": "Sealed" };

/** Dark glass for work at night, kept on this phone. */
const night = (on) => {
  const dark = document.documentElement.classList.toggle("night", on);
  try { localStorage.setItem("night", dark ? "yes" : ""); } catch { /* it is dark until the page is closed */ }
  return dark;
};
const glass = () => {
  const words = () => (document.documentElement.classList.contains("night") ? "Day colours" : "Night colours");
  const tap = button(words(), () => { night(); tap.textContent = words(); }, "big wide");
  return tap;
};
try { night(localStorage.getItem("night") === "yes"); } catch { /* a phone that keeps nothing has day colours */ }

function shout(words) {
  alarm.textContent = words;
  alarm.hidden = !words;
}

function says(entry) {
  const b = entry.body;
  const span = b.to_depth !== undefined ? `${depthWords(b.from_depth || 0)} to ${depthWords(b.to_depth)}` : "";
  if (entry.kind === "rig.advanced") return `to ${depthWords(b.to_depth)}`;
  if (entry.kind === "rig.ground") return [span, b.words, b.colour, b.grain, b.strength, b.weathering].filter(Boolean).join(", ");
  if (entry.kind === "rig.struck") return `at ${depthWords(b.depth)}`;
  if (entry.kind === "rig.flow") return `${flowWords(b.flow)}${b.standard_uncertainty ? ` ± ${flowWords(2 * b.standard_uncertainty)}` : ""} by ${b.method} at ${depthWords(b.depth)}`;
  if (entry.kind === "rig.level") return `${depthWords(b.depth_to_water)} below ground, ${b.state || "static"}`;
  if (entry.kind === "rig.casing") return `${span}, ${b.string} ${sizeWords(b.outside_diameter)}${b.slotted ? ", slotted" : ""}${b.joints ? `, ${b.joints} joints` : ""}`;
  if (entry.kind === "rig.annulus") return `${span}, ${b.what}, ${b.material}${b.bags ? `, ${b.bags} bags` : ""}${b.density ? `, ${inUnits("density", b.density)}` : ""}`;
  if (entry.kind === "rig.bit") return `${sizeWords(b.diameter)} from ${depthWords(b.from_depth || 0)}`;
  if (entry.kind === "rig.stopped") return `at ${depthWords(b.depth)}, ${b.reason}`;
  if (entry.kind === "rig.used") return `${b.quantity} ${b.unit} ${b.item}`;
  if (entry.kind === "rig.stood_by") return `${b.reason}${b.duration ? `, ${Math.round(b.duration / 60)} min` : ""}`;
  if (entry.kind === "rig.airlift") return [`${Math.round(b.elapsed / 60)} min`, b.turbidity !== undefined ? `${b.turbidity} NTU` : "", b.sand !== undefined ? `sand ${b.sand} mg/L` : "", b.clear ? "clear" : "not clear"].filter(Boolean).join(", ");
  if (entry.kind === "rig.day_started") {
    const checks = Object.entries(b.checks || {});
    return [`${checks.filter(([, yes]) => yes).length} yes`, ...checks.filter(([, yes]) => !yes).map(([words]) => `NO to ${words}`), (b.note || "").startsWith("Not answered: ") ? `${b.note.split(";").length} not answered` : b.note, (b.crew || []).join(", ")].filter(Boolean).join("; ");
  }
  if (entry.kind === "rig.near_miss") return [b.what, b.done].filter(Boolean).join("; ");
  if (entry.kind === "rig.photo") return [b.caption, b.depth !== undefined && b.depth !== null ? `at ${depthWords(b.depth)}` : "", b.latitude === undefined || b.latitude === null ? "" : b.place_of === "phone" ? "with the place of the phone, not of the picture" : "with its place"].filter(Boolean).join(", ");
  if (entry.kind === "rig.sample") return [b.depth !== undefined ? depthWords(b.depth) : "", b.conductivity ? `${b.conductivity} µS/cm` : "", b.ph ? `pH ${b.ph}` : "", b.temperature !== undefined ? inUnits("temperature", b.temperature) : ""].filter(Boolean).join(", ");
  return b.text || b.what || b.caption || b.method || "";
}

async function who() {
  const known = await store.get("by");
  if (known) return known;
  return new Promise((resolve) => {
    const name = el("input", { id: "who", autocomplete: "name" });
    const take = async (words) => {
      if (!words.trim()) return;
      await store.set("by", words.trim().slice(0, 80));
      resolve(words.trim());
    };
    title.textContent = "Who writes?";
    main.replaceChildren(el("p", { class: "pad", text: "Your name stands beside every entry that this phone makes." }),
      chips("A tap will do", ["driller", "offsider"], { then: take }).node, el("label", { for: "who", text: "Or your name" }), name, button("That is me", () => take(name.value), "big go"));
  });
}

async function save(write, then) {
  try {
    const what = await write();
    const made = await store.keep(jobId, what, await store.get("by"), what.photos || []);
    shout("");
    view.panel = "";
    await refresh();
    if (then) then();
    tellDone(made.at(-1));
  } catch (error) {
    shout(error instanceof RangeError ? error.message : `NOT KEPT: ${error.name === "QuotaExceededError" ? "this phone is full. Free some room and tap again." : error.message}`);
    return;
  }
  await outbox.count();
  outbox.send();
}

const SURE = 5000;
const asked = { id: "", until: 0 }; // the line that has had the first of its two taps: it holds when the page is drawn anew before the second

function strikeTaps(entry) {
  const sure = () => asked.id === entry.id && Date.now() < asked.until;
  const face = () => { tap.textContent = sure() ? "Sure? Tap again" : "Strike out"; };
  const tap = button("Strike out", () => {
    if (sure()) {
      asked.id = "";
      save(() => [{ kind: "struck_out", body: {}, strikesOut: entry.id }]);
      return;
    }
    Object.assign(asked, { id: entry.id, until: Date.now() + SURE });
    face();
    setTimeout(face, SURE);
  }, "big strike");
  if (sure()) {
    face();
    setTimeout(face, asked.until - Date.now());
  }
  return tap;
}

function tellDone(entry) {
  if (entry.kind === "struck_out") {
    done.replaceChildren(el("span", { text: "Struck out. It stays readable below." }));
  } else done.replaceChildren(el("span", { text: `${NAMES[entry.kind] || entry.kind} ${says(entry)} kept.` }), strikeTaps(entry));
  done.hidden = false;
  // It makes way again; the log below strikes out as well.
  clearTimeout(view.fading);
  view.fading = setTimeout(() => { if (!done.contains(document.activeElement) || document.activeElement === document.body) done.hidden = true; }, 20000);
}

function advice(now, job) {
  if (!job.table) return el("p", { class: "now none", text: "No stop rule on this job: no quote was worked out." });
  if (now.stopped) return null;
  const flow = now.flow ? now.flow.body.flow : 0;
  try {
    const told = whatNow(job.table, now.depth, flow, flow > 0 ? Math.max(1, now.strikes.length) : now.strikes.length);
    const words = { complete: "Stop", drill: "Drill on", "give up": "Walk away", move: "Move to the next spot" }[told.action] || told.action;
    return el("div", { class: `now ${told.action.replace(" ", "-")}` }, el("strong", { text: words }), el("span", { text: told.reason.replace("Drill on: the", "The") }),
      el("small", { text: `A rule cannot see gas, lost air or caving: those end the day whatever it says.` }));
  } catch {
    return null;
  }
}

/** The desk's drawing while it holds all that the phone does; the phone's own from the first tap that it does not hold. Drawn when it is looked at. */
function drawing(job, now) {
  const box = el("div", { class: "section" });
  const ahead = view.ahead;
  const draw = async () => {
    if (box.firstChild) return;
    box.innerHTML = ahead ? (await import("./section.js")).drawSection(now).svg : job.section;
    const svg = box.querySelector("svg");
    if (ahead || !svg || !svg.dataset.scale) return;
    const y = Number(svg.dataset.groundY) + now.depth * Number(svg.dataset.scale);
    const line = document.createElementNS("http://www.w3.org/2000/svg", "line");
    for (const [name, value] of Object.entries({ x1: 0, x2: svg.viewBox.baseVal.width, y1: y, y2: y, stroke: "#9c3d16", "stroke-width": 4, "stroke-dasharray": "10 6" })) line.setAttribute(name, value);
    if (y > 0 && y < svg.viewBox.baseVal.height) svg.append(line);
  };
  const whole = el("details", { class: "drawing", open: view.drawn ?? window.innerWidth > 700, ontoggle: () => { view.drawn = whole.open; if (whole.open) draw(); } },
    el("summary", { text: "The hole so far" }), box, ahead ? el("p", { class: "pad", text: "Drawn on this phone from its log. The desk's drawing comes back with coverage." }) : null);
  if (whole.open) draw();
  return whole;
}

/** The firm's kits at this site's altitude, and the kit of this hole where it is another. */
function airTables(job) {
  const common = view.air && view.air.tables && view.air.tables[job.air_altitude];
  return common ? { ...common, kits: [...common.kits, ...job.air_kits] } : null;
}

/** What is tapped most stands where the thumb is, at the foot of the glass, and never moves while the page fills. */
function inReach(...nodes) {
  dock.replaceChildren(...nodes.filter(Boolean));
  dock.hidden = nodes.length === 0;
  fit();
}

/** The foot never takes much of the glass: with very large text it goes to the end of the page instead. */
function fit() {
  const root = document.documentElement;
  const taps = dock.offsetHeight, both = taps + done.offsetHeight;
  const tall = taps > 0.27 * window.innerHeight, low = tall || both > 0.42 * window.innerHeight;
  root.classList.toggle("tall", tall);
  root.classList.toggle("low", low);
  root.style.setProperty("--dock", `${tall ? 0 : taps}px`);
  root.style.setProperty("--foot", `${low ? (tall ? 0 : taps) : both}px`);
}

const nextRod = (now) => ({ kind: "rig.advanced", body: { hole: now.number, to_depth: Number((now.depth + now.rod).toFixed(4)), rods: now.rods + 1 } });

function jobPage() {
  const { job, now } = view;
  title.textContent = job.title;
  document.title = `${job.title}: rig page`;
  back.onclick = null;
  const flow = now.flow ? flowWords(now.flow.body.flow) : "no flow yet";
  const head = el("div", { class: "state" }, el("p", { class: "depth", text: depthWords(now.depth) }),
    el("div", {}, el("p", { text: `${flow}${job.need ? `, need ${flowWords(job.need)}` : ""}` }),
      el("p", { text: `Hole ${now.number}, ${now.strikes.length} strike${now.strikes.length === 1 ? "" : "s"}, ${now.rods} rods` })));
  const nodes = [head, advice(now, job), el("div", { id: "air" })];
  const going = now.started && !now.stopped;
  inReach(going ? button(`Next rod: to ${depthWords(now.depth + now.rod)}`, () => save(() => [nextRod(now)]), "big go wide")
    : button(now.stopped ? `Start hole ${now.number + 1}` : "Start the hole", () => open("start"), "big go wide"));
  nodes.push(el("div", { class: "taps" }, TAPS.filter(([key]) => !(key === "stop" && now.stopped)).map(([key, words]) => button(words, () => open(key)))));
  const hazards = [job.access, ...job.hazards.map((h) => `${h.kind}${h.distance ? ` at ${depthWords(h.distance)}` : ""}`)].filter(Boolean);
  if (hazards.length) nodes.push(el("p", { class: "caution", text: hazards.join("; ") }));
  nodes.push(el("div", { id: "clearing" }), drawing(job, now), book(now));
  main.replaceChildren(...nodes.filter(Boolean));
  performance.mark("hole shown"); // what bench/rig_page.py measures to
  showAir();
}

/** The air tables are large: they are read once, after the page stands. */
async function showAir() {
  const { airNow, clearingNow } = await airPanel();
  view.air ||= (await store.get("air")) || {};
  const put = (id, node) => document.getElementById(id)?.replaceChildren(...(node ? [node] : []));
  put("air", airNow(airTables(view.job), view.now));
  put("clearing", clearingNow(view.job, view.now, view.pack.criteria));
  await panels();
}

function book(now) {
  const list = el("ol", { class: "book" });
  const shown = now.all.filter((e) => e.kind.startsWith("rig.")).reverse();
  for (const entry of shown.slice(0, 40)) {
    const gone = now.gone.has(entry.id);
    const told = entryClock(entry, { unsent: view.unsent.has(entry.id), off: view.off, device: view.device });
    const words = el(gone ? "s" : "span", { text: `${NAMES[entry.kind] || entry.kind} ${says(entry)}` });
    const clock = el("small", { text: `${entry.by}, ${told.words}` });
    list.append(el("li", { class: gone ? "gone" : "" }, el("div", {}, words, clock, told.flag ? el("small", { class: "clock", text: `Clock ${told.flag}` }) : null), gone ? null : strikeTaps(entry)));
  }
  return el("section", {}, el("h2", { text: "Log" }), list, shown.length > 40 ? el("p", { class: "pad", text: `${shown.length - 40} earlier ones are on the desk's history.` }) : null);
}

async function open(key) {
  view.panel = key;
  const { PANELS } = await panels();
  done.hidden = true;
  const context = {
    bagMass: view.pack.bag_mass || 20, startOfDay: view.pack.start_of_day || [], air: view.air && view.air.tables ? view.air : null, lift: view.air && view.air.lift, criteria: view.pack.criteria,
    airCaution: view.pack.air_caution || "Compressed air kills: follow the compressor's and your local rules.", last: view.last, open, save: (write) => save(write),
    recentGround: view.recentGround || [], crew: view.crew, keepCrew: (people) => { view.crew = people; store.set("crew", people).catch(() => {}); },
  };
  const panel = PANELS[key](view.now, view.job, context);
  title.textContent = panel.title;
  main.replaceChildren(el("div", { class: "panel" }, ...panel.nodes));
  const leave = button("Back", close, panel.save ? "big" : "big wide");
  leave.setAttribute("aria-label", "Back without writing");
  inReach(...(panel.save ? [leave, button(panel.save, () => save(panel.write, panel.then), "big go wide")] : [leave]));
  window.scrollTo(0, 0);
  main.focus({ preventScroll: true });
}

function close() {
  view.panel = "";
  shout("");
  jobPage();
}

async function outboxPage() {
  const rows = await store.waiting();
  const left = rows.filter((row) => !row.aside).length;
  view.panel = "outbox";
  title.textContent = "Not yet sent";
  const state = outbox.state;
  const words = left ? `${left} ${left === 1 ? "entry is" : "entries are"} on this phone only.` : rows.length ? "Nothing waits. What the desk cannot take is struck out and stays readable here." : "Everything on this phone has arrived at the desk.";
  const why = state.trouble === "sign in" ? el("a", { class: "big go", href: "/sign-in", text: "Sign in to send" }) : left && state.trouble ? el("p", { class: "pad", text: `Last try: ${state.detail.replace(/\.$/, "")}. ${outbox.nextTry()}` }) : null;
  const copy = () => {
    const file = new Blob([JSON.stringify(rows.map((r) => r.entry), null, 1)], { type: "application/json" });
    const link = el("a", { href: URL.createObjectURL(file), download: "not-yet-sent.json" });
    link.click();
  };
  main.replaceChildren(el("div", { class: "panel" }, el("p", { class: "answer", text: words }), why,
    rows.length ? button("Copy to a file", copy, "big wide") : null,
    el("ol", { class: "book" }, ...rows.slice(0, 100).map((r) => el("li", {}, el("div", {}, el("span", { text: `${NAMES[r.entry.kind] || r.entry.kind} ${r.entry.kind === "struck_out" ? "" : says(r.entry)}` }),
      el("small", { text: `${r.entry.at.slice(0, 16).replace("T", " ")}${r.refused ? `. ${r.aside ? "Struck out. " : ""}The desk cannot take it: ${r.refused}` : ""}` }))))),
    el("p", { class: "pad", text: await keeping() }), glass()));
  inReach(button("Back", () => (jobId ? close() : start()), "big wide"), rows.length ? button("Send now", async () => { await outbox.send(true); outboxPage(); }, "big go wide") : null);
}

/** Whether this phone may forget what it holds. A page that is only a tab may be cleared after a week without use by some phones. */
async function keeping() {
  const { promised, left } = await store.room();
  const installed = navigator.standalone === true || window.matchMedia("(display-mode: standalone)").matches;
  const held = promised ? "This phone has promised to keep this page's book."
    : installed ? "This phone has not promised to keep this page's book for ever; it is on the home screen, so it stays while it is used."
      : "Put this page on the home screen: some phones clear a page that was only opened in the browser after seven days without use, and what is not sent would go with it.";
  return `${held}${left === null ? "" : ` Room left: ${left > 1e9 ? `${Math.round(left / 1e9)} GB` : `${Math.round(left / 1e6)} MB`}.`}`;
}

function listPage(all) {
  title.textContent = "Jobs";
  inReach();
  main.replaceChildren(...(all.length ? all.map((one) => el("a", { class: "job", href: `/rig/${one.id}` }, el("strong", { text: one.title }),
    el("span", { text: [one.customer, one.need ? `needs ${flowWords(one.need)}` : "", one.outcome].filter(Boolean).join(", ") })))
    : [el("p", { class: "pad", text: "No job is on this phone yet. Open one at the desk, then open this page with coverage." })]), glass());
}

async function refresh() {
  view.pack = (await store.get("pack")) || {};
  view.off = (await store.get("off")) || 0;
  view.device = (await store.get("device")) || "";
  use(view.pack.units);
  const waiting = await store.waiting();
  view.unsent = new Set(waiting.map((row) => row.entry.id));
  view.crew = (await store.get("crew")) || [await store.get("by")].filter(Boolean);
  if (!jobId) return;
  view.job = await store.job(jobId);
  if (!view.job) return;
  const own = await store.entriesOf(jobId);
  const aside = new Set(waiting.filter((row) => row.aside).map((row) => row.entry.id));
  view.ahead = own.some((entry) => !aside.has(entry.id)); // a row leaves the phone once the desk's copy of the job names it
  view.now = fold([...view.job.entries, ...own]);
  if (!view.panel) jobPage();
}

/** Take the desk's jobs when it can be reached; what is on the phone stands until then. */
async function fetchPack() {
  try {
    const answer = await fetch("/api/rig/pack", { signal: outbox.limit(15000) });
    if (answer.status === 401) { outbox.state.trouble = "sign in"; return; }
    if (!answer.ok || answer.redirected) return;
    const pack = await answer.json();
    await store.takePack(pack);
    view.air = null;
    // Within a second or two, which is enough to name a clock that is minutes off.
    const off = Date.now() - Date.parse(pack.made);
    await store.set("off", off);
    if (pack.name) await store.set("by", pack.name);
    const far = offWords(off);
    if (far) shout(`This phone's clock is ${far}. Nothing is lost and the order holds; put the clock right.`);
  } catch { /* no coverage: the phone's own copy stands */ }
}

async function start() {
  view.panel = "";
  if (jobId) {
    await refresh();
    if (!view.job) main.replaceChildren(el("p", { class: "pad", text: "This job is not on the phone yet. Open it once with coverage." }));
  } else {
    await refresh();
    listPage(await store.jobs());
  }
}

outbox.listen((state) => {
  const words = state.unsent ? `${state.unsent} not sent` : "All sent";
  chip.textContent = state.sending && state.unsent ? `Sending ${state.unsent}` : words;
  chip.className = `big ${state.refused ? "refused" : state.unsent ? "waiting" : "clear"}`;
  chip.setAttribute("aria-label", state.unsent ? `${state.unsent} entries not yet sent. Open the outbox` : "All sent. Open the outbox");
});
chip.addEventListener("click", outboxPage);
main.tabIndex = -1;
if (window.ResizeObserver) for (const part of [dock, done]) new ResizeObserver(fit).observe(part);
window.addEventListener("resize", fit);

async function begin() {
  if ("serviceWorker" in navigator) navigator.serviceWorker.register("/rig/sw.js", { scope: "/rig" }).catch((error) => shout(`This page cannot be kept for use with no coverage: ${error.message}`));
  else shout("At this address the page cannot be kept for use with no coverage. Open it by the https address that the desk shows.");
  if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
  await outbox.count();
  if (!(await store.get("by"))) await fetchPack();
  await who();
  await start();
  await fetchPack();
  if (!view.panel) await start();
  await outbox.begin();
  // Once all is sent the desk's copy is taken, and asked for again while the phone still knows more than it.
  let before = outbox.state.unsent, next = 0;
  let pressed = 0; // the page is not drawn anew under a finger: the tap would be lost
  document.addEventListener("pointerdown", () => { pressed = Date.now(); }, true);
  for (const up of ["pointerup", "pointercancel"]) document.addEventListener(up, () => setTimeout(() => { pressed = 0; }), true);
  const touched = () => pressed && Date.now() - pressed < 2000;
  setInterval(async () => {
    if (document.hidden || touched()) return;
    const { unsent } = outbox.state;
    const arrived = unsent === 0 && before > 0;
    before = unsent;
    if (unsent > 0 || !(arrived || (view.ahead && Date.now() > next))) return;
    next = Date.now() + 30000;
    await fetchPack();
    while (touched()) await new Promise((go) => setTimeout(go, 50));
    await refresh();
  }, 4000);
}

begin().catch((error) => shout(`This phone's book cannot be opened: ${error.message}. Nothing can be kept until it can.`));
