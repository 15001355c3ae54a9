// Two clocks: this phone's and the desk's. Neither is an authority over order; both are shown, and one that is far off is named.
export const FAR = 5 * 60000;

/** How far off a phone's clock is, in words; nothing while it is within five minutes. */
export function offWords(milliseconds) {
  if (!(Math.abs(milliseconds) > FAR)) return "";
  const minutes = Math.round(Math.abs(milliseconds) / 60000);
  return `${minutes < 120 ? `${minutes} min` : `${Math.round(minutes / 60)} h`} ${milliseconds > 0 ? "ahead of" : "behind"} the desk's`;
}

/** The two times of an entry, and the flag of a clock that cannot be right: nothing is received before it happens. */
export function entryClock(entry, { unsent, off = 0, device = "" } = {}) {
  const made = entry.at.slice(0, 16).replace("T", " ");
  if (unsent) return { words: `${made} by this phone, not yet sent`, flag: entry.device === device ? offWords(off) : "" };
  if (!entry.received) return { words: `${made} by this phone, sent`, flag: entry.device === device ? offWords(off) : "" };
  const local = new Date(entry.received);
  const two = (n) => String(n).padStart(2, "0");
  const received = `${local.getFullYear()}-${two(local.getMonth() + 1)}-${two(local.getDate())} ${two(local.getHours())}:${two(local.getMinutes())}`;
  const ahead = Date.parse(entry.at) - local.getTime();
  return { words: `${made} by its device, ${received} at the desk`, flag: entry.clock_off ? offWords(entry.clock_off * 1000) : ahead > FAR ? offWords(ahead) : "" };
}
