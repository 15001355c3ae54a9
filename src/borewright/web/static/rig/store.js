// The phone's own book: every entry is kept here first, with the phone's name and count, and stays until the desk has said that it has it.

const NAME = "rig";
const VERSIONS = { "rig.hole_started": 2, "rig.photo": 3 };
let opened = null;

function asked(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function finished(transaction) {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error || new Error("the phone did not keep it"));
    transaction.onerror = () => reject(transaction.error);
  });
}

export function open() {
  if (!opened) {
    opened = new Promise((resolve, reject) => {
      const request = indexedDB.open(NAME, 1);
      request.onupgradeneeded = () => {
        const base = request.result;
        base.createObjectStore("meta");
        base.createObjectStore("jobs", { keyPath: "id" });
        const entries = base.createObjectStore("entries", { keyPath: "entry.id" });
        entries.createIndex("job", "entry.job");
        entries.createIndex("unsent", "unsent");
        base.createObjectStore("photos", { keyPath: "sha256" });
      };
      request.onsuccess = () => {
        const base = request.result;
        // A phone that was asleep may have let the book go: open it again at the next use.
        base.onclose = () => { opened = null; };
        base.onversionchange = () => { base.close(); opened = null; };
        resolve(base);
      };
      request.onerror = () => reject(request.error);
      request.onblocked = () => reject(new Error("another window holds the phone's book open"));
    });
    opened.catch(() => { opened = null; });
  }
  return opened;
}

/** Whether the phone promised to keep this page's book, and the room left [bytes]; null where it does not say. */
export async function room() {
  const keeper = navigator.storage || {};
  const said = async (name) => { try { return keeper[name] ? await keeper[name]() : null; } catch { return null; } };
  const { quota, usage } = (await said("estimate")) || {};
  return { promised: await said("persisted"), left: Number.isFinite(quota) && Number.isFinite(usage) ? quota - usage : null };
}

/** A transaction, on a book opened anew if the phone let the first one go without saying so. */
async function begun(...given) {
  try {
    return (await open()).transaction(...given);
  } catch (error) {
    if (error.name !== "InvalidStateError") throw error;
    opened = null;
    return (await open()).transaction(...given);
  }
}

export async function get(key) {
  return asked((await begun("meta")).objectStore("meta").get(key));
}

export async function set(key, value) {
  const transaction = await begun("meta", "readwrite");
  transaction.objectStore("meta").put(value, key);
  return finished(transaction);
}

/** UUID version 7: time first, then chance. */
export function newId(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let i = 0; i < 6; i += 1) bytes[i] = Math.floor(now / 2 ** (8 * (5 - i))) % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

/** The moment with this phone's offset, as the desk reads it. */
export function moment(date = new Date()) {
  const minutes = -date.getTimezoneOffset();
  const two = (n) => String(Math.floor(Math.abs(n))).padStart(2, "0");
  const local = new Date(date.getTime() + minutes * 60000).toISOString().slice(0, 23);
  return `${local}${minutes < 0 ? "-" : "+"}${two(minutes / 60)}:${two(minutes % 60)}`;
}

/** Keep new entries, all or none, each with the phone's name and next count. Photos come with the entry that names them. */
export async function keep(job, what, by, photos = []) {
  const transaction = await begun(["meta", "entries", "photos"], "readwrite", { durability: "strict" });
  const done = finished(transaction);
  const meta = transaction.objectStore("meta");
  const made = [];
  try {
    let device = await asked(meta.get("device"));
    if (!device) {
      device = `phone-${newId().slice(-8)}`;
      meta.put(device, "device");
    }
    let counter = (await asked(meta.get("counter"))) || 0;
    for (const { kind, body = {}, strikesOut = null, at = moment() } of what) {
      counter += 1;
      const entry = { id: newId(), job, kind, at, by, device, counter, version: VERSIONS[kind] || 1, body, strikes_out: strikesOut };
      transaction.objectStore("entries").add({ entry, unsent: 1, refused: "" });
      made.push(entry);
    }
    meta.put(counter, "counter");
    for (const photo of photos) transaction.objectStore("photos").put(photo);
  } catch (error) {
    try { transaction.abort(); } catch { /* it has ended already */ }
    await done.catch(() => {});
    throw error;
  }
  await done;
  return made;
}

