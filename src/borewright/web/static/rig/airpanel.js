// Compressed air on the phone: what it does in this hole, airlift advice, development readings and when the bore is clean.
import { airAt, kitOf, liftAt, plainRule } from "./air.js";
import { chips, el, measure, measured, stepper } from "./ui.js";
import { depthWords, words } from "./units.js";

const WHY = {
  cleaning: "the air no longer lifts the cuttings: add foam or air, slow down, or blow the hole before then",
  unloading: "the water that gathers during a rod change is more than the compressor can lift",
  pressure: "the hole asks for more pressure than the compressor gives",
};

/** The air here, with a warning two rods before the hole stops cleaning. */
export function airNow(tables, now) {
  if (!now.started || now.stopped || !/air/.test(now.started.body.method || "air")) return null;
  const kit = kitOf(tables, now);
  if (!kit) return el("p", { class: "pad", text: "Air: no table for this bit, rods and compressor. Say them when the hole is started; the desk works it out on the next visit to coverage." });
  const water = now.flow ? now.flow.body.flow : 0;
  const at = airAt(tables, kit, now.depth, water);
  const ahead = at.end - now.depth;
  const state = ahead <= 0 ? "past" : ahead <= 2 * now.rod ? "near" : "far";
  const told = { past: `From about ${depthWords(at.end)} ${WHY[at.why]}.`, near: `Soon: at about ${depthWords(at.end)} ${WHY[at.why]}.`,
    far: Number.isFinite(at.end) ? `Cleans to about ${depthWords(at.end)} with this water.` : `Cleans to ${depthWords(tables.depth.at(-1))} and beyond with this water.` }[state];
  return el("div", { class: `air ${state}`, role: state === "far" ? null : "alert" },
    el("span", { text: `Air ${words("velocity", at.collar)} up the hole, ${words("pressure", at.pressure)} at the bit. ` }), el(state === "far" ? "span" : "strong", { text: told }),
    el("small", { text: "On the hopeful side: no slip is counted. Trust the returns at the collar first." }));
}

function liftAdvice(now, context) {
  const dipped = now.levels.filter((e) => (e.body.state || "static") !== "pumping").at(-1);
  const pumping = now.levels.filter((e) => e.body.state === "pumping").at(-1) || dipped;
  if (!pumping || !context.lift) return el("p", { class: "pad", text: "Dip the level first, and how deep to set the air is told here." });
  const level = Math.max(0, pumping.body.depth_to_water);
  const at = liftAt(context.lift, level);
  const deep = now.depth > 0 && at.air_depth > now.depth ? ` The hole is only ${depthWords(now.depth)}: as deep as it safely goes, and expect slugs.` : "";
  return el("p", { class: "answer", text: `Water at ${depthWords(level)}: set the air at about ${depthWords(at.air_depth)}. The start takes ${words("pressure", at.starting_pressure)}; each volume of water takes about ${at.air_per_water.toFixed(1)} of free air, a quarter either way.${deep}` });
}

/** "Clean by": the desk's answer as last told, and the plain rule on what the phone holds since. */
export function clearingNow(job, now, criteria = {}) {
  const told = (job.clearing || []).filter((c) => c.hole === now.number);
  const nodes = [];
  for (const [what, unit] of [["turbidity", "NTU"], ["sand", "mg/L"]]) {
    const read = now.airlift.map((e) => e.body).filter((b) => b[what] !== undefined && b[what] !== null).sort((a, b) => a.elapsed - b.elapsed);
    if (!read.length) continue;
    const desk = told.find((c) => c.what === what);
    const criterion = (desk && desk.criterion) || criteria[what];
    const rule = plainRule(read.map((b) => b[what]), criterion);
    if (desk) nodes.push(el("p", { text: `${desk.sentence} The desk's answer from ${desk.readings} readings${read.length > desk.readings ? `; ${read.length - desk.readings} more on this phone since` : ""}.` }));
    nodes.push(el("p", { text: rule.clean ? `Plain rule: the last three readings of ${what} are at or under ${criterion} ${unit}. It may stop if surging brings no more.`
      : `Plain rule: ${rule.left} more reading${rule.left === 1 ? "" : "s"} in a row at or under ${criterion} ${unit} of ${what}.` }));
  }
  return nodes.length ? el("div", { class: "clearing" }, el("h3", { text: "Clearing" }), ...nodes) : null;
}

/** What was read last, to start the next reading from. */
function lastOf(now, what, usual) {
  const read = now.airlift.map((e) => e.body[what]).filter((v) => v !== undefined && v !== null);
  return read.length ? read.at(-1) : usual;
}

export function airlift(now, job, context) {
  const first = now.airlift.length ? Date.parse(now.airlift[0].at) - now.airlift[0].body.elapsed * 1000 : Date.now();
  const minutes = stepper("Since air-lifting began", Math.max(0, (Date.now() - first) / 60000), "min", [10, 1], { digits: 0 });
  const look = chips("Water to the eye", ["clear", "not clear"], { chosen: "not clear", needed: true });
  const rate = measure("Flow", "flow", now.flow ? now.flow.body.flow : null, [10, 1], { first: 0.5e-3 });
  const sand = stepper("Sand", null, "mg/L", [10, 1], { digits: 0, first: lastOf(now, "sand", 20) });
  const cloud = stepper("Turbidity", null, "NTU", [10, 1], { digits: 0, first: lastOf(now, "turbidity", 50) });
  return {
    title: "Airlift reading", save: "Write down",
    nodes: [liftAdvice(now, context), clearingNow(job, now, context.criteria), look.node, minutes.node, cloud.node, sand.node, rate.node, el("p", { class: "caution", text: context.airCaution })].filter(Boolean),
    write: () => {
      if (minutes.value === null) throw new RangeError("Say how long air-lifting has gone on.");
      const body = { hole: now.number, elapsed: minutes.value * 60, ...measured({ flow: rate }), clear: look.value === "clear" };
      if (sand.value !== null) body.sand = sand.value;
      if (cloud.value !== null) body.turbidity = cloud.value;
      return [{ kind: "rig.airlift", body }];
    },
  };
}

/** The rods and the compressor, chosen when a hole is started. */
export function kitChips(now, air) {
  const last = now.started ? now.started.body : {};
  const rods = air ? air.rods : [], compressors = air ? air.compressors : [];
  const rod = chips("Rods, outside", rods.map((r) => [r, words("diameter", r)]), { chosen: rods.includes(last.rod_diameter) ? last.rod_diameter : rods[0] ?? "" });
  const names = compressors.map((c, i) => [i, `${words("air", c[0])} at ${words("pressure", c[1])}`]);
  const used = compressors.findIndex((c) => c[0] === last.air_flow && c[1] === last.air_pressure);
  const compressor = chips("Compressor", names, { chosen: compressors.length ? Math.max(0, used) : "" });
  return {
    nodes: rods.length ? [rod.node, compressor.node] : [],
    get body() {
      const one = compressor.value === "" ? null : compressors[compressor.value];
      return { ...(rod.value === "" ? {} : { rod_diameter: rod.value }), ...(one ? { air_flow: one[0], air_pressure: one[1] } : {}) };
    },
  };
}
