// Where the time went: the order of the buckets, and their patterns as SVG. The same fills for HTML are the classes
// "bucket bucket-NAME" of parts.css, for charts fillOf() of charts.js.
import { svg, el } from "./dom.js";
import { t } from "./text.js";

/** The buckets in the order in which they are drawn: work first, what is not known last. */
export const BUCKETS = ["cuttingAtStandard", "slowCutting", "handling", "slowHandling", "shortStops", "stopsByReason", "setup", "scrapTime", "unknown"];

/** The custom property that holds a bucket's colour. */
export const bucketColour = {
  cuttingAtStandard: "--cutting",
  slowCutting: "--slow",
  handling: "--handling",
  slowHandling: "--slow-handling",
  shortStops: "--short-stops",
  stopsByReason: "--stops",
  setup: "--setup",
  scrapTime: "--scrap",
  unknown: "--unknown",
};

/** The bucket of a word from the API, which may be camelCase, snake_case or unheard of (then unknown). */
export function bucketOf(name) {
  const camel = String(name ?? "").replace(/_(\w)/g, (_, letter) => letter.toUpperCase());
  return BUCKETS.includes(camel) ? camel : "unknown";
}

/** A small sample of a bucket's pattern. */
export const swatch = bucket => el("span.swatch.bucket", { class: `bucket-${bucketOf(bucket)}`, "aria-hidden": "true" });

/** A legend of some buckets; all where none are named. */
export const legend = (buckets = BUCKETS) =>
  el("ul.bucket-legend.row.small", {}, buckets.map(bucket => el("li", {}, swatch(bucket), " ", t(`bucket.${bucketOf(bucket)}`))));

/** The fill of an SVG shape for a bucket; the shell has drawn the patterns into the document. */
export const svgFill = bucket => `url(#fill-${bucketOf(bucket)})`;

/** Draws the patterns into the document, once: they are coloured by classes of parts.css and follow the theme. */
export function definePatterns() {
  if (document.getElementById("bucket-fills"))
    return;
  const ground = size => svg("rect.pattern-ground", { width: size, height: size });
  const lines = (d, extra) => svg("path.pattern-line", { d, ...extra });
  const marks = {
    cuttingAtStandard: [8, []],
    slowCutting: [8, [lines("M-2 2 2-2M0 8 8 0M6 10 10 6")]],
    handling: [6, [lines("M0 3H6")]],
    slowHandling: [6, [svg("circle.pattern-dot", { cx: 3, cy: 3, r: 1.2 })]],
    shortStops: [6, [lines("M3 0V6")]],
    stopsByReason: [8, [lines("M0 0 8 8M8 0 0 8")]],
    setup: [9, [lines("M-2 7 2 11M0 0 9 9M7-2 11 2")]],
    scrapTime: [8, [svg("path.pattern-dot", { d: "M0 0H4V4H0zM4 4H8V8H4z" })]],
    unknown: [10, [lines("M-2 2 2-2M0 10 10 0M8 12 12 8")]],
  };
  const patterns = Object.entries(marks).map(([bucket, [size, drawn]]) =>
    svg("pattern", { id: `fill-${bucket}`, width: size, height: size, patternUnits: "userSpaceOnUse", class: `pattern pattern-${bucket}` }, ground(size), drawn));
  document.body.append(svg("svg.unseen", { id: "bucket-fills", "aria-hidden": "true", width: 0, height: 0 }, svg("defs", {}, patterns)));
}