export async function unsent() {
  const found = await asked((await begun("entries")).objectStore("entries").index("unsent").getAll(1));
  return found.sort((a, b) => a.entry.counter - b.entry.counter);
}

/** What the desk does not have, each row with `aside`: refused by the desk and struck out since, so nobody waits for it. It stays readable here. */
export async function waiting() {
  const rows = await unsent();
  const lines = new Map();
  for (const id of new Set(rows.filter((row) => row.refused).map((row) => row.entry.job))) {
    const desk = await job(id);
    const strikes = [...((desk && desk.entries) || []), ...(await entriesOf(id))].filter((entry) => entry.strikes_out);
    // A line through a line takes it back; a correction stays.
    const lifted = new Set(strikes.map((entry) => entry.strikes_out));
    for (const entry of strikes) if (entry.kind !== "struck_out" || !lifted.has(entry.id)) lines.set(entry.strikes_out, id);
  }
  return rows.map((row) => ({ ...row, aside: Boolean(row.refused) && lines.get(row.entry.id) === row.entry.job }));
}

export async function entriesOf(job) {
  return (await asked((await begun("entries")).objectStore("entries").index("job").getAll(job))).map((row) => row.entry);
}

/** Mark entries as held by the desk. They stay on the phone until the desk's own copy of the job names them. */
export async function receipted(ids) {
  const transaction = await begun("entries", "readwrite");
  const store = transaction.objectStore("entries");
  for (const id of ids) {
    const row = await asked(store.get(id));
    if (row) store.put({ entry: row.entry, unsent: 0, refused: "" });
  }
  return finished(transaction);
}

export async function refuse(id, reason) {
  const transaction = await begun("entries", "readwrite");
  const store = transaction.objectStore("entries");
  const row = await asked(store.get(id));
  if (row && row.unsent) store.put({ ...row, refused: reason });
  return finished(transaction);
}

export async function photoOf(sha256) {
  return asked((await begun("photos")).objectStore("photos").get(sha256));
}

export async function dropPhoto(sha256) {
  const transaction = await begun("photos", "readwrite");
  transaction.objectStore("photos").delete(sha256);
  return finished(transaction);
}

export async function jobs() {
  const all = await asked((await begun("jobs")).objectStore("jobs").getAll());
  return all.sort((a, b) => (a.updated < b.updated ? 1 : -1));
}

export async function job(id) {
  return asked((await begun("jobs")).objectStore("jobs").get(id));
}

/** Take the desk's pack: its jobs replace the ones kept, and entries that it holds are dropped from the phone. */
export async function takePack(pack) {
  const transaction = await begun(["meta", "jobs", "entries"], "readwrite");
  const store = transaction.objectStore("jobs");
  const rows = transaction.objectStore("entries");
  const waiting = new Set((await asked(rows.index("unsent").getAll(1))).map((row) => row.entry.job));
  const coming = new Set(pack.jobs.map((one) => one.id));
  for (const id of await asked(store.getAllKeys())) if (!coming.has(id) && !waiting.has(id)) store.delete(id);
  for (const one of pack.jobs) {
    store.put(one);
    for (const entry of one.entries) {
      const row = await asked(rows.get(entry.id));
      if (row && !row.unsent) rows.delete(entry.id);
    }
  }
  const { jobs: _, air, lift, ...rest } = pack;
  transaction.objectStore("meta").put(rest, "pack");
  transaction.objectStore("meta").put({ ...air, lift }, "air"); // large, and not needed for the first look
  return finished(transaction);
}
