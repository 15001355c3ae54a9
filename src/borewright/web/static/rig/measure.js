// Measuring a flow: by bucket, notch, orifice pipe, the throw of an open pipe, or by eye; repeats make the doubt honest.
import { flowFrom } from "./flow.js";
import { button, chips, el, measure, measured, readings } from "./ui.js";
import { flowWords, isMetric, toSi, words } from "./units.js";

const BUCKETS = () => (isMetric() ? [10, 20, 60, 200] : [1, 5, 15, 50]).map((v) => [toSi("volume", v), words("volume", toSi("volume", v), 0)]);
const SMALL = { metric: [10, 1], other: [1, 0.1] };
const WIDE = { metric: [100, 10], other: [5, 0.5] };

function byBucket(last, tell) {
  const sizes = BUCKETS();
  const size = chips("Bucket", sizes, { chosen: last.bucket || sizes[1][0], needed: true, then: (v) => { last.bucket = v; tell(); } });
  const times = readings("Seconds to fill", "seconds", null, [1, 0.1], { digits: 1, first: 20 });
  let began = 0;
  const tap = button("Tap when it starts to fill", () => {
    if (!began) { began = performance.now(); tap.textContent = "Tap when it is full"; return; }
    times.add(Number(((performance.now() - began) / 1000).toFixed(1)));
    began = 0;
    tap.textContent = "Tap when it starts to fill again";
  }, "big go");
  times.changed = tell;
  return { nodes: [size.node, tap, times.node], read: () => ({ volume: size.value, fill_times: times.all }) };
}

function byNotch(last, tell) {
  const angle = chips("Notch", [[30, "30°"], [45, "45°"], [60, "60°"], [90, "90°"]], { chosen: last.angle || 90, needed: true, then: (v) => { last.angle = v; tell(); } });
  const heads = readings("Head over the notch", "head", 0.08, SMALL);
  heads.changed = tell;
  return { nodes: [angle.node, heads.node], read: () => ({ heads: heads.all, notch_angle: angle.value }) };
}

function sized(label, key, start, steps, last, tell) {
  const state = measure(label, "head", last[key] ?? start, steps, { most: 3 });
  state.field.addEventListener("input", () => { last[key] = state.si; tell(); });
  return state;
}

function byOrifice(last, tell) {
  const heads = readings("Height in the tube, above the middle of the pipe", "head", 0.4, SMALL);
  const pipe = sized("Pipe, inside", "pipe", isMetric() ? 0.1 : 0.1016, SMALL, last, tell);
  const orifice = sized("Orifice", "orifice", isMetric() ? 0.075 : 0.0762, SMALL, last, tell);
  heads.changed = tell;
  return { nodes: [heads.node, pipe.node, orifice.node, el("p", { class: "pad", text: "The orifice's figure comes from memory, not from a printed chart: prove it once with a bucket." })],
    read: () => ({ heads: heads.all, orifice_diameter: orifice.must, pipe_inside_diameter: pipe.must }) };
}

function byThrow(last, tell) {
  const throws = readings("How far the jet has gone", "head", 0.4, WIDE);
  const drop = sized("when its top has fallen", "drop", isMetric() ? 0.33 : 0.3302, SMALL, last, tell);
  const pipe = sized("Pipe, inside", "open", isMetric() ? 0.08 : 0.0762, SMALL, last, tell);
  const dry = sized("Air at the top of the pipe's end", "dry", 0, SMALL, last, tell);
  throws.changed = tell;
  return { nodes: [throws.node, drop.node, pipe.node, dry.node], read: () => ({ throws: throws.all, drop: drop.must, pipe_inside_diameter: pipe.must, ...(dry.si > 0 ? { dry_depth: dry.si } : {}) }) };
}

const WAYS = { bucket: byBucket, "V-notch": byNotch, "orifice pipe": byOrifice, "pipe trajectory": byThrow };
const NAMES = [["bucket", "bucket"], ["V-notch", "V-notch"], ["orifice pipe", "orifice pipe"], ["pipe trajectory", "throw of a pipe"], ["estimate", "by eye"]];

/** What a flow is worth: the figure to be read at arm's length, and where its doubt comes from. */
export function worth(got) {
  if (got.eye) return [el("strong", { text: flowWords(got.flow) }), el("span", { text: ` between ${flowWords(got.low)} and ${flowWords(got.high)}` }), el("small", { text: "By eye the doubt is taken as half the figure. Measure it when you can." })];
  const spread = got.count > 1 ? `the spread of ${got.count} readings ${flowWords(got.repeat)}` : `one reading, its spread presumed ${flowWords(got.repeat)}: take three`;
  return [el("strong", { text: flowWords(got.flow) }), el("span", { text: ` between ${flowWords(got.low)} and ${flowWords(got.high)}, 95 in 100` }),
    el("small", { text: `Doubt from ${spread}; from tools and method ${flowWords(got.tools)}.` })];
}

export function flow(now, job, context) {
  const last = context.last;
  const way = chips("Way", NAMES, { chosen: last.way || "bucket", needed: true, then: (w) => { last.way = w; context.open("flow"); } });
  const depth = measure("Hole is at", "depth", now.depth, [1, 0.1]);
  const shown = el("p", { class: "answer figure", "aria-live": "polite" });
  let work = null;
  const tell = () => {
    try { shown.replaceChildren(...worth(work())); } catch (error) { shown.textContent = error instanceof RangeError && error.message.endsWith(".") ? error.message : ""; }
  };
  let nodes = [];
  if (way.value === "estimate") {
    const guess = measure("By eye", "flow", toSi("flow", isMetric() ? 10 : 3), [10, 1]);
    guess.field.addEventListener("input", tell);
    const half = () => ({ flow: guess.must, doubt: guess.must / 2, low: 0, high: 2 * guess.must, eye: true });
    work = () => ({ ...half(), readings: {}, typed: { flow: guess.typed } });
    nodes = [guess.node];
  } else {
    const mine = WAYS[way.value](last, () => tell());
    work = () => { const given = mine.read(); return { ...flowFrom(way.value, given), readings: given }; };
    nodes = mine.nodes;
  }
  tell();
  return {
    title: "Measure flow", save: "Write down", nodes: [way.node, ...nodes, shown, depth.node],
    write: () => {
      const got = work();
      const at = measured({ depth });
      const hole = { hole: now.number };
      const strikes = now.strikes.length || !(got.flow > 0) ? [] : [{ kind: "rig.struck", body: { ...hole, ...at, note: "not noted when it was struck" } }];
      depth.must;
      return [...strikes, { kind: "rig.flow", body: { ...hole, ...at, method: way.value, readings: got.readings, flow: got.flow, standard_uncertainty: got.doubt, typed: { ...at.typed, ...got.typed } } }];
    },
  };
}
