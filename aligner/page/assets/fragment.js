// A moment in an address, as in W3C Media Fragments URI 1.0: #t=271.2, #t=4:31.2, #t=npt:12,20.

const CLOCK = /^(?:(\d+):)?([0-5]\d):([0-5]\d)(\.\d*)?$/;
const SECONDS = /^\d+(?:\.\d*)?$/;

function secondsIn(text) {
  if (SECONDS.test(text)) return Number.parseFloat(text);
  const clock = CLOCK.exec(text);
  if (!clock) return null;
  const [, hours = "0", minutes, seconds, fraction = ""] = clock;
  return Number(hours) * 3600 + Number(minutes) * 60 + Number(seconds) + Number(`0${fraction === "." ? "" : fraction}`);
}

function intervalIn(value) {
  const parts = value.replace(/^npt:/, "").split(",");
  if (parts.length > 2 || (parts.length === 2 && parts[1] === "")) return null;
  const start = parts[0] === "" ? (parts.length === 2 ? 0 : null) : secondsIn(parts[0]);
  const end = parts.length === 2 ? secondsIn(parts[1]) : Infinity;
  return start === null || end === null || start >= end ? null : { start, end };
}

function decoded(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return "";
  }
}

/** The last valid interval that an address's fragment names, in seconds, or null. */
export function parseFragment(hash) {
  let found = null;
  for (const pair of hash.replace(/^#/, "").split("&")) {
    const [name, ...rest] = pair.split("=");
    if (decoded(name) === "t" && rest.length === 1) found = intervalIn(decoded(rest[0])) ?? found;
  }
  return found;
}

/** The fragment of a moment in seconds, to the millisecond. */
export function fragmentOf(seconds) {
  return `#t=${Math.max(0, Math.round(seconds * 1000) / 1000)}`;
}
