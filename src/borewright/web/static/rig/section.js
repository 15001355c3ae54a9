// The phone's own drawing of the hole, from what was tapped, until the desk's drawing has caught up: ground bands, strikes, flows, casing, levels.
import { depthWords, flowWords, fromSi, sizeWords, toSi, unitOf } from "./units.js";

const FILLS = [[/clay|silt|mud/i, "#e3cfa4"], [/sand|gravel|cobble/i, "#f6e7b0"], [/soil|fill/i, "#cdb893"], [/weather|broken|decompos/i, "#e7ddd2"], [/lime|dolom|chalk/i, "#dbe7f0"], [/cavity|void/i, "#ffffff"]];
const WIDTH = 360, TOP = 26, TALL = 500, LEFT = 58, WIDE = 92, GAP = 17;
const safe = (text) => String(text).replace(/[&<>"]/g, (c) => ({ "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" })[c]);
const fill = (words) => (FILLS.find(([pattern]) => pattern.test(words)) || [0, "#d8d8de"])[1];

/** Give each label a place of its own, in order, none over another and none below the sheet. */
function spread(labels, bottom) {
  labels.sort((a, b) => a.y - b.y);
  labels.forEach((label, i) => { label.at = Math.max(label.y, i ? labels[i - 1].at + GAP : TOP + 5); });
  for (let i = labels.length - 1; i >= 0; i -= 1) labels[i].at = Math.min(labels[i].at, i === labels.length - 1 ? bottom : labels[i + 1].at - GAP);
  return labels;
}

/** Return the drawing as SVG text, and the sentence that says the same. */
export function drawSection(now) {
  const deep = Math.max(now.depth, now.logged, ...now.casings.map((e) => e.body.to_depth), toSi("depth", 5));
  const scale = TALL / deep;
  const y = (depth) => TOP + depth * scale;
  const parts = [], labels = [], said = [];
  const most = fromSi("depth", deep);
  const step = [1, 2, 5, 10, 20, 50, 100, 200, 500].find((s) => most / s <= 10) || 1000;
  for (let mark = 0; mark <= most + 1e-9; mark += step) {
    const at = y(toSi("depth", mark));
    parts.push(`<line x1="${LEFT - 6}" x2="${LEFT}" y1="${at}" y2="${at}" stroke="#000"/><text x="${LEFT - 9}" y="${at + 5}" text-anchor="end" font-size="13">${mark} ${unitOf("depth")}</text>`);
  }
  for (const { body } of now.ground) {
    parts.push(`<rect x="${LEFT}" y="${y(body.from_depth)}" width="${WIDE}" height="${(body.to_depth - body.from_depth) * scale}" fill="${fill(body.words)}" stroke="#55626a"/>`);
    const words = [body.words, body.colour].filter(Boolean).join(", ");
    labels.push({ y: y((body.from_depth + body.to_depth) / 2), words, weight: 400 });
    said.push(`${words} ${depthWords(body.from_depth)} to ${depthWords(body.to_depth)}`);
  }
  if (now.depth > now.logged) parts.push(`<rect x="${LEFT}" y="${y(now.logged)}" width="${WIDE}" height="${(now.depth - now.logged) * scale}" fill="#fff" stroke="#55626a" stroke-dasharray="4 3"/>`);
  const middle = LEFT + WIDE / 2;
  parts.push(`<rect x="${middle - 11}" y="${TOP}" width="22" height="${now.depth * scale}" fill="#fff" stroke="#000" stroke-width="2"/>`);
  for (const { body } of now.casings) {
    for (const side of [-1, 1]) parts.push(`<line x1="${middle + side * 8}" x2="${middle + side * 8}" y1="${y(body.from_depth)}" y2="${y(body.to_depth)}" stroke="#17262b" stroke-width="4"${body.slotted ? ' stroke-dasharray="3 4"' : ""}/>`);
    said.push(`casing ${sizeWords(body.outside_diameter)} ${depthWords(body.from_depth)} to ${depthWords(body.to_depth)}`);
  }
  for (const { body } of now.strikes) {
    const at = y(body.depth);
    parts.push(`<path d="M${LEFT + WIDE} ${at - 8} L${middle + 12} ${at} L${LEFT + WIDE} ${at + 8} Z" fill="#1c5d99"/>`);
    const flow = now.flows.filter((e) => e.body.depth >= body.depth - 0.01).sort((a, b) => a.body.depth - b.body.depth)[0];
    const words = `water ${depthWords(body.depth)}${flow ? `, ${flowWords(flow.body.flow)}` : ""}`;
    labels.push({ y: at, words, weight: 600 });
    said.push(words);
  }
  const level = now.levels.at(-1);
  if (level && level.body.depth_to_water >= 0 && level.body.depth_to_water < deep) {
    const at = y(level.body.depth_to_water);
    parts.push(`<line x1="${middle - 11}" x2="${middle + 11}" y1="${at}" y2="${at}" stroke="#1c5d99" stroke-width="4"/>`);
    labels.push({ y: at, words: `level ${depthWords(level.body.depth_to_water)}`, weight: 400 });
  }
  const x = LEFT + WIDE + 12;
  for (const one of spread(labels, TOP + TALL)) {
    parts.push(`<path d="M${LEFT + WIDE} ${one.y} L${x - 3} ${one.at}" stroke="#55626a" fill="none"/><text x="${x}" y="${one.at + 5}" font-size="14" font-weight="${one.weight}">${safe(one.words.length > 26 ? `${one.words.slice(0, 25)}…` : one.words)}</text>`);
  }
  const sentence = `The hole as logged on this phone, ${depthWords(now.depth)} deep${said.length ? `: ${said.join("; ")}` : ""}.`;
  return { sentence, svg: `<svg viewBox="0 0 ${WIDTH} ${TOP + TALL + 14}" role="img" aria-label="${safe(sentence)}" font-family="Barlow, Arial, sans-serif">${parts.join("")}</svg>` };
}
