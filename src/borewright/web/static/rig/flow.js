// Flow with its doubt, for when there is no coverage; held to the desk's own figures by a test.
// Doubts are combined as the desk does: the spread of repeats (type A), each tool's half width as a rectangle and the method's own (type B);
// JCGM 100, 4.2, 4.3.7, 5.1.2, and the coverage by G.4.

const GRAVITY = 9.80665;
const FOOT = 0.3048;
// Orifice coefficient by the ratio of diameters: the desk's curve, from memory there too.
const RATIOS = [0.5, 0.625, 0.667, 0.75, 0.833];
const COEFFICIENTS = [0.599, 0.624, 0.643, 0.694, 0.78];

function read(values, presumed) {
  if (!values.length || values.some((v) => !(Number.isFinite(v) && v > 0))) throw new RangeError("a reading must be above zero");
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  if (values.length === 1) return { mean, error: mean * presumed, count: 1 };
  const square = values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (values.length - 1);
  return { mean, error: Math.sqrt(square / values.length), count: values.length };
}

const together = (parts) => Math.sqrt(parts.reduce((sum, p) => sum + p * p, 0));
const rectangle = (half) => half / Math.sqrt(3);
const above = (...values) => { for (const v of values) if (!(Number.isFinite(v) && v > 0)) throw new RangeError("a size must be above zero"); };

/** How many standard uncertainties hold 95 in 100 (Student), by adding up cos^(n-1): t = sqrt(n) tan(angle). */
export function coverage(freedom) {
  if (!(freedom < 1e5)) return 1.959963984540054;
  const steps = 20000;
  // Where the tail is thin nothing is lost by stopping at 40 deviations.
  const end = Math.min(Math.PI / 2, Math.atan(40 / Math.sqrt(freedom)) + (freedom < 30 ? Math.PI / 2 : 0));
  const sums = [0];
  for (let i = 0; i < steps; i += 1) sums.push(sums[i] + Math.cos(((i + 0.5) * end) / steps) ** (freedom - 1));
  const wanted = 0.95 * sums[steps];
  const at = sums.findIndex((s) => s >= wanted);
  return Math.sqrt(freedom) * Math.tan(((at - (sums[at] - wanted) / (sums[at] - sums[at - 1])) * end) / steps);
}

function told(flow, reading, perReading, tools) {
  const repeat = Math.abs(perReading) * reading.error;
  const doubt = together([repeat, ...tools]);
  const factor = coverage(reading.count > 1 && repeat > 0 ? (doubt / repeat) ** 4 * (reading.count - 1) : Infinity);
  return { flow, doubt, factor, low: Math.max(0, flow - factor * doubt), high: flow + factor * doubt, repeat, tools: together(tools), count: reading.count };
}

/** A bucket [m3] from repeat fill times [s]. */
export function bucketFlow(volume, fillTimes) {
  above(volume);
  const times = read(fillTimes, 0.05);
  const flow = volume / times.mean;
  return told(flow, times, flow / times.mean, [(flow / times.mean) * rectangle(0.3), rectangle(0.02 * volume) / times.mean]);
}

/** A V-notch of an angle [deg] from repeat heads [m]. */
export function notchFlow(heads, angle) {
  const a = angle;
  const coefficient = 0.607165052 - 0.000874466963 * a + 6.10393334e-6 * a * a;
  const correction = (0.0144902648 - 0.00033955535 * a + 3.29819003e-6 * a * a - 1.06215442e-8 * a ** 3) * FOOT;
  const head = read(heads, 0.02);
  const half = (angle * Math.PI) / 360;
  const flow = (8 / 15) * Math.sqrt(2 * GRAVITY) * coefficient * Math.tan(half) * (head.mean + correction) ** 2.5;
  const perHead = (2.5 * flow) / (head.mean + correction);
  const perDegree = ((flow / Math.sin(2 * half)) * Math.PI) / 180;
  return told(flow, head, perHead, [perHead * rectangle(0.002), perDegree * rectangle(0.5), 0.01 * flow]);
}

/** An orifice [m] on the end of a pipe [m inside] from repeat heights in the tube above the pipe's centre [m]. */
export function orificeFlow(heads, orifice, pipe, coefficient = null) {
  above(orifice, pipe);
  const ratio = orifice / pipe;
  if (coefficient === null && !(ratio >= 0.5 && ratio <= 0.833)) throw new RangeError("The orifice must be 0.50 to 0.83 of the pipe's inside.");
  const head = read(heads, 0.02);
  let factor = coefficient;
  if (coefficient === null) {
    const i = Math.max(1, RATIOS.findIndex((r) => r >= ratio));
    factor = COEFFICIENTS[i - 1] + ((COEFFICIENTS[i] - COEFFICIENTS[i - 1]) * (ratio - RATIOS[i - 1])) / (RATIOS[i] - RATIOS[i - 1]);
  }
  const flow = factor * (Math.PI / 4) * orifice ** 2 * Math.sqrt(2 * GRAVITY * head.mean);
  const perHead = flow / (2 * head.mean);
  return told(flow, head, perHead, [perHead * rectangle(0.006), flow * (coefficient === null ? 0.05 : 0.015)]);
}

/** A level open pipe [m inside] from repeat throws [m] to where the jet's top has fallen by a drop [m]; `dry` is from the crown down to the water. */
export function trajectoryFlow(throws, drop, pipe, dry = 0) {
  above(drop, pipe);
  if (!(dry >= 0 && dry < pipe)) throw new RangeError("The dry part leaves no water in the pipe.");
  const reach = read(throws, 0.05);
  const radius = pipe / 2;
  const angle = Math.acos(Math.max(-1, Math.min(1, 1 - dry / radius)));
  const area = radius ** 2 * (Math.PI - angle + Math.sin(angle) * Math.cos(angle));
  const flow = (area * reach.mean) / Math.sqrt((2 * drop) / GRAVITY);
  return told(flow, reach, flow / reach.mean, [(flow / reach.mean) * rectangle(0.015), (flow / (2 * drop)) * rectangle(0.005), flow * (dry > 0 ? 0.1 : 0.05)]);
}

/** The flow from readings named as the desk names them. */
export function flowFrom(method, r) {
  if (method === "bucket") return bucketFlow(r.volume, r.fill_times);
  if (method === "V-notch") return notchFlow(r.heads, r.notch_angle);
  if (method === "orifice pipe") return orificeFlow(r.heads, r.orifice_diameter, r.pipe_inside_diameter, r.coefficient ?? null);
  if (method === "pipe trajectory") return trajectoryFlow(r.throws, r.drop, r.pipe_inside_diameter, r.dry_depth ?? 0);
  throw new RangeError(`${method} is not measured on the phone`);
}
