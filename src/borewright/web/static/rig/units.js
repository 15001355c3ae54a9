// The firm's units on the phone. Values are kept in SI, and beside each the words as they stood on the glass; held to the desk's own units by a test.
const FOOT = 0.3048;
const INCH = 0.0254;
const GALLON = { US: 3.785411784e-3, imperial: 4.54609e-3 };
const POUND = 0.45359237;
const SYSTEM = (metric, us, imperial = us) => ({ metric, US: us, imperial });
// kind: [unit, its worth in SI, digits shown]
const KINDS = {
  depth: SYSTEM(["m", 1, 2], ["ft", FOOT, 2]),
  diameter: SYSTEM(["mm", 1e-3, 0], ["in", INCH, 3]),
  head: SYSTEM(["mm", 1e-3, 0], ["in", INCH, 2]),
  volume: SYSTEM(["L", 1e-3, 1], ["US gal", GALLON.US, 1], ["imp gal", GALLON.imperial, 1]),
  flow: SYSTEM(["L/min", 1e-3 / 60, 1], ["US gpm", GALLON.US / 60, 2], ["imp gpm", GALLON.imperial / 60, 2]),
  air: SYSTEM(["m3/min", 1 / 60, 1], ["cfm", FOOT ** 3 / 60, 0]),
  pressure: SYSTEM(["kPa", 1e3, 0], ["psi", (POUND * 9.80665) / INCH ** 2, 0]),
  velocity: SYSTEM(["m/s", 1, 1], ["ft/s", FOOT, 0]),
  density: SYSTEM(["kg/L", 1e3, 2], ["lb/US gal", POUND / GALLON.US, 1], ["lb/imp gal", POUND / GALLON.imperial, 1]),
  mass: SYSTEM(["kg", 1, 1], ["lb", POUND, 1]),
  temperature: SYSTEM(["degC", 1, 1], ["degF", 5 / 9, 1], ["degC", 1, 1]),
  seconds: SYSTEM(["s", 1, 1], ["s", 1, 1]),
};
let system = "metric";

export const use = (name) => { system = name === "US" || name === "imperial" ? name : "metric"; };
export const isMetric = () => system === "metric";
export const unitOf = (kind) => KINDS[kind][system][0];
export const digitsOf = (kind) => KINDS[kind][system][2];
const zero = (kind) => (unitOf(kind) === "degF" ? 32 : 0);

export const toSi = (kind, shown) => (shown === null ? null : Number(((shown - zero(kind)) * KINDS[kind][system][1]).toPrecision(12)));
export const fromSi = (kind, si) => (si === null || si === undefined ? null : si / KINDS[kind][system][1] + zero(kind));

/** A value as a person reads it, in the firm's unit. */
export const words = (kind, si, digits = digitsOf(kind)) => `${Number(fromSi(kind, si).toFixed(digits))} ${unitOf(kind).replace("deg", "°").replace("m3", "m³")}`;
export const depthWords = (m) => words("depth", m);
export const sizeWords = (m) => words("diameter", m);
/** Flow to three figures: litres a minute under the metric system, gallons a minute else. */
export const flowWords = (flow) => `${Number(fromSi("flow", flow).toPrecision(3))} ${unitOf("flow")}`;
