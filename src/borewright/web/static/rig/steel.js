// What stays in the hole: casing and what is put around it.
import { chips, el, measure, measured, stepper } from "./ui.js";
import { depthWords, isMetric, sizeWords, toSi, unitOf, words } from "./units.js";

const SIZES = () => (isMetric() ? [100, 125, 140, 168, 177, 200] : [4, 4.5, 5, 6, 6.625, 8]).map((s) => toSi("diameter", s));
export const some = (body) => Object.fromEntries(Object.entries(body).filter(([, v]) => v !== "" && v !== null && v !== undefined));

function ofPlan(s, now) {
  const body = (from, to, slotted) => some({ hole: now.number, string: s.string, from_depth: from, to_depth: to, outside_diameter: s.outside_diameter, wall: s.wall, material: s.material, slotted });
  if (!(s.slotted_to > s.slotted_from)) return [{ kind: "rig.casing", body: body(s.from_depth, s.to_depth, false) }];
  const parts = [[s.from_depth, s.slotted_from, false], [s.slotted_from, s.slotted_to, true], [s.slotted_to, s.to_depth, false]];
  return parts.filter(([a, b]) => b > a).map(([a, b, slotted]) => ({ kind: "rig.casing", body: body(a, b, slotted) }));
}

function span(now, to, steps) {
  const from = measure("From", "depth", 0, steps, { most: 3000 });
  const down = measure("To", "depth", to, steps, { most: 3000 });
  const read = () => { if (!(down.must > from.must)) throw new RangeError("The bottom must lie below the top."); return measured({ from_depth: from, to_depth: down }); };
  return { nodes: [from.node, down.node], read };
}

export function casing(now, job, context) {
  const nodes = [];
  if (job.strings.length) {
    const planned = job.strings.map((s, i) => [i, `${s.string} ${sizeWords(s.outside_diameter)} to ${depthWords(s.to_depth)}`]);
    nodes.push(chips("As designed: a tap writes it down", planned, { then: (i) => i !== "" && context.save(() => ofPlan(job.strings[i], now)) }).node, el("h3", { text: "Or as run" }));
  }
  const sizes = SIZES();
  const string = chips("String", ["conductor", "surface", "production"], { chosen: now.casings.length ? "production" : "conductor", needed: true });
  const size = chips("Outside diameter", sizes.map((s) => [s, sizeWords(s)]), { chosen: sizes[1], needed: true });
  const material = chips("Material", ["PVC-U", "steel"], { chosen: "PVC-U", needed: true });
  const slotted = chips("Slotted", ["plain", "slotted"], { chosen: "plain", needed: true });
  const run = span(now, now.depth, [10, 1, 0.1]);
  const joints = stepper("Joints", null, "", [1], { digits: 0 });
  nodes.push(string.node, size.node, material.node, slotted.node, ...run.nodes, joints.node);
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
  const density = measure("Density of the mix", "density", null, unitOf("density") === "kg/L" ? [0.05, 0.01] : [1, 0.1]);
  return {
    title: "Grout or seal", save: "Write down",
    nodes: [what.node, material.node, ...run.nodes, bags.node, density.node, el("p", { class: "caution", text: "Fresh grout pushes on casing from outside: keep the casing full of water until it sets." })],
    write: () => {
      const at = run.read(), mix = measured({ density });
      return [{ kind: "rig.annulus", body: some({ hole: now.number, what: what.value, material: material.value, ...at, ...mix, typed: { ...at.typed, ...mix.typed }, bags: bags.value, bag_mass: bags.value ? context.bagMass : null }) }];
    },
  };
}
