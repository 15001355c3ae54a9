// What stays in the hole: casing and what is put around it.
import { button, chips, el, measure, measured, stepper } from "./ui.js";
import { depthWords, isMetric, sizeWords, toSi, unitOf, words } from "./units.js";

const SIZES = () => (isMetric() ? [100, 125, 140, 168, 177, 200] : [4, 4.5, 5, 6, 6.625, 8]).map((s) => toSi("diameter", s));
export const some = (body) => Object.fromEntries(Object.entries(body).filter(([, v]) => v !== "" && v !== null && v !== undefined));

function ofPlan(s, now) {
  const body = (from, to, slotted) => some({ hole: now.number, string: s.string, from_depth: from, to_depth: to, outside_diameter: s.outside_diameter, wall: s.wall, material: s.material, slotted });
  if (!(s.slotted_to > s.slotted_from)) return [{ kind: "rig.casing", body: body(s.from_depth, s.to_depth, false) }];
  const parts = [[s.from_depth, s.slotted_from, false], [s.slotted_from, s.slotted_to, true], [s.slotted_to, s.to_depth, false]];
  return parts.filter(([a, b]) => b > a).map(([a, b, slotted]) => ({ kind: "rig.casing", body: body(a, b, slotted) }));
}

function span(now, to, steps, top = 0) {
  const from = measure("From", "depth", top, steps, { most: 3000 });
  const down = measure("To", "depth", to, steps, { most: 3000 });
  const read = () => { if (!(down.must > from.must)) throw new RangeError("The bottom must lie below the top."); return measured({ from_depth: from, to_depth: down }); };
  return { nodes: [from.node, down.node], read, from, to: down };
}

const JOINTS = () => (isMetric() ? [1, 2, 3, 5.8, 6, 12] : [5, 10, 20, 21, 40]).map((l) => toSi("depth", l));

/** What of each string is in the hole against the programme: {string, run, joints, bottom, planned, left}; left is below zero where more is run than planned. */
export function tally(strings, casings) {
  const names = [...new Set([...strings.map((s) => s.string), ...casings.map((e) => e.body.string)])];
  return names.map((string) => {
    const pieces = casings.filter((e) => e.body.string === string).map((e) => e.body);
    const parts = strings.filter((s) => s.string === string);
    const run = pieces.reduce((sum, b) => sum + b.to_depth - b.from_depth, 0);
    const planned = parts.length ? parts.reduce((sum, s) => sum + s.to_depth - s.from_depth, 0) : null;
    return { string, run, planned, left: planned === null ? null : Number((planned - run).toFixed(4)),
      joints: pieces.reduce((sum, b) => sum + (b.joints || 0), 0), bottom: pieces.reduce((most, b) => Math.max(most, b.to_depth), 0) };
  });
}

export function tallyWords(one) {
  const counted = one.joints ? ` in ${one.joints} joint${one.joints === 1 ? "" : "s"}` : "";
  if (one.planned === null) return `${one.string}: ${depthWords(one.run)} run${counted}; none in the programme.`;
  const rest = one.left > 0.005 ? `${depthWords(one.left)} to go` : one.left < -0.005 ? `${depthWords(-one.left)} MORE than the programme` : "as the programme";
  return `${one.string}: ${depthWords(one.run)} of ${depthWords(one.planned)} run${counted}, ${rest}.`;
}

