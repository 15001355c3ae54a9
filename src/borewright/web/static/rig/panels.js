// What happens at a rig, one panel each. A panel gives its controls and what it writes; the page keeps it.
import { bucketFlow, notchFlow } from "./flow.js";
import { button, chips, el, flowWords, metres, readings, stepper } from "./ui.js";

// Ground words are ours and the driller's; colour and grain after ISO 14688-1, strength and weathering after ISO 14689 (from memory).
const GROUND = ["clay", "sand", "gravel", "weathered rock", "granite", "schist", "sandstone", "mudstone", "basalt", "limestone", "broken rock", "quartzite",
  "topsoil", "silt", "cobbles", "gneiss", "slate", "siltstone", "dolerite", "conglomerate", "cavity"];
const COLOURS = ["red", "brown", "yellow", "orange", "grey", "dark grey", "green", "blue", "white", "black"];
const GRAINS = ["fine", "medium", "coarse"];
const STRENGTHS = ["very weak", "weak", "medium strong", "strong", "very strong"];
const WEATHERING = ["fresh", "discoloured", "weakened", "decomposed", "residual soil"];
const RODS = [1.5, 3, 4.5, 6];
const BITS = [115, 127, 140, 152, 165, 200, 216, 254];
const SIZES = [100, 125, 140, 168, 177, 200];
const REASONS = ["weather", "breakdown", "waiting for casing", "waiting for grout", "customer", "access", "meal", "other"];
const CHECKS = ["overhead lines looked for", "buried services asked for", "hoses and whip checks", "gas looked out for", "stop buttons tried", "first aid and way out known"];

const hole = (now) => ({ hole: now.number });
const depthOf = (now, label = "Depth") => stepper(label, now.depth, "m", [1, 0.1], { most: 3000, digits: 2 });
const some = (body) => Object.fromEntries(Object.entries(body).filter(([, v]) => v !== "" && v !== null && v !== undefined));

export const nextRod = (now) => [{ kind: "rig.advanced", body: { ...hole(now), to_depth: Number((now.depth + now.rod).toFixed(3)), rods: now.rods + 1 } }];

function start(now) {
  const again = now.started && now.stopped ? now.number + 1 : now.number;
  const rod = chips("Length of a rod", RODS.map((r) => [r, `${r} m`]), { chosen: 3, needed: true });
  const bit = chips("Bit", BITS.map((b) => [b, `${b} mm`]), { chosen: 165, needed: true });
  const method = chips("Method", ["air rotary, down-hole hammer", "mud rotary", "auger", "cable tool"], { chosen: "air rotary, down-hole hammer", needed: true });
  const checks = CHECKS.map((words) => chips(words, ["yes", "no"], {}));
  return {
    title: `Start hole ${again}`, save: "Start the hole",
    nodes: [rod.node, bit.node, method.node, el("h3", { text: "Before the first rod" }), ...checks.map((c) => c.node),
      el("p", { class: "caution", text: "This list is not a substitute for your local rules and your own eyes. Lines overhead: keep the mast away or do not raise it." })],
    write: () => {
      const answered = Object.fromEntries(CHECKS.map((words, i) => [words, checks[i].value]).filter(([, v]) => v).map(([w, v]) => [w, v === "yes"]));
      return [
        { kind: "rig.day_started", body: { checks: answered } },
        { kind: "rig.hole_started", body: { hole: again, rod_length: rod.value, method: method.value } },
        { kind: "rig.bit", body: { hole: again, diameter: bit.value / 1000, from_depth: 0 } },
      ];
    },
  };
}

function ground(now, job, context) {
  const to = stepper(`From ${metres(now.logged)} down to`, Math.max(now.depth, now.logged), "m", [1, 0.1], { least: now.logged, most: 3000, digits: 2 });
  const recent = [...new Set([...now.ground.map((e) => e.body.words).reverse(), ...context.recentGround])].filter((w) => w);
  const colour = chips("Colour", COLOURS), grain = chips("Grain", GRAINS), strength = chips("Strength", STRENGTHS), weathering = chips("Weathering", WEATHERING);
  const write = (words) => {
    if (!(to.value > now.logged)) throw new RangeError(`Ground is logged to ${metres(now.logged)} already: go deeper first, or strike that out.`);
    return [{ kind: "rig.ground", body: some({ ...hole(now), from_depth: now.logged, to_depth: to.value, words, colour: colour.value, grain: grain.value, strength: strength.value, weathering: weathering.value }) }];
  };
  const pick = chips("What was it? A tap writes it down", [...recent, ...GROUND.filter((g) => !recent.includes(g))], { then: (words) => words && context.save(() => write(words)) });
  const own = el("input", { id: "own", autocomplete: "off" });
  return {
    title: "Change of ground",
    nodes: [to.node, pick.node, el("details", {}, el("summary", { text: "More words first" }), colour.node, grain.node, strength.node, weathering.node,
      el("label", { for: "own", text: "Your own words" }), own, button("Write my words", () => context.save(() => {
        if (!own.value.trim()) throw new RangeError("Say what the ground is.");
        return write(own.value.trim());
      })))],
  };
}

