// A photo for the job book: made small enough to send from a paddock, with the time and place that its file carries.
// JPEG segments and Exif tags as the desk reads them (record/pictures.py); a file that lies about itself is a photo all the same.
import { el } from "./ui.js";
import { words } from "./units.js";

const WHOLE = 1500000; // bytes: up to this the file is kept as the camera made it
const LONGEST = 1600; // pixels
const EARLIEST = Date.UTC(1990, 0, 1); // a camera whose clock was never set tells an earlier day
const SIZES = { 1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1, 9: 4, 10: 8 };

/** Where the Exif block of a JPEG starts and ends (marker included), or null. */
function exifSpan(view) {
  if (view.byteLength < 4 || view.getUint16(0) !== 0xffd8) return null;
  for (let at = 2; at + 4 <= view.byteLength && view.getUint8(at) === 0xff;) {
    const marker = view.getUint8(at + 1);
    if (marker === 0xff) { at += 1; continue; }
    if (marker === 0xda || marker === 0xd9) return null;
    const end = at + 2 + view.getUint16(at + 2);
    if (marker === 0xe1 && at + 10 <= view.byteLength && view.getUint32(at + 4) === 0x45786966) return end <= view.byteLength ? [at, end] : null;
    at = end;
  }
  return null;
}

function directory(view, base, offset, little) {
  const found = new Map();
  const start = base + offset;
  if (offset < 8 || start + 2 > view.byteLength) return found;
  const many = Math.min(view.getUint16(start, little), 500);
  for (let n = 0; n < many && start + 14 + 12 * n <= view.byteLength; n += 1) {
    const row = start + 2 + 12 * n;
    const kind = view.getUint16(row + 2, little), count = view.getUint32(row + 4, little);
    const size = (SIZES[kind] || 0) * count;
    if (!size || size > 65536) continue;
    const where = size <= 4 ? row + 8 : base + view.getUint32(row + 8, little);
    if (where + size > view.byteLength) continue;
    found.set(view.getUint16(row, little), { kind, count, where });
  }
  return found;
}

/** What a JPEG says of itself: {taken (Date), latitude, longitude, orientation, turn (where the orientation stands), span}; only what can be read. */
export function pictureFacts(buffer) {
  const view = new DataView(buffer);
  const span = exifSpan(view);
  const facts = { span, taken: null, latitude: null, longitude: null, orientation: 1, turn: null, little: false };
  if (!span || span[1] - span[0] < 18) return facts;
  const base = span[0] + 10;
  const order = view.getUint16(base);
  if (order !== 0x4949 && order !== 0x4d4d) return facts;
  const little = order === 0x4949;
  facts.little = little;
  const inside = new DataView(buffer, 0, span[1]);
  const text = (one) => (one && one.kind === 2 ? new TextDecoder().decode(new Uint8Array(buffer, one.where, one.count)).split("\0")[0].trim() : "");
  const whole = (one) => (!one ? 0 : one.kind === 3 ? inside.getUint16(one.where, little) : one.kind === 4 ? inside.getUint32(one.where, little) : 0);
  const first = directory(inside, base, inside.getUint32(base + 4, little), little);
  const exif = directory(inside, base, whole(first.get(0x8769)), little);
  const place = directory(inside, base, whole(first.get(0x8825)), little);
  const turn = first.get(0x0112);
  if (turn && turn.kind === 3) Object.assign(facts, { turn: turn.where, orientation: whole(turn) });
  const clock = (text(exif.get(0x9003)) || text(first.get(0x0132))).match(/^(\d{4}):(\d\d):(\d\d) (\d\d):(\d\d):(\d\d)$/);
  if (clock) {
    const offset = (text(exif.get(0x9011)) || text(exif.get(0x9010))).match(/^[+-]\d\d:\d\d$/);
    const taken = new Date(`${clock[1]}-${clock[2]}-${clock[3]}T${clock[4]}:${clock[5]}:${clock[6]}${offset ? offset[0] : ""}`); // without an offset: this phone's own
    if (taken.getTime() >= EARLIEST && taken.getTime() <= Date.now() + 60000) facts.taken = taken; // nothing is photographed tomorrow
  }
  const degrees = (one, side, negative, most) => {
    if (!one || one.kind !== 5 || one.count !== 3 || !side) return null;
    const [d, m, s] = [0, 8, 16].map((i) => inside.getUint32(one.where + i, little) / inside.getUint32(one.where + i + 4, little));
    const value = d + m / 60 + s / 3600;
    return Number.isFinite(value) && value <= most ? Number((side === negative ? -value : value).toFixed(7)) : null;
  };
  const latitude = degrees(place.get(2), text(place.get(1)), "S", 90), longitude = degrees(place.get(4), text(place.get(3)), "W", 180);
  if (latitude !== null && longitude !== null) Object.assign(facts, { latitude, longitude });
  return facts;
}

