// What the phone needs to know of a hole: the desk's entries and the phone's own, as one set. For showing only; the desk's fold is the record.

function ordered(entries) {
  const byDevice = new Map();
  for (const entry of new Map(entries.map((e) => [e.id, e])).values()) {
    if (!byDevice.has(entry.device)) byDevice.set(entry.device, []);
    byDevice.get(entry.device).push(entry);
  }
  const keyed = [];
  for (const [device, made] of byDevice) {
    made.sort((a, b) => a.counter - b.counter || Date.parse(a.at) - Date.parse(b.at));
    let latest = -Infinity;
    for (const entry of made) {
      latest = Math.max(latest, Date.parse(entry.at));
      keyed.push({ latest, device, entry });
    }
  }
  keyed.sort((a, b) => a.latest - b.latest || (a.device < b.device ? -1 : a.device > b.device ? 1 : a.entry.counter - b.entry.counter));
  return keyed.map((k) => k.entry);
}

function struckIds(all) {
  const strikers = new Map();
  for (const entry of all) if (entry.strikes_out) strikers.set(entry.strikes_out, [...(strikers.get(entry.strikes_out) || []), entry]);
  const standing = (entry, path) => path.has(entry.id) || !(strikers.get(entry.id) || []).some((s) => standing(s, new Set([...path, entry.id])));
  return new Set(all.filter((entry) => !standing(entry, new Set())).map((entry) => entry.id));
}

export function fold(entries) {
  const all = ordered(entries);
  const gone = struckIds(all);
  const standing = all.filter((e) => !gone.has(e.id) && e.kind.startsWith("rig."));
  const number = standing.reduce((most, e) => Math.max(most, e.body.hole || 1), 1);
  const mine = standing.filter((e) => e.kind === "rig.day_started" || (e.body.hole || 1) === number);
  const of = (kind) => mine.filter((e) => e.kind === kind);
  const last = (kind) => of(kind).at(-1);
  const reached = mine.flatMap((e) => {
    if (e.kind === "rig.advanced" || e.kind === "rig.ground") return [e.body.to_depth];
    return e.kind === "rig.struck" || e.kind === "rig.stopped" ? [e.body.depth] : [];
  });
  const flows = of("rig.flow");
  const deepest = flows.reduce((best, e) => (best && best.body.depth > e.body.depth ? best : e), null);
  const ground = of("rig.ground").sort((a, b) => a.body.from_depth - b.body.from_depth);
  return {
    number, all, gone, started: last("rig.hole_started"), bit: last("rig.bit"), stopped: last("rig.stopped"), days: of("rig.day_started"),
    depth: Math.max(0, ...reached), rods: of("rig.advanced").length, rod: (last("rig.hole_started") || { body: {} }).body.rod_length || 3,
    ground, logged: ground.reduce((most, e) => Math.max(most, e.body.to_depth), 0), strikes: of("rig.struck"), flows, flow: deepest,
    levels: of("rig.level"), casings: of("rig.casing"), annulus: of("rig.annulus"), airlift: of("rig.airlift"), used: of("rig.used"), samples: of("rig.sample"),
  };
}