function water(now, job, context) {
  const depth = depthOf(now, "Struck at");
  return {
    title: "Water struck", save: "Write down, then measure",
    nodes: [depth.node, el("p", { class: "caution", text: "Water or gas under pressure can throw tools and air. Stand clear; shut the air off before you lean over the hole." })],
    write: () => [{ kind: "rig.struck", body: { ...hole(now), depth: depth.value } }],
    then: () => context.open("flow"),
  };
}

function flow(now, job, context) {
  const way = chips("Way", ["bucket", "V-notch", "estimate"], { chosen: context.last.way || "bucket", needed: true, then: (w) => { context.last.way = w; context.open("flow"); } });
  const depth = depthOf(now, "Hole is at");
  const shown = el("p", { class: "answer", "aria-live": "polite" });
  const nodes = [way.node];
  let work = null;
  if (way.value === "bucket") {
    const size = chips("Bucket", [[10, "10 L"], [20, "20 L"], [60, "60 L"], [200, "200 L"]], { chosen: context.last.bucket || 20, needed: true, then: (v) => { context.last.bucket = v; tell(); } });
    const times = readings("Seconds to fill", "s", null, [1, 0.1], { digits: 1 });
    let began = 0;
    const tap = button("Tap when it starts to fill", () => {
      if (!began) { began = performance.now(); tap.textContent = "Tap when it is full"; return; }
      times.add(Number(((performance.now() - began) / 1000).toFixed(1)));
      began = 0;
      tap.textContent = "Tap when it starts to fill again";
    }, "big go");
    times.changed = () => tell();
    work = () => ({ ...bucketFlow(size.value / 1000, times.all), readings: { volume: size.value / 1000, fill_times: times.all } });
    nodes.push(size.node, tap, times.node);
  } else if (way.value === "V-notch") {
    const angle = chips("Notch", [[30, "30°"], [45, "45°"], [60, "60°"], [90, "90°"]], { chosen: context.last.angle || 90, needed: true, then: (v) => { context.last.angle = v; tell(); } });
    const heads = readings("Head over the notch", "mm", 80, [10, 1], { digits: 0 });
    heads.changed = () => tell();
    work = () => ({ ...notchFlow(heads.all.map((h) => h / 1000), angle.value), readings: { heads: heads.all.map((h) => h / 1000), notch_angle: angle.value } });
    nodes.push(angle.node, heads.node);
  } else {
    const guess = stepper("By eye", 10, "L/min", [10, 1], { digits: 1 });
    guess.field.addEventListener("input", () => tell());
    work = () => ({ flow: guess.value / 60000, doubt: (guess.value / 60000) * 0.5, readings: {} });
    nodes.push(guess.node);
  }
  function tell() {
    try {
      const { flow: got, doubt } = work();
      shown.textContent = `${flowWords(got, context.units)} ± ${flowWords(2 * doubt, context.units)}`;
    } catch { shown.textContent = ""; }
  }
  tell();
  nodes.push(shown, depth.node);
  return {
    title: "Measure flow", save: "Write down", nodes,
    write: () => {
      const got = work();
      const strikes = now.strikes.length || !(got.flow > 0) ? [] : [{ kind: "rig.struck", body: { ...hole(now), depth: depth.value, note: "not noted when it was struck" } }];
      return [...strikes, { kind: "rig.flow", body: { ...hole(now), depth: depth.value, method: way.value, readings: got.readings, flow: got.flow, standard_uncertainty: got.doubt } }];
    },
  };
}

function dip(now) {
  const level = stepper("Water below", now.levels.length ? now.levels.at(-1).body.depth_to_water : Math.min(now.depth, 10), "m", [1, 0.1, 0.01], { least: -100, most: 3000, digits: 2 });
  const from = chips("Measured from", ["ground", "top of casing"], { chosen: "ground", needed: true });
  const state = chips("State", ["static", "drilling", "pumping", "recovering"], { chosen: "static", needed: true });
  const up = stepper("Casing above ground", 0.3, "m", [0.1, 0.01], { digits: 2 });
  return {
    title: "Dip the level", save: "Write down", nodes: [level.node, from.node, up.node, state.node],
    write: () => {
      const top = from.value === "top of casing";
      const below = Number((level.value - (top ? up.value || 0 : 0)).toFixed(3));
      return [{ kind: "rig.level", body: { ...hole(now), depth_to_water: below, measured_from: from.value, state: state.value, stick_up: top ? up.value || 0 : 0 } }];
    },
  };
}

