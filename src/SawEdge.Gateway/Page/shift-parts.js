// What stands under a strip: where the time went, to the second; standards that are too loose; and the same as tables, for the
// keyboard, for screen readers and for those who rather read.

import { bucketOf, swatch } from "./buckets.js";
import { el, put } from "./dom.js";
import { hms } from "./plant-time.js";
import { isScrap, jobName } from "./shift-strip.js";
import { ORDER, nameOf, timeBar, wholeSeconds } from "./time-buckets.js";
import { t, word } from "./text.js";
import { clock, duration, durationsLike, number, percent, UNKNOWN } from "./units.js";

/** Cuts of a job below this share of their standard, and at least so many: the standard is too loose. */
const LOOSE_RATIO = 0.95;
const LOOSE_CUTS = 5;

/** Stops shorter than this, s, are counted and not listed. */
const LISTED_S = 10;

/** Where the planned time of a saw went; the entries add up to it. @param {object|null} item An item of the OEE answer. */
export function ledger(item, saw) {
  if (!item)
    return null;
  const seconds = wholeSeconds(Object.fromEntries(ORDER.map(bucket => [bucket, item.bucketsS[bucket] ?? 0])));
  const planned = Object.values(seconds).reduce((sum, part) => sum + part, 0);
  if (planned === 0)
    return el("p.muted", t("shift.nonePlanned"));
  const stops = (item.stops ?? []).filter(stop => stop.timeS >= 1);
  return el("div.ledger",
    timeBar(seconds, planned, { label: t("shift.ledgerBar", { saw }) }),
    el("dl", ORDER.filter(bucket => seconds[bucket] > 0 || bucket === "unknown").map(bucket => el("div", el("dt", swatch(bucket), " ", nameOf(bucket)),
      el("dd", hms(seconds[bucket]), el("span.muted.small", ` ${percent(seconds[bucket] / planned)}`)))),
    el("div.is-sum", el("dt", t("shift.planned")), el("dd", `= ${hms(planned)}`))),
    stops.length > 0 ? el("p.small.muted", t("shift.reasons"), " ", stops.slice(0, 6).map((stop, i) => [i > 0 ? ", " : "", el("span", { text: `${stop.reason || t("shift.noReason")} ${duration(stop.timeS)} (${t(`stop.class.${stop.class}`)})` })])) : null);
}

/** Jobs that take clearly less than their standard, named: effectiveness above 1 comes from them. */
export function tooLoose(timeline) {
  const jobs = new Map();
  for (const cut of timeline.cuts) {
    if (cut.outcome !== "completed" || !(cut.standardCutTimeS > 0))
      continue;
    const job = jobs.get(cut.job) ?? { name: cut.job, cuts: 0, tookS: 0, standardS: 0 };
    job.cuts++;
    job.tookS += cut.cutTimeS;
    job.standardS += cut.standardCutTimeS;
    jobs.set(cut.job, job);
  }

  const loose = [...jobs.values()].filter(job => job.cuts >= LOOSE_CUTS && job.tookS < LOOSE_RATIO * job.standardS);
  return loose.length === 0 ? null : el("p.small.loose", t("shift.loose"), " ",
    loose.map((job, i) => [i > 0 ? ", " : "", el("span", { text: t("shift.looseJob", { job: jobName(job.name), ratio: number(job.tookS / job.standardS), cuts: job.cuts }) })]));
}

/**
 * The strip as tables.
 * @param {object} data The saw, its timeline and its stops.
 * @param {{from: number, to: number}} range What the strip shows.
 * @param {{isOpen: boolean, canEnter: boolean, hasReasons: boolean, reason: (stop: object) => void, scrap: (cut: object|null) => void}} how
 */
export function tables(data, range, how) {
  const inside = (from, to) => Date.parse(to) > range.from && Date.parse(from) < range.to;
  const stops = data.stops.filter(stop => inside(stop.from, stop.to));
  const cuts = data.timeline.cuts.filter(cut => inside(cut.startedAt, cut.endedAt));
  const holder = el("div.shift-tables");
  let isFilled = false;
  const fill = () => {
    if (isFilled)
      return;
    isFilled = true;
    put(holder, stopTable(stops, data.saw.name, { ...how, canEnter: how.canEnter && how.hasReasons }), cutTable(cuts, data.saw.name, how));
  };
  const details = el("details", { open: how.isOpen, on: { toggle: fill } }, el("summary", t("shift.asTable", { stops: stops.filter(stop => stop.durationS >= LISTED_S).length, cuts: cuts.length })), holder);
  if (how.isOpen)
    fill();
  return el("div.shift-more", details, how.canEnter ? el("button.button", { text: t("scrap.enter"), data: { key: "scrap" }, on: { click: () => how.scrap(null) } }) : null);
}

