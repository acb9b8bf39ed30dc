// The parts of the OEE view: the figure taken apart, what costs most, a skyline of planned time a subject, and the table.

import { svgFill, swatch } from "./buckets.js";
import { el, setVar, svg } from "./dom.js";
import { bucketOfLoss, lostOf, lostTo } from "./oee-losses.js";
import { hours } from "./plant-time.js";
import { ORDER, addBuckets, nameOf, timeBar, total } from "./time-buckets.js";
import { t } from "./text.js";
import { percent } from "./units.js";
import { walkable } from "./walk.js";

const SKY_HEIGHT = 132;

/** Room above the tallest column for its figure, px, also in the large type over the bay. */
const SKY_HEAD = 26;

/** Lost hours by what they take from the figure. */
const TAKES = { availability: ["setup", "shortStops", "stopsByReason"], effectiveness: ["slowCutting", "slowHandling"], quality: ["scrapTime"] };

/** The name of a loss in words. */
export function lossName(loss) {
  if (loss.stopClass === null)
    return nameOf(loss.bucket);
  if (loss.stopClass === "")
    return loss.bucket === "setup" ? t("oee.trims") : t("oee.otherStops");
  return loss.reason || t("shift.noReason");
}

/** OEE as the product that it is, with the hours that each factor takes; below, the time itself. @param {object} item The site over the whole period. */
export function equation(item) {
  const { figures, besideS, bucketsS } = item;
  const factor = (name, share, takes) => el("div.factor", el("dt", t(`oee.${name}`)), el("dd", el("span.figure", percent(share)),
    el("span.small", t("oee.takes", { hours: hours(TAKES[takes].reduce((sum, bucket) => sum + (bucketsS[bucket] ?? 0), 0)) }))));
  const gained = (besideS?.gained ?? 0) + (besideS?.scrapGained ?? 0);
  return el("div.stack",
    el("dl.equation",
      el("div.factor.is-whole", el("dt", t("oee.oee")), el("dd", el("span.figure", percent(figures.oee)), el("span.small", t("oee.ofSeen", { hours: hours(item.plannedBusyTimeS - (bucketsS.unknown ?? 0)) })))),
      factor("availability", figures.availability, "availability"), factor("effectiveness", figures.effectiveness, "effectiveness"), factor("quality", figures.qualityRatio, "quality"),
      el("div.factor.is-unknown", el("dt", t("oee.unknown")), el("dd", el("span.figure", percent(figures.unknownShare)),
        el("span.small", (bucketsS.unknown ?? 0) > 0 ? t("oee.range", { low: percent(figures.availabilityLow), high: percent(figures.availabilityHigh) }) : t("oee.allSeen"))))),
    timeBar(addBuckets([item]), item.plannedBusyTimeS, { height: 30, label: t("oee.bar") }),
    figures.effectiveness > 1 ? el("p.note.caution", t("oee.above", { effectiveness: percent(figures.effectiveness), gained: hours(gained) }))
      : null,
    el("div", gained > 0 && !(figures.effectiveness > 1) ? el("p.small.muted", t("oee.gained", { gained: hours(gained) })) : null,
      item.counts.withoutStandard > 0 ? el("p.small.muted", t("oee.withoutStandard", { count: item.counts.withoutStandard, hours: hours(besideS?.withoutStandard ?? 0) })) : null,
      item.counts.partsOutside > 0 ? el("p.small.muted", t("oee.outside", { count: item.counts.partsOutside })) : null,
      item.counts.uncertain > 0 ? el("p.small.muted", t("oee.uncertain", { count: item.counts.uncertain })) : null));
}

/** What costs most: a list in which one loss can be chosen; the skylines and the table then show where it came from. */
export function lossList(losses, plannedS, chosen, choose) {
  if (losses.length === 0)
    return el("p.muted", t("oee.noLosses"));
  const worst = losses[0].timeS;
  const row = loss => {
    const button = el("button.loss", { type: "button", "aria-pressed": String(loss.key === chosen), on: { click: () => choose(loss.key === chosen ? null : loss.key) } },
      swatch(loss.bucket), el("span.loss-name", { text: lossName(loss) }),
      el("span.loss-class.small.muted", loss.stopClass ? t(`stop.class.${loss.stopClass}`) : ""),
      el("span.loss-share.small.muted", percent(loss.timeS / plannedS)), el("span.loss-hours", t("oee.hours", { hours: hours(loss.timeS) })),
      el("span.loss-bar.bucket", { class: `bucket-${loss.bucket}`, "aria-hidden": "true" }));
    setVar(button.querySelector(".loss-bar"), "--part", String(loss.timeS / worst));
    return el("li", button);
  };
  const most = 10;
  return [el("ol.losses", losses.slice(0, most).map(row)),
    losses.length > most ? el("details", { open: losses.slice(most).some(loss => loss.key === chosen) }, el("summary", t("oee.moreLosses", { count: losses.length - most })), el("ol.losses", { start: most + 1 }, losses.slice(most).map(row))) : null];
}