/** The smaller JPEG with the first one's Exif block, told that it stands upright now. */
export function carried(small, original, facts) {
  if (!facts.span) return small;
  const block = new Uint8Array(original.slice(...facts.span));
  if (facts.turn !== null) new DataView(block.buffer).setUint16(facts.turn - facts.span[0], 1, facts.little);
  const out = new Uint8Array(small.byteLength + block.length);
  const given = new Uint8Array(small);
  out.set(given.subarray(0, 2));
  out.set(block, 2);
  out.set(given.subarray(2), 2 + block.length);
  return out.buffer;
}

async function smaller(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
  const canvas = el("canvas", { width: Math.round(picture.width * scale), height: Math.round(picture.height * scale) });
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", 0.8));
  if (!blob) throw new Error("the photo cannot be read");
  return blob.arrayBuffer();
}

/** Return {sha256, data, at, facts}: what is kept, and what an entry says of it. */
export async function photo(file) {
  const original = await file.arrayBuffer();
  let facts = { span: null, taken: null, latitude: null, longitude: null };
  try { facts = pictureFacts(original); } catch { /* tags that lie say nothing */ }
  const jpeg = new Uint8Array(original, 0, Math.min(2, original.byteLength)).join() === "255,216";
  const data = jpeg && original.byteLength <= WHOLE ? original : carried(await smaller(file), original, facts);
  const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", data));
  const place = facts.latitude === null ? {} : { latitude: facts.latitude, longitude: facts.longitude };
  return { sha256: [...hash].map((b) => b.toString(16).padStart(2, "0")).join(""), data, taken: facts.taken, place };
}

/** Where this phone stands, if it is allowed to say: {latitude, longitude, place_of, place_within [m]}. It needs no coverage, only sky. */
function whereIAm() {
  return new Promise((resolve, reject) => {
    if (!navigator.geolocation) { reject(new Error("it has no way to tell at this address")); return; }
    const told = ({ coords }) => {
      const within = Number.isFinite(coords.accuracy) && coords.accuracy > 0 ? { place_within: Number(coords.accuracy.toPrecision(2)) } : {};
      resolve({ latitude: Number(coords.latitude.toFixed(7)), longitude: Number(coords.longitude.toFixed(7)), place_of: "phone", ...within });
    };
    const why = { 1: "it was not allowed to", 2: "it cannot tell where it is", 3: "it took too long" };
    navigator.geolocation.getCurrentPosition(told, (error) => reject(new Error(why[error.code] || error.message)), { enableHighAccuracy: true, timeout: 30000, maximumAge: 60000 });
  });
}

/** A way to say the phone's own place where the picture's file says none: some phones take it out of a picked picture. Only when asked. */
function ownPlace() {
  const said = el("p", { class: "taken", "aria-live": "polite" });
  const state = { place: {}, node: el("div", { hidden: true }) };
  const tap = el("button", { type: "button", class: "big wide" });
  const show = (words, label) => { said.textContent = words; tap.textContent = label; };
  state.offer = () => {
    state.place = {};
    state.node.hidden = false;
    show("The picture says no place.", "Say where this phone is");
  };
  state.away = () => { state.place = {}; state.node.hidden = true; };
  tap.addEventListener("click", async () => {
    if (state.place.place_of) { state.offer(); return; }
    show("Asking the phone where it is.", "Say where this phone is");
    try {
      state.place = await whereIAm();
      const within = state.place.place_within ? ` to about ${words("depth", state.place.place_within, 0)}` : "";
      show(`Goes in as the place of the phone, not of the picture,${within || " as it says"}.`, "Leave the place out");
    } catch (error) {
      show(`The phone gave no place: ${error.message}. The photo goes in without one.`, "Ask it again");
    }
  });
  state.node.append(said, tap);
  return state;
}

/** A button that takes a photo, and what was taken. `write` gives the entry's kind and body beside a list of photos to keep. */
export function camera(label) {
  const said = el("p", { class: "taken", "aria-live": "polite" });
  const id = `photo-${label.replace(/\W+/g, "-").toLowerCase()}`;
  const own = ownPlace();
  const looked = async () => {
    const picture = file.files[0];
    said.textContent = picture ? "Photo taken: it goes in when you write down." : "";
    own.away();
    if (!picture) return;
    let place = null;
    try { place = pictureFacts(await picture.arrayBuffer()).latitude; } catch { /* tags that lie say nothing */ }
    if (place === null && file.files[0] === picture) own.offer();
  };
  const file = el("input", { id, class: "unseen", type: "file", accept: "image/*", capture: "environment", onchange: looked });
  return {
    nodes: [el("div", { class: "take" }, file, el("label", { class: "big file", for: id, text: label })), said, own.node],
    get taken() { return Boolean(file.files[0]); },
    async write(body) {
      const one = await photo(file.files[0]);
      const place = one.place.latitude === undefined ? own.place : one.place;
      return { kept: { sha256: one.sha256, data: one.data }, at: one.taken, what: { kind: "rig.photo", body: { ...body, ...place, attachment: one.sha256, media_type: "image/jpeg" } } };
    },
  };
}
