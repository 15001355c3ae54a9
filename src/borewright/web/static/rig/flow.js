// Flow by bucket and V-notch with its doubt, for when there is no coverage; held to the desk's own figures by a test.
// Doubts are combined as the desk does: the spread of repeats, and each tool's half width as a rectangle (JCGM 100, 4.2 and 4.3.7).

const GRAVITY = 9.80665;
const FOOT = 0.3048;

function read(values, presumed) {
  if (!values.length || values.some((v) => !(Number.isFinite(v) && v > 0))) throw new RangeError("a reading must be above zero");
  const mean = values.reduce((a, b) => a + b, 0) / values.length;
  if (values.length === 1) return { mean, error: mean * presumed };
  const square = values.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (values.length - 1);
  return { mean, error: Math.sqrt(square / values.length) };
}

const together = (...parts) => Math.sqrt(parts.reduce((sum, p) => sum + p * p, 0));
const rectangle = (half) => half / Math.sqrt(3);

/** Return {flow, doubt} [m3/s] of a bucket [m3] from repeat fill times [s]. */
export function bucketFlow(volume, fillTimes) {
  const times = read(fillTimes, 0.05);
  const flow = volume / times.mean;
  return { flow, doubt: together((flow / times.mean) * times.error, (flow / times.mean) * rectangle(0.3), rectangle(0.02 * volume) / times.mean) };
}

/** Return {flow, doubt} [m3/s] over a V-notch of an angle [deg] from repeat heads [m]. */
export function notchFlow(heads, angle) {
  const a = angle;
  const coefficient = 0.607165052 - 0.000874466963 * a + 6.10393334e-6 * a * a;
  const correction = (0.0144902648 - 0.00033955535 * a + 3.29819003e-6 * a * a - 1.06215442e-8 * a ** 3) * FOOT;
  const head = read(heads, 0.02);
  const half = (angle * Math.PI) / 360;
  const flow = (8 / 15) * Math.sqrt(2 * GRAVITY) * coefficient * Math.tan(half) * (head.mean + correction) ** 2.5;
  const perHead = (2.5 * flow) / (head.mean + correction);
  const perDegree = ((flow / Math.sin(2 * half)) * Math.PI) / 180;
  return { flow, doubt: together(perHead * head.error, perHead * rectangle(0.002), perDegree * rectangle(0.5), 0.01 * flow) };
}
