// What happens at a rig, one panel each. A panel gives its controls and what it writes; the page keeps it.
import { airlift, kitChips } from "./airpanel.js";
import { flow } from "./measure.js";
import { camera } from "./photo.js";
import { casing, grout, some } from "./steel.js";
import { button, chips, el, measure, measured, stepper } from "./ui.js";
import { moment } from "./store.js";
import { depthWords, isMetric, sizeWords, toSi, unitOf } from "./units.js";

// Ground words are ours and the driller's; colour and grain after ISO 14688-1, strength and weathering after ISO 14689 (from memory).
const GROUND = ["clay", "sand", "gravel", "weathered rock", "granite", "schist", "sandstone", "mudstone", "basalt", "limestone", "broken rock", "quartzite",
  "topsoil", "silt", "cobbles", "gneiss", "slate", "siltstone", "dolerite", "conglomerate", "cavity"];
const COLOURS = ["red", "brown", "yellow", "orange", "light grey", "grey", "dark grey", "green", "blue", "white", "black"];
const GRAINS = ["fine", "medium", "coarse", "fine to coarse"];
const SOIL = ["very soft", "soft", "firm", "stiff", "very stiff", "loose", "dense"];
const ROCK = ["extremely weak", "very weak", "weak", "medium strong", "strong", "very strong", "extremely strong"];
const WEATHERING = ["fresh", "slightly weathered", "moderately weathered", "highly weathered", "completely weathered", "residual soil"];
const NEAR = ["hose or fitting", "pressure let go", "dropped load", "lifting gear", "moving parts", "overhead line", "buried service", "gas", "vehicle", "slip or trip", "other"];
const RODS = () => (isMetric() ? [1.5, 3, 4.5, 6] : [5, 10, 15, 20]).map((r) => toSi("depth", r));
const BITS = () => (isMetric() ? [115, 127, 140, 152, 165, 200, 216, 254] : [4.5, 5, 5.5, 6, 6.5, 8, 8.5, 10]).map((b) => toSi("diameter", b));
const REASONS = ["weather", "breakdown", "waiting for casing", "waiting for grout", "customer", "access", "meal", "other"];
const hole = (now) => ({ hole: now.number });
const depthOf = (now, label = "Depth") => measure(label, "depth", now.depth, [1, 0.1], { most: 3000 });
const at = (name, state) => { state.must; return measured({ [name]: state }); };

/** The sheet that the firm wrote, yes or no to each line; nothing is sent for a line that nobody answered. */
function sheet(context) {
  const no = el("p", { class: "caution alarm", role: "alert", hidden: true });
  const tell = () => {
    const wrong = lines.filter(([, c]) => c.value === "no").map(([words]) => words);
    no.hidden = !wrong.length;
    no.textContent = wrong.length ? `No to: ${wrong.join("; ")}. Put it right before the first rod.` : "";
  };
  const lines = context.startOfDay.map((words) => [words, chips(words, ["yes", "no"], { line: true, then: () => tell() })]);
  const crew = el("input", { id: "crew", autocomplete: "off", value: context.crew.join(", ") });
  const open = () => lines.filter(([, c]) => !c.value).map(([words]) => words);
  return {
    nodes: [...lines.map(([, c]) => c.node), no, el("label", { for: "crew", text: "Who confirms it" }), crew, el("p", { class: "caution", text: "This list does not replace your local rules or your own eyes. Lines overhead: keep the mast away or do not raise it." })],
    write: () => {
      const left = open(), people = crew.value.split(",").map((w) => w.trim()).filter(Boolean);
      context.keepCrew(people);
      return { kind: "rig.day_started", body: {
        checks: Object.fromEntries(lines.filter(([, c]) => c.value).map(([words, c]) => [words, c.value === "yes"])),
        ...(people.length ? { crew: people } : {}), ...(left.length ? { note: `Not answered: ${left.join("; ")}` } : {}),
      } };
    },
  };
}

function day(now, job, context) {
  const today = sheet(context);
  return { title: "Start of day", save: "Write down", nodes: today.nodes, write: () => [today.write()] };
}

