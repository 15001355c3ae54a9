// The stop rule's look-up, as the desk describes it beside its table; held to the desk's test vectors.

function place(table, depth, flow, strikes) {
  for (const value of [depth, flow, strikes]) if (!(Number.isFinite(value) && value >= 0)) throw new RangeError(`${value} is not zero or more`);
  if (!Number.isInteger(strikes) || (flow > 0 && strikes === 0)) throw new RangeError("strikes do not go with the flow");
  const at = Math.min(Math.floor(depth / table.step_m + 1e-9), table.steps);
  const need = table.need_m3_per_s;
  const level = flow >= need ? table.levels - 1 : Math.min(Math.floor((flow * (table.levels - 1)) / need + 0.5), table.levels - 2);
  return [at, Math.min(strikes, table.counts - 1), level];
}

function oddsAhead(table, at, strikes, level) {
  const passed = table.exposure[Math.min(at + table.ahead_steps, table.steps)] - table.exposure[at];
  const hit = passed / (table.rate + table.exposure[at] + passed);
  const shape = table.shape + strikes;
  let chance = (1 - hit) ** shape;
  let odds = chance * table.tails[0][level];
  for (let k = 1; k < table.tails.length; k += 1) {
    chance *= (hit * (shape + k - 1)) / k;
    odds += chance * table.tails[k][level];
  }
  return Math.min(odds, 1);
}

/** Return {action, reason, odds} at a depth [m] with a flow [m3/s] from so many strikes. */
export function whatNow(table, depth, flow, strikes) {
  const [at, counted, level] = place(table, depth, flow, strikes);
  let code = 0;
  for (const [start, found] of table.actions[at][counted]) if (start <= level) code = found;
  const odds = oddsAhead(table, at, strikes, level);
  const action = table.codes[code];
  const share = `${Math.round(odds * 100)} in 100`;
  let reason = `The chance that the next 10 m gives enough is ${share}, and going on costs more than it is worth.`;
  if (action === "complete") reason = "The need is met: stop and complete the bore.";
  else if (action === "drill") reason = `Drill on: the chance that the next 10 m gives enough is ${share}.`;
  else if (at >= table.steps) reason = "The greatest depth of the plan is reached and the need is not met.";
  return { action, reason, odds };
}