/**
 * Planned time of one subject, a column a span, all to one scale: from the ground what earned parts, above it what was lost.
 * @param {object} whole The subject over the whole period.
 * @param {object[]} spans Its items, in order.
 * @param {{scaleS: number, mostLabels: number, chosen: string|null, label: (item: object) => string, short: (item: object) => string, address: (item: object) => string}} how
 */
export function skyline(whole, spans, how) {
  const width = 100 / Math.max(spans.length, 1);
  const skip = Math.ceil(spans.length / how.mostLabels);
  const ground = Math.round(Math.max(0.25, ...spans.map(item => item.plannedBusyTimeS / how.scaleS)) * SKY_HEIGHT) + SKY_HEAD;
  const words = svg("g", { "aria-hidden": "true" });
  const columns = spans.map((item, i) => {
    let y = ground;
    const piece = (bucket, seconds, name) => {
      const height = seconds / how.scaleS * SKY_HEIGHT;
      y -= height;
      return height < 0.05 ? null : svg(name, { x: `${(i * width + width * 0.1).toFixed(3)}%`, y: y.toFixed(2), width: `${(width * 0.8).toFixed(3)}%`, height: height.toFixed(2), fill: svgFill(bucket) });
    };
    const bars = ORDER.map(bucket => {
      const chosenS = how.chosen !== null && bucketOfLoss(how.chosen) === bucket ? lostTo(item, how.chosen) : 0;
      return [piece(bucket, chosenS, "rect.edge.is-chosen"), piece(bucket, (item.bucketsS[bucket] ?? 0) - chosenS, "rect.edge")];
    });
    // The words stand beside the links, not in them: a link is named by all that it stands for.
    const middle = `${((i + 0.5) * width).toFixed(3)}%`;
    if (i % skip === 0)
      words.append(svg("text.sky-figure", { x: middle, y: Math.max(14, y - 5).toFixed(1), text: item.figures.oee === null ? "–" : `${Math.round(item.figures.oee * 100)}` }), svg("text.sky-name", { x: middle, y: ground + 16, text: how.short(item) }));
    return svg("a.sky-column", { href: how.address(item), "aria-label": how.label(item) },
      svg("rect.sky-hit", { x: `${(i * width).toFixed(3)}%`, y: 0, width: `${width.toFixed(3)}%`, height: ground + 20 }), bars, svg("title", { text: how.label(item) }));
  });

  const sky = svg(how.chosen ? "svg.sky.has-choice" : "svg.sky", { width: "100%", height: ground + 22, role: "group", "aria-label": t("oee.skyOf", { subject: whole.subject, count: spans.length }) },
    svg("line.sky-ground", { x1: 0, x2: "100%", y1: ground + 0.5, y2: ground + 0.5 }), columns, words);
  if (columns.length > 0)
    walkable(sky, columns, -1);
  return el("section.sky-subject", { "aria-label": whole.subject }, el("header",
    el("h3", { text: whole.subject }), el("p", el("strong", percent(whole.figures.oee)), el("span.muted.small", t("oee.product", factors(whole))),
      whole.figures.unknownShare > 0 ? el("span.small.is-unknown", t("shift.unknownShare", { share: percent(whole.figures.unknownShare) })) : null,
      whole.figures.effectiveness > 1 ? el("span.tag.medium", t("oee.loose")) : null,
      how.chosen ? el("span.small", t("oee.lostHere", { hours: hours(lostTo(whole, how.chosen)) })) : null)), sky);
}

const factors = item => ({ availability: percent(item.figures.availability), effectiveness: percent(item.figures.effectiveness), quality: percent(item.figures.qualityRatio) });

/** A span in words, for those who hear it. */
export const spokenSpan = (item, name) => t("oee.spoken", { name, oee: percent(item.figures.oee), planned: hours(item.plannedBusyTimeS), lost: hours(lostOf(item)), unknown: percent(item.figures.unknownShare) });