function start(now, job, context) {
  const again = now.started && now.stopped ? now.number + 1 : now.number;
  const rods = RODS(), bits = BITS();
  const rod = chips("Length of a rod", rods.map((r) => [r, depthWords(r)]), { chosen: rods[1], needed: true });
  const bit = chips("Bit", bits.map((b) => [b, sizeWords(b)]), { chosen: bits[4], needed: true });
  const method = chips("Method", ["air rotary, down-hole hammer", "mud rotary", "auger", "cable tool"], { chosen: "air rotary, down-hole hammer", needed: true });
  const kit = kitChips(now, context.air);
  const today = now.days.some((e) => new Date(e.at).toDateString() === new Date().toDateString()) ? null : sheet(context);
  return {
    title: `Start hole ${again}`, save: "Start the hole",
    nodes: [rod.node, bit.node, method.node, ...kit.nodes, ...(today ? [el("h3", { text: "Before the first rod" }), ...today.nodes] : [])],
    write: () => [
      ...(today ? [today.write()] : []),
      { kind: "rig.hole_started", body: { hole: again, rod_length: rod.value, method: method.value, ...(/air/.test(method.value) ? kit.body : {}) } },
      { kind: "rig.bit", body: { hole: again, diameter: bit.value, from_depth: 0 } },
    ],
  };
}

