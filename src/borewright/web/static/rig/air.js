// The air by depth, looked up in the tables that the desk worked out: how well it cleans here, and where that ends.

const near = (a, b) => Math.abs(a - b) <= 1e-4 * Math.abs(b);

function between(xs, ys, x) {
  if (x <= xs[0]) return ys[0];
  const i = xs.findIndex((v) => v >= x);
  if (i < 0) return ys.at(-1);
  return ys[i - 1] + ((ys[i] - ys[i - 1]) * (x - xs[i - 1])) / (xs[i] - xs[i - 1]);
}

/** The kit of the tables that is in the hole: bit, rods, free air and compressor pressure in SI; null where the desk has no table for it. */
export function kitOf(tables, now) {
  if (!tables || !now.started || !now.bit) return null;
  const { rod_diameter: rod, air_flow: flow, air_pressure: compressor } = now.started.body;
  return tables.kits.find((k) => near(k.bit, now.bit.body.diameter) && near(k.rod, rod) && near(k.flow, flow) && near(k.compressor, compressor)) || null;
}

/** Return {collar, lift, pressure, ends, why} at a depth [m] with so much water [m3/s]: the curve of the next wetter hole is taken, so the depths are on the safe side. */
export function airAt(tables, kit, depth, water) {
  const curve = kit.curves.find((c) => c.water >= water * (1 - 1e-9)) || kit.curves.at(-1);
  const ends = [["cleaning", curve.cleaning_ends], ["unloading", curve.unloading_ends], ["pressure", curve.pressure_ends]].filter(([, d]) => d !== null);
  const [why, end] = ends.reduce((first, one) => (one[1] < first[1] ? one : first), ["", Infinity]);
  return { collar: kit.collar, lift: between(tables.depth, curve.lift, depth), pressure: between(tables.depth, curve.pressure, depth), end, why, wetter: water > kit.curves.at(-1).water };
}

/** How deep the air should go in, what the start takes and the free air for a volume of water, for a depth to water while pumping [m]. */
export function liftAt(rows, level) {
  const xs = rows.map((r) => r.level);
  return Object.fromEntries(["air_depth", "starting_pressure", "air_per_water"].map((name) => [name, between(xs, rows.map((r) => r[name]), Math.max(0, level))]));
}

/** The plain rule for when there is no coverage: three readings in a row at or under what is wanted. Returns {left, clean} of one thing read. */
export function plainRule(readings, criterion) {
  let row = 0;
  for (const value of readings) row = value <= criterion ? row + 1 : 0;
  return { left: Math.max(0, 3 - row), clean: row >= 3 };
}
