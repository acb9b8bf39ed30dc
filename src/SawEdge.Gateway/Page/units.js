// Numbers with their units as people read them: the same conversions and the same rounding as the gateway's reports.
// What comes from the gateway is metric always.

const MM_PER_INCH = 25.4;
const CM2_PER_IN2 = MM_PER_INCH * MM_PER_INCH / 100;
const CM2_PER_FT2 = (12 * MM_PER_INCH) ** 2 / 100;
const KW_PER_HP = 0.74569987158227022;

const INCH = {
  "mm": [1 / MM_PER_INCH, "in"],
  "mm/min": [1 / MM_PER_INCH, "in/min"],
  "cm2": [1 / CM2_PER_IN2, "in2"],
  "m2": [10_000 / CM2_PER_FT2, "ft2"],
  "cm2/min": [1 / CM2_PER_IN2, "in2/min"],
  "cm3/min": [1000 / MM_PER_INCH ** 3, "in3/min"],
  "m/min": [1000 / (12 * MM_PER_INCH), "ft/min"],
  "kW": [1 / KW_PER_HP, "hp"],
};

/** What is shown for a value that is not known. Never 0. */
export const UNKNOWN = "–";

const FORMATS = {
  minutes: { hour: "2-digit", minute: "2-digit", hourCycle: "h23" },
  seconds: { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" },
  day: { weekday: "short", day: "numeric", month: "short" },
};
const formats = new Map();

let system = "metric";
let zone = "UTC";

/** Sets the units to show: "metric" or "inch". */
export function setUnits(name) { system = name === "inch" ? "inch" : "metric"; }

/** The units that are shown. */
export const currentUnits = () => system;

/** Sets the plant's time zone, an IANA name; UTC where the browser does not know it. Tells whether it does. */
export function setZone(name) {
  try {
    new Intl.DateTimeFormat("en-GB", { timeZone: name });
    zone = name;
    return true;
  } catch {
    zone = "UTC";
    return false;
  }
}

/** The plant's time zone. */
export const currentZone = () => zone;

/** Four significant digits, more only where the whole part has them; halves go to the even digit, as the gateway does it. */
export function number(value) {
  if (value === null || value === undefined || !Number.isFinite(value))
    return UNKNOWN;
  const decimals = value === 0 ? 0 : Math.min(8, Math.max(0, 3 - Math.floor(Math.log10(Math.abs(value)))));
  const scale = 10 ** decimals;
  const text = (roundHalfEven(value * scale) / scale).toFixed(decimals);
  const short = decimals > 0 ? text.replace(/\.?0+$/, "") : text;
  return short === "-0" ? "0" : short;
}

/** How a unit is written for people: cm² rather than cm2. */
export const unitLabel = unit => unit.replaceAll("2", "²").replaceAll("3", "³");

/** A sentence of the gateway, which writes units in plain letters, as people read it: "8.36 J/mm³". */
export const asRead = text => text?.replace(/(\d[ \u00a0])((?:J\/)?(?:mm|cm|m|in|ft))([23])(?![\w])/g, (_, before, unit, power) => `${before}${unit}${unitLabel(power)}`);

/**
 * What a chart needs to draw values of a metric unit.
 * @returns {{factor: number, unit: string}} What to multiply with, and the unit to write.
 */
export function scale(unit) {
  if (unit === "share")
    return { factor: 100, unit: "%" };
  const found = system === "inch" ? INCH[unit] : undefined;
  return found ? { factor: found[0], unit: unitLabel(found[1]) } : { factor: 1, unit: unitLabel(unit) };
}

/** A value brought to the units that are shown: {number, unit}, both texts. */
export function value(metric, unit) {
  if (metric === null || metric === undefined || !Number.isFinite(metric))
    return { number: UNKNOWN, unit: "" };
  if (unit === "s")
    return { number: duration(metric), unit: "" };
  const { factor, unit: shown } = scale(unit);
  return { number: number(metric * factor), unit: shown };
}

/** A value and its unit in one text. */
export function quantity(metric, unit) {
  const shown = value(metric, unit);
  return shown.unit ? `${shown.number}\u00a0${shown.unit}` : shown.number;
}

/** A value that changes while one looks: always two decimals, one from 100 on, so that the text does not dance. */
export function running(metric, unit) {
  if (metric === null || metric === undefined || !Number.isFinite(metric))
    return UNKNOWN;
  const { factor, unit: shown } = scale(unit);
  const value = metric * factor;
  return `${value.toFixed(Math.abs(value) < 100 ? 2 : 1)}\u00a0${shown}`;
}

/** A share of 1 in per cent with one decimal at most: a headline figure. */
export function percent(share) {
  return share === null || share === undefined || !Number.isFinite(share) ? UNKNOWN : `${number(Math.round(share * 1000) / 10)}\u00a0%`;
}

/** A duration: seconds below two minutes, "5 min 03 s" below two hours, "3 h 12 min" above. */
export function duration(seconds) {
  if (seconds === null || seconds === undefined || !Number.isFinite(seconds))
    return UNKNOWN;
  if (Math.abs(seconds) < 120)
    return `${number(seconds)}\u00a0s`;
  const sign = seconds < 0 ? "-" : "";
  const whole = roundHalfEven(Math.abs(seconds));
  const two = n => String(n).padStart(2, "0");
  return Math.abs(seconds) < 7200
    ? `${sign}${Math.floor(whole / 60)}\u00a0min\u00a0${two(whole % 60)}\u00a0s`
    : `${sign}${Math.floor(whole / 3600)}\u00a0h\u00a0${two(Math.floor(whole % 3600 / 60))}\u00a0min`;
}

/**
 * One form for all durations of a column, so that they can be compared at a glance: seconds with one decimal where all are below two
 * minutes, else "0:05:03".
 * @param {Array<number|null|undefined>} all Every duration of the column, s.
 * @returns {(seconds: number|null|undefined) => string}
 */
export function durationsLike(all) {
  const isShort = all.every(seconds => !Number.isFinite(seconds) || seconds < 119.95);
  const two = n => String(n).padStart(2, "0");
  return seconds => {
    if (!Number.isFinite(seconds))
      return UNKNOWN;
    if (isShort)
      return `${seconds.toFixed(1)}\u00a0s`;
    const whole = roundHalfEven(seconds);
    return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
  };
}

/** How old something is, short: whole seconds, minutes, hours or days. */
export function age(seconds) {
  if (seconds === null || seconds === undefined || !Number.isFinite(seconds))
    return UNKNOWN;
  if (seconds < 100)
    return `${Math.max(0, Math.round(seconds))}\u00a0s`;
  if (seconds < 6000)
    return `${Math.round(seconds / 60)}\u00a0min`;
  return seconds < 172_800 ? `${Math.round(seconds / 3600)}\u00a0h` : `${Math.round(seconds / 86_400)}\u00a0d`;
}

/** The time of day at the plant, "14:05" or with seconds "14:05:09". */
export const clock = (moment, withSeconds = false) => format(moment, withSeconds ? "seconds" : "minutes");

/** The day at the plant, "Thu 26 Nov". */
export const day = moment => format(moment, "day");

/** Day and time at the plant; the day is left out where it is today. */
export function dayClock(moment, now = Date.now()) {
  return day(moment) === day(now) ? clock(moment) : `${day(moment)} ${clock(moment)}`;
}

function format(moment, kind) {
  if (moment === null || moment === undefined)
    return UNKNOWN;
  const date = new Date(moment);
  if (Number.isNaN(date.getTime()))
    return UNKNOWN;
  // To make a format takes a hundred times as long as to use it.
  const key = `${kind} ${zone}`;
  if (!formats.has(key))
    formats.set(key, new Intl.DateTimeFormat("en-GB", { timeZone: zone, ...FORMATS[kind] }));
  return formats.get(key).format(date).replace(",", "");
}

function roundHalfEven(x) {
  const floor = Math.floor(x);
  const rest = x - floor;
  return rest !== 0.5 ? Math.round(x) : floor % 2 === 0 ? floor : floor + 1;
}