export function casing(now, job, context) {
  const nodes = [];
  const told = tally(job.strings, now.casings);
  if (told.length) nodes.push(el("ul", { class: "tally", "aria-label": "Tally against the programme" }, ...told.map((one) => el("li", { text: tallyWords(one), class: one.left !== null && one.left < -0.005 ? "over" : null }))));
  if (job.strings.length) {
    const planned = job.strings.map((s, i) => [i, `${s.string} ${sizeWords(s.outside_diameter)} to ${depthWords(s.to_depth)}`]);
    nodes.push(chips("As designed: a tap writes it down", planned, { then: (i) => i !== "" && context.save(() => ofPlan(job.strings[i], now)) }).node, el("h3", { text: "Or as run" }));
  }
  const planned = (string) => (job.strings.find((s) => s.string === string) || {}).outside_diameter;
  const same = (a, b) => Math.abs(a - b) < 5e-4;
  const sizes = [...SIZES(), ...job.strings.map((s) => s.outside_diameter)].sort((a, b) => a - b).filter((s, i, all) => !i || !same(s, all[i - 1]));
  const string = chips("String", ["conductor", "surface", "production"], { chosen: now.casings.length ? "production" : "conductor", needed: true, then: (name) => { if (planned(name)) size.pick(sizes.find((s) => same(s, planned(name)))); lay(); } });
  const size = chips("Outside diameter", sizes.map((s) => [s, sizeWords(s)]), { chosen: sizes.find((s) => same(s, planned(string.value) || toSi("diameter", isMetric() ? 125 : 4.5))), needed: true });
  const material = chips("Material", ["PVC-U", "steel"], { chosen: "PVC-U", needed: true });
  const slotted = chips("Slotted", ["plain", "slotted"], { chosen: "plain", needed: true });
  const begun = (told.find((one) => one.string === string.value) || { bottom: 0 }).bottom;
  const run = span(now, now.depth, [10, 1, 0.1], begun < now.depth ? begun : 0);
  const joints = stepper("Joints", null, "", [1], { digits: 0 });
  const lengths = JOINTS();
  const length = chips("Length of a joint", lengths.map((l) => [l, depthWords(l)]), { chosen: context.last.joint || lengths[isMetric() ? 4 : 2], needed: true, then: (v) => { context.last.joint = v; lay(); } });
  const ahead = el("p", { class: "answer", "aria-live": "polite" });
  // Joints say how far the string reaches until somebody says it otherwise.
  const lay = () => {
    if (joints.value > 0) run.to.set((run.from.si ?? 0) + joints.value * length.value);
    const mine = run.from.si !== null && run.to.si > run.from.si ? [{ body: { string: string.value, from_depth: run.from.si, to_depth: run.to.si, joints: joints.value || 0 } }] : [];
    const one = tally(job.strings, [...now.casings, ...mine]).find((t) => t.string === string.value);
    ahead.textContent = mine.length && one ? `With this: ${tallyWords(one)}` : "";
  };
  joints.field.addEventListener("input", lay);
  for (const side of [run.from, run.to]) side.field.addEventListener("input", () => { if (side === run.from) lay(); else { joints.value = null; lay(); } });
  const one = button("One more joint", () => { joints.value = (joints.value || 0) + 1; lay(); }, "big go wide");
  nodes.push(string.node, size.node, material.node, slotted.node, length.node, one, joints.node, ...run.nodes, ahead);
  lay();
  return {
    title: "Casing", save: "Write down", nodes,
    write: () => [{ kind: "rig.casing", body: some({ hole: now.number, string: string.value, ...run.read(), outside_diameter: size.value, material: material.value, slotted: slotted.value === "slotted", joints: joints.value ? Math.round(joints.value) : null }) }],
  };
}

export function grout(now, job, context) {
  const what = chips("What", ["seal", "grout", "pack", "backfill"], { chosen: "grout", needed: true });
  const material = chips("Material", ["neat cement", "cement with bentonite", "bentonite pellets", "gravel", "cuttings"], { chosen: "neat cement", needed: true });
  const run = span(now, Math.min(now.depth, isMetric() ? 6 : toSi("depth", 20)), [1, 0.1]);
  const bags = stepper(`Bags of ${words("mass", context.bagMass)}`, 1, "", [5, 1], { digits: 1 });
  const density = measure("Density of the mix", "density", null, unitOf("density") === "kg/L" ? [0.05, 0.01] : [1, 0.1], { first: 1800 });
  return {
    title: "Grout or seal", save: "Write down",
    nodes: [what.node, material.node, ...run.nodes, bags.node, density.node, el("p", { class: "caution", text: "Fresh grout pushes on casing from outside: keep the casing full of water until it sets." })],
    write: () => {
      const at = run.read(), mix = measured({ density });
      return [{ kind: "rig.annulus", body: some({ hole: now.number, what: what.value, material: material.value, ...at, ...mix, typed: { ...at.typed, ...mix.typed }, bags: bags.value, bag_mass: bags.value ? context.bagMass : null }) }];
    },
  };
}
