// Days as they are at the plant, whatever the zone of the browser.

import { currentZone } from "./units.js";

/** The day at the plant, as a date field holds it: "2026-11-26". */
export function plantDay(moment) {
  const parts = wall(new Date(moment));
  return `${String(parts.year).padStart(4, "0")}-${two(parts.month)}-${two(parts.day)}`;
}

/** The moment at which a day ("2026-11-26") begins at the plant, or that so many days later; null where it is no day. */
export function dayBegins(day, later = 0) {
  const found = /^(\d{4})-(\d{2})-(\d{2})$/.exec(day ?? "");
  if (!found)
    return null;
  return fromWall(Date.UTC(Number(found[1]), Number(found[2]) - 1, Number(found[3]) + later));
}

/** What a field for day and time holds at the plant for a moment: "2026-11-26T14:05". */
export function plantMinute(moment) {
  const parts = wall(new Date(moment));
  return `${plantDay(moment)}T${two(parts.hour)}:${two(parts.minute)}`;
}

/** The moment of such a field; null where it is none. */
export function momentOf(minute) {
  const found = /^(\d{4})-(\d{2})-(\d{2})T(\d{2}):(\d{2})/.exec(minute ?? "");
  return found ? fromWall(Date.UTC(Number(found[1]), Number(found[2]) - 1, ...found.slice(3).map(Number))) : null;
}

// The clock on the wall tells the moment but for the offset, and the offset depends on the moment: twice is enough, also when clocks change.
function fromWall(shown) {
  let moment = shown;
  for (let i = 0; i < 2; i++)
    moment = shown - offset(moment);
  return new Date(moment);
}

function offset(moment) {
  const p = wall(new Date(moment));
  return Date.UTC(p.year, p.month - 1, p.day, p.hour, p.minute, p.second) - Math.floor(moment / 1000) * 1000;
}

function wall(date) {
  const parts = new Intl.DateTimeFormat("en-GB", {
    timeZone: currentZone(), year: "numeric", month: "numeric", day: "numeric", hour: "numeric", minute: "numeric", second: "numeric", hourCycle: "h23",
  }).formatToParts(date);
  return Object.fromEntries(parts.filter(part => part.type !== "literal").map(part => [part.type, Number(part.value)]));
}

const two = number => String(number).padStart(2, "0");
