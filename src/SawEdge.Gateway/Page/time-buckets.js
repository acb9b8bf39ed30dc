// Where planned time went, in seconds by bucket: sums that add up, and the bar that shows them.

import { svg } from "./dom.js";
import { svgFill } from "./buckets.js";
import { t } from "./text.js";

/**
 * The buckets from time that earned something to time that nobody saw: the first two together, over the time that was seen, are the
 * OEE unless a standard is beaten.
 */
export const ORDER = ["cuttingAtStandard", "handling", "scrapTime", "slowCutting", "slowHandling", "setup", "shortStops", "stopsByReason", "unknown"];

/** Those of them that cost something. */
export const LOSSES = ORDER.slice(2);

/** The name of a bucket in words. */
export const nameOf = bucket => t(`bucket.${bucket}`);

/** Adds up the buckets of some items of the OEE answer: sums of the parts and never averages of ratios. */
export function addBuckets(items) {
  const sum = Object.fromEntries(ORDER.map(bucket => [bucket, 0]));
  for (const item of items) {
    for (const bucket of ORDER)
      sum[bucket] += item.bucketsS[bucket] ?? 0;
  }
  return sum;
}

/** The total of some seconds by name. */
export const total = seconds => Object.values(seconds).reduce((sum, part) => sum + part, 0);

/** Whole seconds that sum to the whole second of the total: what rounding would lose goes to those that lost most. */
export function wholeSeconds(parts) {
  const names = Object.keys(parts);
  const rounded = Object.fromEntries(names.map(name => [name, Math.floor(parts[name] + 1e-6)]));
  let left = Math.round(total(parts)) - total(rounded);
  for (const name of names.toSorted((a, b) => (parts[b] - rounded[b]) - (parts[a] - rounded[a]))) {
    if (left-- <= 0)
      break;
    rounded[name]++;
  }
  return rounded;
}

/**
 * One bar of planned time, laid out by where it went.
 * @param {object} seconds Seconds by bucket.
 * @param {number} scaleS Seconds that the whole width stands for.
 * @param {{height?: number, label?: string, chosen?: string|null}} [how] A chosen bucket stands out.
 */
export function timeBar(seconds, scaleS, { height = 22, label = "", chosen = null } = {}) {
  // In per cent, so that a pattern keeps its size whatever the width.
  const bar = svg(chosen ? "svg.time-bar.has-choice" : "svg.time-bar", { width: "100%", height, role: "img", "aria-label": label });
  let at = 0;
  for (const bucket of ORDER) {
    const width = (seconds[bucket] ?? 0) / Math.max(scaleS, 1e-9) * 100;
    if (width > 0) {
      bar.append(svg(chosen === bucket ? "rect.edge.is-chosen" : "rect.edge",
        { x: `${at.toFixed(3)}%`, y: 0.5, width: `${width.toFixed(3)}%`, height: height - 1, fill: svgFill(bucket) }, svg("title", { text: nameOf(bucket) })));
    }
    at += width;
  }
  return bar;
}