/** The columns of the table: what each is called, what it sorts by, what stands in it. */
const COLUMNS = [
  ["subject", item => item.subject, null],
  ["span", item => Date.parse(item.from), null],
  ["oee", item => item.figures.oee, item => el("strong", percent(item.figures.oee))],
  ["availability", item => item.figures.availability, item => [percent(item.figures.availability), item.figures.unknownShare > 0 ? el("span.small.muted", ` ${t("oee.lowHigh", { low: percent(item.figures.availabilityLow), high: percent(item.figures.availabilityHigh) })}`) : null]],
  ["effectiveness", item => item.figures.effectiveness, item => [percent(item.figures.effectiveness), item.figures.effectiveness > 1 ? [" ", el("span.tag.medium", t("oee.loose"))] : null]],
  ["quality", item => item.figures.qualityRatio, item => percent(item.figures.qualityRatio)],
  ["planned", item => item.plannedBusyTimeS, item => hours(item.plannedBusyTimeS)],
  ["lost", lostOf, item => hours(lostOf(item))],
  ["unknown", item => item.figures.unknownShare, item => percent(item.figures.unknownShare)],
  ["parts", item => item.counts.parts, item => item.counts.scrap > 0 ? t("oee.partsScrap", { parts: item.counts.parts, scrap: item.counts.scrap }) : item.counts.parts],
  ["counter", item => item.counter?.difference ?? null, counterWords],
];

function counterWords(item) {
  const counter = item.counter;
  if (!counter || counter.difference === null || counter.difference === undefined)
    return "–";
  const more = [counter.resets > 0 ? t("oee.resets", { count: counter.resets }) : null, counter.rollovers > 0 ? t("oee.rollovers", { count: counter.rollovers }) : null].filter(Boolean);
  return [counter.difference === 0 ? t("oee.counterSame") : el("strong", `${counter.difference > 0 ? "+" : ""}${counter.difference}`), more.length > 0 ? el("span.small.muted", ` ${more.join(", ")}`) : null];
}

/** Items in the order of a column; what is not known comes last whichever way. */
export function sorted(items, { by, isDown }, chosen) {
  const value = by === "chosen" ? item => lostTo(item, chosen) : (COLUMNS.find(([name]) => name === by) ?? COLUMNS[0])[1];
  const order = (a, b) => typeof a === "string" ? a.localeCompare(b) : a - b;
  return items.toSorted((a, b) => {
    const [x, y] = [value(a), value(b)];
    if (x === null || y === null || x === undefined || y === undefined)
      return (x ?? null) === null ? ((y ?? null) === null ? 0 : 1) : -1;
    return isDown ? order(y, x) : order(x, y);
  });
}

/**
 * The figures as a table that sorts by each of its columns.
 * @param {object[]} items The rows, unsorted.
 * @param {{sort: {by: string, isDown: boolean}, chosen: string|null, chosenName: string, onSort: (by: string) => void, name: (item: object) => string, address: (item: object) => string, caption: string}} how
 */
export function figureTable(items, how) {
  const columns = how.chosen ? [...COLUMNS.slice(0, 8), ["chosen", item => lostTo(item, how.chosen), item => hours(lostTo(item, how.chosen))], ...COLUMNS.slice(8)] : COLUMNS;
  const head = columns.map(([name]) => el(name === "subject" || name === "span" ? "th" : "th.number", { scope: "col", "aria-sort": how.sort.by === name ? (how.sort.isDown ? "descending" : "ascending") : null },
    el("button", { type: "button", title: t("oee.sortBy"), on: { click: () => how.onSort(name) } }, name === "chosen" ? el("span", { text: t("oee.col.chosen", { loss: how.chosenName }) }) : t(`oee.col.${name}`),
      how.sort.by === name ? el("span", { "aria-hidden": "true", text: how.sort.isDown ? " ▼" : " ▲" }) : null)));
  const rows = sorted(items, how.sort, how.chosen).map(item => el("tr",
    el("th", { scope: "row" }, el("a", { href: how.address(item), "aria-label": `${item.subject}, ${how.name(item)}`, text: item.subject })), el("td", { text: how.name(item) }),
    columns.slice(2).map(([name, , cell]) => el("td.number", { class: name === how.sort.by ? "is-sorted" : "" }, cell(item)))));
  return el("div.table-wrap", { tabindex: "0", role: "region", "aria-label": how.caption }, el("table.table", el("caption.unseen", { text: how.caption }), el("thead", el("tr", head)), el("tbody", rows)));
}

/** Seconds of planned time of all. */
export const plannedOf = items => total(addBuckets(items));