function ground(now, job, context) {
  const to = measure(`From ${depthWords(now.logged)} down to`, "depth", Math.max(now.depth, now.logged), [1, 0.1], { least: now.logged, most: 3000 });
  const recent = [...new Set([...now.ground.map((e) => e.body.words).reverse(), ...context.recentGround])].filter((w) => w);
  const colour = chips("Colour", COLOURS), grain = chips("Grain", GRAINS), weathering = chips("Weathering", WEATHERING);
  const soil = chips("How firm, soil", SOIL, { then: (v) => v && rock.pick("") }), rock = chips("How strong, rock", ROCK, { then: (v) => v && soil.pick("") });
  const shot = camera("Photo of the chips");
  const write = async (words) => {
    if (!(to.si > now.logged + 1e-6)) throw new RangeError(`Ground is logged to ${depthWords(now.logged)} already: go deeper first, or strike that out.`);
    const out = [{ kind: "rig.ground", body: some({ ...hole(now), from_depth: now.logged, ...measured({ to_depth: to }), words, colour: colour.value, grain: grain.value, strength: soil.value || rock.value, weathering: weathering.value }) }];
    return shot.taken ? withPhoto(out, shot, { ...hole(now), depth: to.si, caption: `Chips: ${words}` }) : out;
  };
  const pick = chips("What was it? A tap writes it down", [...recent, ...GROUND.filter((g) => !recent.includes(g))], { then: (words) => words && context.save(() => write(words)) });
  const own = el("input", { id: "own", autocomplete: "off" });
  return {
    title: "Change of ground",
    nodes: [to.node, el("details", {}, el("summary", { text: "Colour, grain, strength, photo first" }), colour.node, grain.node, soil.node, rock.node, weathering.node, ...shot.nodes), pick.node,
      el("details", {}, el("summary", { text: "Own words" }), el("label", { for: "own", text: "What was it?" }), own, button("Write my words", () => context.save(() => {
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
    write: () => [{ kind: "rig.struck", body: { ...hole(now), ...at("depth", depth) } }],
    then: () => context.open("flow"),
  };
}

function dip(now) {
  const level = measure("Water below", "depth", now.levels.length ? now.levels.at(-1).body.depth_to_water : Math.min(now.depth, 10), [1, 0.1, 0.01], { least: -100, most: 3000 });
  const from = chips("Measured from", ["ground", "top of casing"], { chosen: "ground", needed: true, then: (where) => { up.node.hidden = where === "ground"; } });
  const state = chips("State", ["static", "drilling", "pumping", "recovering"], { chosen: "static", needed: true });
  const up = measure("Casing above ground", "depth", 0.3, [0.1, 0.01], { most: 10 });
  up.node.hidden = true;
  return {
    title: "Dip the level", save: "Write down", nodes: [level.node, from.node, up.node, state.node],
    write: () => {
      const top = from.value === "top of casing";
      // What was read from the casing is not what stands in depth_to_water, so its words are not kept as if it were.
      const body = top ? { depth_to_water: Number((level.must - up.must).toFixed(4)), ...measured({ stick_up: up }) } : at("depth_to_water", level);
      return [{ kind: "rig.level", body: { ...hole(now), ...body, measured_from: from.value, state: state.value } }];
    },
  };
}

function sample(now) {
  const depth = depthOf(now);
  const ec = stepper("Conductivity", null, "µS/cm", [100, 10], { digits: 0, first: 500 });
  const ph = stepper("pH", null, "", [0.5, 0.1], { most: 14, digits: 1, first: 7 });
  const heat = measure("Temperature", "temperature", null, [1, 0.1], { least: -5, most: 120, first: 18 });
  const bottle = el("input", { id: "bottle", autocomplete: "off" });
  return {
    title: "Sample", save: "Write down", nodes: [depth.node, ec.node, ph.node, heat.node, el("label", { for: "bottle", text: "Bottle" }), bottle],
    write: () => [{ kind: "rig.sample", body: some({ ...hole(now), ...measured({ depth, temperature: heat }), conductivity: ec.value, ph: ph.value, bottle: bottle.value.trim() }) }],
  };
}

function fuel(now) {
  const item = chips("What", ["diesel", "hammer oil", "foam", "water carted", "bit wear", "PVC glue"], { chosen: "diesel", needed: true });
  const quantity = stepper("How much", 20, "", [50, 10, 1], { digits: 1 });
  const units = [unitOf("volume"), unitOf("mass"), "each"];
  const unit = chips("Unit", units, { chosen: units[0], needed: true });
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
  const shot = camera("Take a photo");
  return {
    title: "Note or photo", save: "Write down",
    nodes: [el("label", { for: "text", text: "Note" }), text, ...shot.nodes, depth.node],
    write: async () => {
      const words = text.value.trim();
      if (shot.taken) return withPhoto([], shot, some({ ...hole(now), ...measured({ depth }), caption: words }));
      if (!words) throw new RangeError("Write a note, or take a photo.");
      return [{ kind: "rig.note", body: some({ ...hole(now), text: words, ...measured({ depth }) }) }];
    },
  };
}

/** Entries with a photo beside them, to be kept all or none. */
async function withPhoto(out, shot, body) {
  const one = await shot.write(body);
  // The moment of a photo is when it was taken, where its file says so.
  out.push({ ...one.what, ...(one.at ? { at: moment(one.at) } : {}) });
  out.photos = [one.kept];
  return out;
}

function near(now, job, context) {
  const what = chips("What nearly happened", NEAR, { needed: true });
  const words = el("input", { id: "near-words", autocomplete: "off" }), done = el("input", { id: "near-done", autocomplete: "off" });
  const shot = camera("Photo of it");
  return {
    title: "Near miss", save: "Write down",
    nodes: [el("p", { class: "caution", text: "Anyone hurt? Stop, make safe, first aid and your emergency number come before this page." }), what.node, ...shot.nodes,
      el("label", { for: "near-words", text: "More, if you like" }), words, el("label", { for: "near-done", text: "What was done about it" }), done],
    write: async () => {
      const said = [what.value, words.value.trim()].filter(Boolean).join(": ");
      if (!said) throw new RangeError("Tap what nearly happened.");
      const out = [{ kind: "rig.near_miss", body: some({ ...hole(now), what: said, done: done.value.trim() }) }];
      return shot.taken ? withPhoto(out, shot, { ...hole(now), caption: `Near miss: ${said}` }) : out;
    },
  };
}

function bitChange(now) {
  const bits = BITS();
  const bit = chips("Bit", bits.map((b) => [b, sizeWords(b)]), { chosen: now.bit && bits.includes(now.bit.body.diameter) ? now.bit.body.diameter : bits[4], needed: true });
  const depth = depthOf(now, "From");
  return { title: "Change the bit", save: "Write down", nodes: [bit.node, depth.node], write: () => [{ kind: "rig.bit", body: { ...hole(now), diameter: bit.value, ...at("from_depth", depth) } }] };
}

function partRod(now) {
  const depth = measure("Drilled to", "depth", now.depth + now.rod, [1, 0.1], { least: now.depth, most: 3000 });
  return { title: "Part of a rod", save: "Write down", nodes: [depth.node], write: () => [{ kind: "rig.advanced", body: { ...hole(now), ...at("to_depth", depth) } }] };
}

function stop(now) {
  const reason = chips("Why", ["enough water", "walked away", "depth agreed", "hole lost", "other"], { needed: true });
  const depth = depthOf(now, "Stopped at");
  return {
    title: "Stop the hole", save: "Write down", nodes: [reason.node, depth.node],
    write: () => {
      if (!reason.value) throw new RangeError("Tap why it is stopped.");
      return [{ kind: "rig.stopped", body: { ...hole(now), ...at("depth", depth), reason: reason.value } }];
    },
  };
}

export const PANELS = { start, day, ground, water, flow, dip, casing, grout, airlift, sample, fuel, standby, near, note, bit: bitChange, part: partRod, stop };