function casing(now, job, context) {
  const planned = job.strings.map((s, i) => [i, `${s.string} ${Math.round(s.outside_diameter * 1000)} mm to ${metres(s.to_depth)}`]);
  const nodes = [];
  let run = null;
  if (planned.length) {
    const pick = chips("As designed: a tap writes it down", planned, { then: (i) => i !== "" && context.save(() => ofPlan(job.strings[i], now)) });
    nodes.push(pick.node, el("h3", { text: "Or as run" }));
  }
  const string = chips("String", ["conductor", "surface", "production"], { chosen: now.casings.length ? "production" : "conductor", needed: true });
  const size = chips("Outside diameter", SIZES.map((s) => [s, `${s} mm`]), { chosen: 125, needed: true });
  const material = chips("Material", ["PVC-U", "steel"], { chosen: "PVC-U", needed: true });
  const slotted = chips("Slotted", ["plain", "slotted"], { chosen: "plain", needed: true });
  const from = stepper("From", 0, "m", [10, 1, 0.1], { digits: 2 });
  const to = stepper("To", now.depth, "m", [10, 1, 0.1], { digits: 2 });
  const joints = stepper("Joints", null, "", [1], { digits: 0 });
  nodes.push(string.node, size.node, material.node, slotted.node, from.node, to.node, joints.node);
  run = () => [{ kind: "rig.casing", body: some({ ...hole(now), string: string.value, from_depth: from.value, to_depth: to.value, outside_diameter: size.value / 1000, material: material.value, slotted: slotted.value === "slotted", joints: joints.value ? Math.round(joints.value) : null }) }];
  return { title: "Casing", save: "Write down", nodes, write: run };
}

function ofPlan(s, now) {
  const body = (from, to, slotted) => some({ hole: now.number, string: s.string, from_depth: from, to_depth: to, outside_diameter: s.outside_diameter, wall: s.wall, material: s.material, slotted });
  if (!(s.slotted_to > s.slotted_from)) return [{ kind: "rig.casing", body: body(s.from_depth, s.to_depth, false) }];
  const parts = [[s.from_depth, s.slotted_from, false], [s.slotted_from, s.slotted_to, true], [s.slotted_to, s.to_depth, false]];
  return parts.filter(([a, b]) => b > a).map(([a, b, slotted]) => ({ kind: "rig.casing", body: body(a, b, slotted) }));
}

function grout(now, job, context) {
  const what = chips("What", ["seal", "grout", "pack", "backfill"], { chosen: "grout", needed: true });
  const material = chips("Material", ["neat cement", "cement with bentonite", "bentonite pellets", "gravel", "cuttings"], { chosen: "neat cement", needed: true });
  const from = stepper("From", 0, "m", [1, 0.1], { digits: 2 });
  const to = stepper("To", Math.min(now.depth, 6), "m", [1, 0.1], { digits: 2 });
  const bags = stepper(`Bags of ${context.bagMass} kg`, 1, "", [5, 1], { digits: 1 });
  const density = stepper("Density of the mix", null, "kg/L", [0.05, 0.01], { digits: 2 });
  return {
    title: "Grout or seal", save: "Write down",
    nodes: [what.node, material.node, from.node, to.node, bags.node, density.node, el("p", { class: "caution", text: "Fresh grout pushes on casing from outside: keep the casing full of water until it sets." })],
    write: () => [{ kind: "rig.annulus", body: some({ ...hole(now), what: what.value, material: material.value, from_depth: from.value, to_depth: to.value, bags: bags.value, bag_mass: bags.value ? context.bagMass : null, density: density.value ? density.value * 1000 : null }) }],
  };
}

function airlift(now) {
  const first = now.airlift.length ? Date.parse(now.airlift[0].at) - now.airlift[0].body.elapsed * 1000 : Date.now();
  const minutes = stepper("Since air-lifting began", Math.max(0, (Date.now() - first) / 60000), "min", [10, 1], { digits: 0 });
  const look = chips("Water", ["clear", "cloudy", "dirty"], { chosen: "cloudy", needed: true });
  const litres = stepper("Flow", now.flow ? now.flow.body.flow * 60000 : null, "L/min", [10, 1], { digits: 1 });
  const sand = stepper("Sand", null, "mg/L", [10, 1], { digits: 0 });
  const cloud = stepper("Turbidity", null, "NTU", [10, 1], { digits: 0 });
  return {
    title: "Airlift reading", save: "Write down", nodes: [look.node, minutes.node, litres.node, sand.node, cloud.node],
    write: () => [{ kind: "rig.airlift", body: some({ ...hole(now), elapsed: minutes.value * 60, flow: litres.value === null ? null : litres.value / 60000, sand: sand.value, turbidity: cloud.value, clear: look.value === "clear" }) }],
  };
}

