// Sends what the desk does not have yet: on opening, when coverage comes back, on a timer that grows longer, and when asked.
import * as store from "./store.js";

const BATCH = 200;
const FIRST = 5000;
const LONGEST = 300000;
let wait = FIRST;
let timer = 0;
let due = 0;
let tell = () => {};
export const state = { unsent: 0, refused: 0, sending: false, trouble: "" };

export function listen(callback) { tell = callback; }

export async function count() {
  const rows = (await store.waiting()).filter((row) => !row.aside);
  state.unsent = rows.length;
  state.refused = rows.filter((row) => row.refused).length;
  tell(state);
}

/** An end to waiting; a browser without it waits as long as it waits. */
export const limit = (milliseconds) => (AbortSignal.timeout ? AbortSignal.timeout(milliseconds) : undefined);

async function post(path, body, type) {
  const device = (await store.get("device")) || "";
  const answer = await fetch(path, { method: "POST", headers: { "Content-Type": type, "X-Device": device, "X-Device-Clock": store.moment() }, body, signal: limit(30000) });
  if (answer.redirected || answer.status === 401) throw Object.assign(new Error("sign in to send"), { signIn: true });
  const text = await answer.text();
  let read = null;
  try { read = JSON.parse(text); } catch { throw new Error(`the desk answered ${answer.status} and nothing that can be read`); }
  return { status: answer.status, read };
}

async function photosFirst(rows) {
  for (const { entry } of rows) {
    if (entry.kind !== "rig.photo") continue;
    const photo = await store.photoOf(entry.body.attachment);
    if (!photo) continue;
    const { status, read } = await post("/api/attachments", photo.data, "application/octet-stream");
    if (status !== 200 || read.sha256 !== photo.sha256) throw new Error("a photo did not arrive whole");
  }
}

async function received(rows, receipts) {
  const sent = new Set(rows.map((row) => row.entry.id));
  const held = receipts.map((r) => r.id).filter((id) => sent.has(id));
  await store.receipted(held);
  for (const { entry } of rows) if (entry.kind === "rig.photo" && held.includes(entry.id)) await store.dropPhoto(entry.body.attachment);
}

async function sendRows(rows) {
  await photosFirst(rows);
  const { status, read } = await post("/api/entries", JSON.stringify(rows.map((row) => row.entry)), "application/json");
  if (status === 200) {
    await received(rows, read.receipts);
    return;
  }
  const error = read.error || {};
  if (status !== 422 && status !== 409) throw new Error(error.problem || `the desk answered ${status}`);
  // One entry that cannot be taken waits for a person and holds up nothing else.
  if (rows.length === 1) await store.refuse(rows[0].entry.id, `${error.field || "entry"}: ${error.problem}`);
  else for (const row of rows) await sendRows([row]);
}

async function sendAll(again) {
  for (;;) {
    const rows = (await store.unsent()).filter((row) => again.has(row.entry.id) || !row.refused).slice(0, BATCH);
    if (!rows.length) return;
    rows.forEach((row) => again.delete(row.entry.id));
    await sendRows(rows);
    await count();
  }
}

/** Send now. `again` also tries what the desk refused before. Only tries that the timer makes lengthen the wait: a busy hour of taps must not. */
export async function send(again = false, byTimer = false) {
  if (state.sending) return;
  clearTimeout(timer);
  const work = async (lock) => {
    if (!lock) return;
    state.sending = true;
    tell(state);
    try {
      const refused = again ? (await store.unsent()).filter((row) => row.refused).map((row) => row.entry.id) : [];
      await sendAll(new Set(refused));
      state.trouble = "";
      wait = FIRST;
      due = 0;
    } catch (error) {
      state.trouble = error.signIn ? "sign in" : "no coverage";
      state.detail = error instanceof TypeError ? "the desk cannot be reached" : String(error.message || error);
      if (byTimer) wait = Math.min(LONGEST, wait * 2);
    } finally {
      state.sending = false;
    }
  };
  if (navigator.locks) await navigator.locks.request("outbox", { ifAvailable: true }, work);
  else await work(true);
  await count();
  if (state.unsent > state.refused) {
    due = Date.now() + wait;
    timer = setTimeout(() => send(false, true), wait);
  }
}

/** When it tries again by itself, in words. */
export function nextTry() {
  const left = Math.max(0, due - Date.now());
  if (!due || !(state.unsent > state.refused)) return "";
  return `It tries again by itself in ${left < 90000 ? `${Math.max(1, Math.round(left / 1000))} seconds` : `${Math.round(left / 60000)} minutes`}, and when coverage comes back.`;
}

function covered() {
  wait = FIRST;
  return send();
}

export function begin() {
  window.addEventListener("online", covered);
  // A page that was opened with no coverage is not always told when it is back: look as well.
  let before = navigator.onLine;
  setInterval(() => {
    const back = navigator.onLine && !before;
    before = navigator.onLine;
    if (back && state.unsent > state.refused) covered();
  }, 3000);
  // Phones that send nothing in the background send when the page is looked at again.
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  window.addEventListener("pageshow", (event) => { if (event.persisted) send(); });
  return send();
}
