// The plant's calendar on the page: where its days begin, in its own time zone wherever the reader sits, and what stands on an axis.

import { currentZone } from "./units.js";

const HOUR_MS = 3_600_000;
const STEPS_MS = [60_000, 120_000, 300_000, 600_000, 900_000, 1_800_000, HOUR_MS, 2 * HOUR_MS, 3 * HOUR_MS, 6 * HOUR_MS, 12 * HOUR_MS, 24 * HOUR_MS];
const formats = new Map();

function fields(ms) {
  const zone = currentZone();
  let format = formats.get(zone);
  if (format === undefined) {
    format = new Intl.DateTimeFormat("en-GB", { timeZone: zone, hourCycle: "h23", year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", second: "2-digit" });
    formats.set(zone, format);
  }
  const found = {};
  for (const part of format.formatToParts(ms))
    found[part.type] = Number(part.value);
  return found;
}

function offsetAt(ms) {
  const at = fields(ms);
  return Date.UTC(at.year, at.month - 1, at.day, at.hour, at.minute, at.second) - Math.floor(ms / 1000) * 1000;
}

/** The moment at which a date begins at the plant, ms. Twice, because the offset at midnight UTC may not be the one that holds there. */
export function beginOf(date) {
  const naive = Date.parse(`${date}T00:00:00Z`);
  const guess = naive - offsetAt(naive);
  return naive - offsetAt(guess);
}

/** The moment of a plant's day and minute, as a field holds them ("2026-03-09T14:05"), ms; null where it is none. */
export function momentOf(minute) {
  const naive = /^\d{4}-\d\d-\d\dT\d\d:\d\d/.test(minute ?? "") ? Date.parse(`${minute.slice(0, 16)}:00Z`) : NaN;
  return Number.isNaN(naive) ? null : naive - offsetAt(naive - offsetAt(naive));
}

/** The day and minute at the plant at a moment, as a field holds them. */
export const minuteOf = ms => new Date(ms + offsetAt(ms)).toISOString().slice(0, 16);

/** The date at the plant at a moment: "2026-03-09". */
export const dateOf = ms => new Date(ms + offsetAt(ms)).toISOString().slice(0, 10);

/** A date some days on. */
export const addDays = (date, days) => new Date(Date.parse(`${date}T12:00:00Z`) + days * 24 * HOUR_MS).toISOString().slice(0, 10);

/** The Monday of a date's week, as ISO 8601 counts weeks. */
export const mondayOf = date => addDays(date, -((new Date(`${date}T12:00:00Z`).getUTCDay() + 6) % 7));

/** Whether a text is a date, "2026-03-09". */
export const isDate = text => /^\d{4}-\d\d-\d\d$/.test(text ?? "") && !Number.isNaN(Date.parse(`${text}T12:00:00Z`));

/** Round moments of a span by the plant's clock, about `most` of them at most. */
export function ticks(from, to, most) {
  const step = STEPS_MS.find(step => (to - from) / step <= Math.max(1, most)) ?? STEPS_MS.at(-1);
  const offset = offsetAt(from);
  const found = [];
  for (let at = Math.ceil((from + offset) / step) * step - offset; at <= to; at += step)
    found.push(at);
  return found;
}

/** A length of time to the second: 3:05:09. */
export function hms(seconds) {
  const whole = Math.round(seconds);
  const two = n => String(n).padStart(2, "0");
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}

/** Hours: below ten with two decimals, below a thousand with one: how losses are counted. */
export const hours = seconds => (seconds / 3600).toFixed(Math.abs(seconds) < 35_982 ? 2 : Math.abs(seconds) < 3_599_820 ? 1 : 0);