function sample(now) {
  const depth = depthOf(now);
  const ec = stepper("Conductivity", null, "µS/cm", [100, 10], { digits: 0 });
  const ph = stepper("pH", null, "", [0.5, 0.1], { most: 14, digits: 1 });
  const heat = stepper("Temperature", null, "°C", [1, 0.1], { least: -5, most: 120, digits: 1 });
  const bottle = el("input", { id: "bottle", autocomplete: "off" });
  return {
    title: "Sample", save: "Write down", nodes: [depth.node, ec.node, ph.node, heat.node, el("label", { for: "bottle", text: "Bottle" }), bottle],
    write: () => [{ kind: "rig.sample", body: some({ ...hole(now), depth: depth.value, conductivity: ec.value, ph: ph.value, temperature: heat.value, bottle: bottle.value.trim() }) }],
  };
}

function fuel(now) {
  const item = chips("What", ["diesel", "hammer oil", "foam", "water carted", "bit wear", "PVC glue"], { chosen: "diesel", needed: true });
  const quantity = stepper("How much", 20, "", [50, 10, 1], { digits: 1 });
  const unit = chips("Unit", ["L", "kg", "each"], { chosen: "L", needed: true });
  return { title: "Fuel and stores", save: "Write down", nodes: [item.node, quantity.node, unit.node], write: () => [{ kind: "rig.used", body: { ...hole(now), item: item.value, quantity: quantity.value, unit: unit.value } }] };
}

function standby(now) {
  const reason = chips("Why", REASONS, { chosen: "weather", needed: true });
  const minutes = stepper("How long", 30, "min", [30, 5], { digits: 0 });
  return { title: "Stand-by", save: "Write down", nodes: [reason.node, minutes.node], write: () => [{ kind: "rig.stood_by", body: { ...hole(now), reason: reason.value, duration: minutes.value * 60 } }] };
}

function note(now, job, context) {
  const text = el("textarea", { id: "text", rows: "3" });
  const depth = depthOf(now);
  const file = el("input", { id: "photo", class: "unseen", type: "file", accept: "image/*", capture: "environment", onchange: () => { taken.textContent = file.files[0] ? "Photo taken" : ""; } });
  const taken = el("p", { class: "taken", "aria-live": "polite" });
  const near = chips("This was a near miss", ["near miss"]);
  return {
    title: "Note or photo", save: "Write down",
    nodes: [el("label", { for: "text", text: "Note" }), text, el("div", { class: "take" }, file, el("label", { class: "big file", for: "photo", text: "Take a photo" })), taken, depth.node, near.node],
    write: async () => {
      const out = [];
      const words = text.value.trim();
      if (file.files[0]) {
        const photo = await context.photo(file.files[0]);
        out.photos = [photo];
        out.push({ kind: "rig.photo", body: some({ ...hole(now), attachment: photo.sha256, media_type: "image/jpeg", depth: depth.value, caption: words }) });
      } else if (words && !near.value) out.push({ kind: "rig.note", body: some({ ...hole(now), text: words, depth: depth.value }) });
      if (near.value) out.push({ kind: "rig.near_miss", body: { ...hole(now), what: words || "near miss, words to follow" } });
      if (!out.length) throw new RangeError("Write a note, or take a photo.");
      return out;
    },
  };
}

function bitChange(now) {
  const bit = chips("Bit", BITS.map((b) => [b, `${b} mm`]), { chosen: now.bit ? Math.round(now.bit.body.diameter * 1000) : 165, needed: true });
  const depth = depthOf(now, "From");
  return { title: "Change the bit", save: "Write down", nodes: [bit.node, depth.node], write: () => [{ kind: "rig.bit", body: { ...hole(now), diameter: bit.value / 1000, from_depth: depth.value } }] };
}

function partRod(now) {
  const depth = stepper("Drilled to", now.depth + now.rod, "m", [1, 0.1], { least: now.depth, most: 3000, digits: 2 });
  return { title: "Part of a rod", save: "Write down", nodes: [depth.node], write: () => [{ kind: "rig.advanced", body: { ...hole(now), to_depth: depth.value } }] };
}

function stop(now) {
  const reason = chips("Why", ["enough water", "walked away", "depth agreed", "hole lost", "other"], { needed: true });
  const depth = depthOf(now, "Stopped at");
  return {
    title: "Stop the hole", save: "Write down", nodes: [reason.node, depth.node],
    write: () => {
      if (!reason.value) throw new RangeError("Tap why it is stopped.");
      return [{ kind: "rig.stopped", body: { ...hole(now), depth: depth.value, reason: reason.value } }];
    },
  };
}

export const PANELS = { start, ground, water, flow, dip, casing, grout, airlift, sample, fuel, standby, note, bit: bitChange, part: partRod, stop };