const table = (caption, heads, rows) => el("div.table-wrap", { tabindex: "0", role: "region", "aria-label": caption }, el("table.table", el("caption", { text: caption }),
  el("thead", el("tr", heads.map(([key, isNumber]) => el(isNumber ? "th.number" : "th", { scope: "col", text: key ? t(key) : "" }, key ? null : el("span.unseen", t("shift.col.action")))))), el("tbody", rows)));

function stopTable(stops, saw, how) {
  const listed = stops.filter(stop => stop.durationS >= LISTED_S || stop.enteredBy);
  const short = stops.length - listed.length;
  const note = short > 0 ? el("p.small.muted", t("shift.shortStops", { count: short, seconds: LISTED_S })) : null;
  if (listed.length === 0)
    return [el("p.muted", t("shift.noStops")), note];
  const length = durationsLike(listed.map(stop => stop.durationS));
  return [table(t("shift.stopsOf", { saw }), [["shift.col.from"], ["shift.col.length", true], ["shift.col.bucket"], ["shift.col.reason"], ["shift.col.class"], ["shift.col.by"], ...how.canEnter ? [[""]] : []], listed.map(stop => {
    const span = { from: Date.parse(stop.from), to: Date.parse(stop.to) };
    return el("tr", el("th", { scope: "row", text: clock(span.from, true) }), el("td.number", length(stop.durationS)),
      el("td", swatch(stop.bucket), " ", nameOf(bucketOf(stop.bucket))), el("td", { text: stop.reason || t("shift.noReason") }), el("td", stop.class ? t(`stop.class.${stop.class}`) : ""), el("td", { text: stop.enteredBy ?? "" }),
      how.canEnter ? el("td", bucketOf(stop.bucket) === "unknown" ? null : el("button.button", {
        data: { key: `t${stop.from}` }, "aria-label": t("stop.giveAt", { what: t(stop.enteredBy ? "stop.change" : "stop.give"), at: clock(span.from, true) }), text: t(stop.enteredBy ? "stop.change" : "stop.give"), on: { click: () => how.reason({ ...stop, ...span }) },
      })) : null);
  })), note];
}

function cutTable(cuts, saw, how) {
  if (cuts.length === 0)
    return el("p.muted", t("shift.noCuts"));
  const time = durationsLike(cuts.flatMap(cut => [cut.cutTimeS, cut.standardCutTimeS]));
  return table(t("shift.cutsOf", { saw }), [["shift.col.from"], ["shift.col.job"], ["shift.col.took", true], ["shift.col.standard", true], ["shift.col.ratio", true], ["shift.col.score", true], ["shift.col.outcome"], ...how.canEnter ? [[""]] : []], cuts.map(cut => el("tr",
    el("th", { scope: "row" }, el("a", { href: `#/cut/${encodeURIComponent(cut.cycleId)}`, text: clock(cut.startedAt, true) })),
    el("td", { text: cut.job ?? "" }), el("td.number", time(cut.cutTimeS)), el("td.number", time(cut.standardCutTimeS)), el("td.number", Number.isFinite(cut.cutTimeRatio) ? cut.cutTimeRatio.toFixed(2) : UNKNOWN),
    el("td.number", cut.isUnusual ? [el("span.tag.low", t("shift.unusual")), " "] : null, Number.isFinite(cut.loadScore) ? cut.loadScore.toFixed(1) : UNKNOWN),
    el("td", word("outcome", cut.outcome), isScrap(cut) ? [" ", el("span.tag.medium", t("shift.words.scrap"))] : null),
    how.canEnter ? el("td", cut.outcome === "completed" || cut.outcome === "unobserved_start" ? el("button.button", {
      data: { key: `c${cut.cycleId}` }, "aria-label": t("scrap.at", { what: t("scrap.short"), at: clock(cut.endedAt, true) }), text: t("scrap.short"), on: { click: () => how.scrap(cut) },
    }) : null) : null)));
}
