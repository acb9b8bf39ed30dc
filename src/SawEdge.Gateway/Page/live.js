// What is so right now: every saw and every open alarm, kept by the event stream, and the load of the last minutes as it was
// seen by this page. Views listen; none of them asks the gateway on its own.
import { follow, get } from "./api.js";
import { asRead } from "./units.js";

/** How many minutes of load are kept for drawing. */
export const TRACE_MINUTES = 6;

/** From this age on, seconds, values are shown as old. */
export const OLD_AFTER_S = 15;

// The gateway says something of each saw every ten seconds, were it only that nothing changed: who hears nothing for so long knows nothing.
const SILENT_AFTER_S = 35;

/** Two values of a trace further apart than this, ms, are not joined: what was between them is not known. */
export const GAP_MS = 5000;

const saws = new Map();
const alarms = new Map();
const traces = new Map();
const listeners = new Set();
let stop = null;
let isOpen = false;
let since = Date.now();
let trouble = null;

/** Listens: called with "saw", "alarm", "cycle" or "connection" and what it is about. Returns what ends it. */
export function listen(handler) {
  listeners.add(handler);
  return () => listeners.delete(handler);
}

/** All saws in the order of the site. */
export const allSaws = () => [...saws.values()];

/** Open alarms, the most urgent first, then the newest; what was put aside comes last. */
export const openAlarms = () => [...alarms.values()].sort((a, b) => isAside(a) - isAside(b) || rank(b) - rank(a) || b.number - a.number);

/** Whether an alarm was put aside: by a person, by its cause or by the hours. Nobody need look at it now. */
export const isAside = alarm => ["shelved", "suppressed_by_design", "out_of_service"].includes(alarm.state);

/** Open alarms that somebody should look at. */
export const pressingAlarms = () => openAlarms().filter(alarm => !isAside(alarm));

/** Whether the stream is open, since when it is as it is, and what went wrong. */
export const connection = () => ({ isOpen, since, trouble });

/** The load of a saw in the last minutes: a list of {at, load, low, high, expected}; at in ms, null where not known. */
export const traceOf = name => traces.get(name) ?? [];

/** The age of a saw's data now, seconds; null where there never were any. */
export function ageOf(saw, now = Date.now()) {
  return saw.dataAgeS === null || saw.dataAgeS === undefined ? null : saw.dataAgeS + (now - saw.seenAt) / 1000;
}

/**
 * fresh, old, stale or never. Some saws tell only what changes: how long their last word holds is known to the gateway, which
 * calls the state unknown when that is over.
 */
export function freshness(saw, now = Date.now()) {
  const age = ageOf(saw, now);
  if (age === null)
    return "never";
  if (age < OLD_AFTER_S)
    return "fresh";
  return saw.state === "unknown" || now - saw.seenAt > SILENT_AFTER_S * 1000 ? "stale" : "old";
}

/** Whether an alarm is open: something is left to be done about it. */
export const isOpenAlarm = alarm => !(alarm.closed ?? (alarm.state === "normal" || (!alarm.active && isAside(alarm))));

/** Takes note of an alarm that an answer brought. */
export function noteAlarm(alarm) {
  if (isOpenAlarm(alarm))
    alarms.set(alarm.number, readable(alarm));
  else
    alarms.delete(alarm.number);
  tell("alarm", alarm);
}

/** Begins; nothing where it has begun. */
export function startLive() {
  if (stop !== null)
    return;
  stop = new AbortController();
  follow("/live", onEvent, onState, stop.signal);
  setInterval(refreshQuiet, 10_000);
}

// The stream sends what changed. A saw that says nothing may be unchanged or gone: asking tells which.
async function refreshQuiet() {
  if (!isOpen || document.hidden || !allSaws().some(saw => freshness(saw) !== "fresh"))
    return;
  try {
    takeSaws((await get("/saws")).items);
  } catch { /* the stream's own state tells of it */ }
}

async function onState(nowOpen, error) {
  trouble = nowOpen ? null : error;
  if (isOpen !== nowOpen) {
    isOpen = nowOpen;
    since = Date.now();
  }
  if (nowOpen) {
    try {
      const [all, open, past] = await Promise.all([get("/saws"), get("/alarms", { open: true, limit: 500 }), get("/traces")]);
      past.items.forEach(takeTrace);
      takeSaws(all.items, true);
      alarms.clear();
      for (const alarm of open.items)
        alarms.set(alarm.number, readable(alarm));
      tell("alarm", null);
    } catch (caught) {
      trouble = caught;
    }
  }
  tell("connection", connection());
}

function takeSaws(items, isWhole = false) {
  if (isWhole) {
    const names = new Set(items.map(saw => saw.name));
    for (const name of saws.keys())
      if (!names.has(name))
        saws.delete(name);
  }
  for (const saw of items) {
    // The stream may have told of some saws already: the order is that of the site all the same.
    const known = saws.get(saw.name);
    if (isWhole && known && saws.delete(saw.name))
      saws.set(saw.name, known);
    takeSaw(saw);
  }
}

// What was before this page looked. What it saw itself is finer and stays.
function takeTrace({ saw, ageS, loadKw, expectedKw, lowKw, highKw }) {
  const own = traces.get(saw) ?? [];
  const now = Date.now();
  const before = ageS.map((age, i) => ({ at: now - age * 1000, load: loadKw[i], expected: expectedKw[i], low: lowKw[i], high: highKw[i] }));
  const isNew = at => !own.some(point => Math.abs(point.at - at) < 1000);
  traces.set(saw, [...before.filter(point => isNew(point.at)), ...own].sort((a, b) => a.at - b.at));
}

function takeSaw(change) {
  const now = Date.now();
  const saw = { ...saws.get(change.name), ...change, seenAt: now };
  saws.set(saw.name, saw);
  const trace = traces.get(saw.name) ?? [];
  traces.set(saw.name, trace);
  if ((saw.dataAgeS ?? Infinity) < OLD_AFTER_S) {
    const { motorLoadKw: load, expectedLoadKw: expected, expectedLowKw: low, expectedHighKw: high } = saw;
    trace.push({ at: now - saw.dataAgeS * 1000, load, expected, low, high });
  }
  while (trace.length && trace[0].at < now - TRACE_MINUTES * 60_000)
    trace.shift();
  tell("saw", saw);
}

function onEvent(event, data) {
  if (event === "saw")
    takeSaw(data);
  else if (event === "alarm")
    noteAlarm(data);
  else
    tell(event, data);
}

function tell(what, about) {
  for (const handler of listeners)
    handler(what, about);
}

/** An alarm as people read it. */
export const readable = alarm => ({ ...alarm, text: asRead(alarm.text) });

const rank = alarm => ({ high: 2, medium: 1, low: 0 })[alarm.severity] ?? 0;
