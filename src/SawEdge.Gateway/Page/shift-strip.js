// One saw's time as a strip. Work stands on the ground line: a bar a cut, as high as it took against its standard, with a line where
// both are equal. What stopped the saw hangs below it. Time that nobody saw is hatched from top to bottom; outside planned time there
// is no ground.

import { svg } from "./dom.js";
import { bucketOf, svgFill } from "./buckets.js";
import { nameOf } from "./time-buckets.js";
import { ticks } from "./plant-time.js";
import { t, word } from "./text.js";
import { clock, day, duration, number } from "./units.js";
import { walkable } from "./walk.js";

/** The ratio at the top of a strip; what is higher is cut off there, with a notch that says so. */
const TOP_RATIO = 1.8;

/** Bars narrower than this are drawn together, px. */
const NARROWEST = 2.2;
const GROUP_WIDTH = 4;
const round = x => Math.round(x * 10) / 10;
const ms = moment => Date.parse(moment);

/**
 * What a strip shows, in order of time: stretches without execution, and cuts, together where they would be too narrow.
 * @param {object} timeline The answer of the timeline.
 * @param {{from: number, to: number, width: number}} view Moments in ms, width in px.
 */
export function itemsOf(timeline, view) {
  const scale = view.width / (view.to - view.from);
  const items = [];
  const pieces = plannedIn(timeline, view);
  for (const state of timeline.states) {
    // Standing outside planned time is nobody's loss: there the strip stays empty. Without a calendar all time is shown.
    for (const [begin, end] of timeline.shifts.length > 0 ? pieces : [[view.from, view.to]]) {
      const [from, to] = [Math.max(ms(state.from), begin, view.from), Math.min(ms(state.to), end, view.to)];
      if (state.state !== "executing" && to > from)
        items.push({ kind: "stop", key: `s${from}`, from, to, state, bucket: stopBucket(state) });
    }
  }

  const cuts = timeline.cuts.map(cut => ({ kind: "cut", key: cut.cycleId, from: ms(cut.startedAt), to: ms(cut.endedAt), cut }))
    .filter(cut => cut.to > view.from && cut.from < view.to);
  const widths = cuts.map(cut => (cut.to - cut.from) * scale).toSorted((a, b) => a - b);
  items.push(...(widths.length > 0 && widths[widths.length >> 1] < NARROWEST ? together(cuts, view, scale) : cuts));
  return items.toSorted((a, b) => a.from - b.from || a.to - b.to);
}

const plannedIn = (timeline, view) => timeline.shifts.flatMap(shift => shift.working).map(piece => piece.map(ms)).filter(([from, to]) => to > view.from && from < view.to);

const stopBucket = state => state.state === "unknown" ? "unknown" : bucketOf(state.bucket ?? "stopsByReason");

// Of cuts drawn together: their time against the sum of their standards, never the mean of ratios; the highest of them as a mark.
function together(cuts, view, scale) {
  const columns = new Map();
  for (const cut of cuts) {
    const column = Math.floor(((cut.from + cut.to) / 2 - view.from) * scale / GROUP_WIDTH);
    columns.set(column, [...columns.get(column) ?? [], cut]);
  }

  return [...columns.entries()].map(([column, group]) => {
    if (group.length === 1)
      return group[0];
    const rated = group.filter(item => item.cut.standardCutTimeS > 0 && item.cut.cutTimeRatio !== null);
    const sum = name => rated.reduce((total, item) => total + item.cut[name], 0);
    return {
      kind: "group", key: `g${column}`, from: view.from + column * GROUP_WIDTH / scale, to: view.from + (column + 1) * GROUP_WIDTH / scale - 0.8 / scale,
      cuts: group.map(item => item.cut),
      ratio: rated.length > 0 ? sum("cutTimeS") / sum("standardCutTimeS") : null,
      highest: rated.length > 0 ? Math.max(...rated.map(item => item.cut.cutTimeRatio)) : null,
    };
  });
}

/** An item in words: what a screen reader says and what the line above a strip shows. */
export function wordsOf(item) {
  const span = { from: clock(item.from, true), to: clock(item.to, true), length: duration((item.to - item.from) / 1000) };
  if (item.kind === "stop")
    return t(item.bucket === "unknown" ? "shift.words.unknown" : "shift.words.stop", { ...span, bucket: nameOf(item.bucket), reason: item.state.reason || t("shift.noReason") });
  if (item.kind === "group")
    return t("shift.words.group", { ...span, count: item.cuts.length, ratio: number(item.ratio), highest: number(item.highest) });
  const { cut } = item;
  const words = [t(cut.cutTimeRatio === null ? "shift.words.cutUnrated" : "shift.words.cut",
    { ...span, job: cut.job || t("shift.noJob"), took: duration(cut.cutTimeS), standard: duration(cut.standardCutTimeS), ratio: number(cut.cutTimeRatio) })];
  if (cut.outcome !== "completed")
    words.push(word("outcome", cut.outcome));
  if (cut.isUnusual)
    words.push(t("shift.words.unusual", { score: number(cut.loadScore) }));
  if (isScrap(cut))
    words.push(t("shift.words.scrap"));
  return words.join(" · ");
}

/** Whether a part was entered as scrap: the gateway says so by true or by the entry. */
export const isScrap = cut => cut.scrap !== null && cut.scrap !== undefined && cut.scrap !== false;

/**
 * Draws a strip.
 * @param {object} timeline The answer of the timeline.
 * @param {{from: number, to: number, width: number, height: number, now: number, label: string}} view What of it, and how large.
 * @param {{show: (item: object|null) => void, open: (item: object) => void, zoom: (from: number, to: number) => void}} on What people do with it.
 */
export function drawStrip(timeline, view, on) {
  const x = moment => round((moment - view.from) / (view.to - view.from) * view.width);
  const gullet = Math.round(view.height * 0.24);
  const ground = view.height - gullet;
  const y = ratio => round(ground - Math.min(ratio, TOP_RATIO) / TOP_RATIO * (ground - 6));
  const strip = svg("svg.strip", { width: view.width, height: view.height, viewBox: `0 0 ${view.width} ${view.height}`, role: "group", "aria-label": view.label });
  const part = (from, to) => [x(Math.max(from, view.from)), x(Math.min(to, view.to))];

  const planned = timeline.shifts.length > 0 ? plannedIn(timeline, view) : [[view.from, view.to]];
  const back = svg("g", { "aria-hidden": "true" });
  for (const [from, to] of planned) {
    const [left, right] = part(from, to);
    const seen = Math.max(left, Math.min(right, x(view.now)));
    back.append(svg("rect.strip-planned", { x: left, y: 0, width: round(seen - left), height: view.height }),
      svg("rect.strip-ahead", { x: seen, y: 0.5, width: round(right - seen), height: view.height - 1 }),
      svg("path.strip-ground", { d: `M${left} ${ground}H${right}` }));
  }

  for (const state of timeline.states) {
    if (state.state !== "executing" || ms(state.to) <= view.from || ms(state.from) >= view.to)
      continue;
    const [left, right] = part(ms(state.from), ms(state.to));
    back.append(svg("rect.strip-handling", { x: left, y: ground - 6, width: Math.max(0.4, right - left), height: 6, fill: svgFill("handling") }));
  }

  const drawn = svg("g");
  const items = itemsOf(timeline, view);
  for (const item of items) {
    const [left, right] = part(item.from, item.to);
    const width = Math.max(item.kind === "stop" ? 1.6 : 0.8, round(right - left - (item.kind === "cut" && right - left > 3 ? 0.8 : 0)));
    const isLink = item.kind === "cut";
    const node = svg(`${isLink ? "a" : "g"}.strip-item.is-${item.kind}`, {
      href: isLink ? `#/cut/${encodeURIComponent(item.cut.cycleId)}` : null,
      role: isLink ? null : item.bucket === "unknown" ? "img" : "button", tabindex: -1, "aria-label": wordsOf(item), data: { key: item.key },
    }, item.kind === "stop" ? stop(item, left, width, ground, view.height) : item.kind === "cut" ? bar(item, left, width, ground, y) : bars(item, left, width, ground, y));
    node.item = item;
    drawn.append(node);
  }

  // The line at 1.0 lies over the bars: what stands out above it is time lost.
  const front = svg("g.strip-front", { "aria-hidden": "true" }, planned.map(([from, to]) => {
    const [left, right] = part(from, to);
    return svg("path.strip-standard", { d: `M${left} ${y(1)}H${right}` });
  }));
  if (view.now > view.from && view.now < view.to)
    front.append(svg("path.strip-now", { d: `M${x(view.now)} 0V${view.height}` }));

  strip.append(back, drawn, front, svg("rect.strip-choice", { y: 0, height: view.height, width: 0, "aria-hidden": "true" }));
  listen(strip, drawn, view, on);
  return strip;
}

const stop = (item, left, width, ground, height) => item.bucket === "unknown"
  ? svg("rect.edge", { x: left, y: 0.5, width, height: height - 1, fill: svgFill("unknown") })
  : svg("rect.edge", { x: left, y: ground + 1, width, height: height - ground - 1, fill: svgFill(item.bucket) });

function bar(item, left, width, ground, y) {
  const { cut } = item;
  const ratio = cut.cutTimeRatio;
  const box = (from, to, name, bucket) => svg(`rect.${name}`, { x: left, y: to, width, height: Math.max(0.5, round(from - to)), fill: bucket ? svgFill(bucket) : null });
  if (cut.outcome === "trim")
    return box(ground, y(Math.min(1, ratio ?? 0.5)), "edge", "setup");
  if (ratio === null || ratio === undefined)
    return [box(ground, y(0.5), cut.outcome === "completed" ? "bar-unrated" : "bar-lost", cut.outcome === "completed" ? null : "slowCutting")];
  const bucket = isScrap(cut) ? "scrapTime" : "cuttingAtStandard";
  return [
    box(ground, y(Math.min(1, ratio)), "bar-standard", bucket),
    ratio > 1 ? box(y(1), y(ratio), "bar-slow", "slowCutting") : null,
    ratio > TOP_RATIO ? notch(left, width) : null,
    cut.isUnusual ? unusual(left + width / 2, ground) : null,
  ];
}

function bars(item, left, width, ground, y) {
  if (item.ratio === null)
    return svg("rect.bar-unrated", { x: left, y: y(0.5), width, height: round(ground - y(0.5)) });
  const middle = round(left + width / 2);
  return [
    svg("rect.bar-standard", { x: left, y: y(Math.min(1, item.ratio)), width, height: round(ground - y(Math.min(1, item.ratio))), fill: svgFill("cuttingAtStandard") }),
    item.ratio > 1 ? svg("rect.bar-slow", { x: left, y: y(item.ratio), width, height: round(y(1) - y(item.ratio)), fill: svgFill("slowCutting") }) : null,
    item.highest > item.ratio ? svg("path.bar-highest", { d: `M${middle} ${y(item.ratio)}V${y(item.highest)}` }) : null,
    item.highest > TOP_RATIO ? notch(left, width) : null,
    item.cuts.some(cut => cut.isUnusual) ? unusual(middle, ground) : null,
  ];
}

// Below the ground line, where a bar's height does not move it.
const unusual = (middle, ground) => svg("path.bar-unusual", { d: `M${round(middle)} ${ground + 2}l4 5l-4 5l-4-5z` });

const notch = (left, width) => svg("path.bar-notch", { d: `M${left} 6l${round(width / 2)}-5l${round(width / 2)} 5z` });

// A drag along a strip chooses a span to look at more closely.
function listen(strip, drawn, view, on) {
  const nodes = [...drawn.children];
  walkable(strip, nodes, -1);
  const itemAt = event => event.target.closest(".strip-item");
  strip.addEventListener("focusin", event => on.show(itemAt(event)?.item ?? null));
  strip.addEventListener("focusout", () => on.show(null));
  strip.addEventListener("keydown", event => {
    const item = itemAt(event)?.item;
    if ((event.key !== "Enter" && event.key !== " ") || !item || item.kind === "cut")
      return;
    event.preventDefault();
    on.open(item);
  });

  const choice = strip.querySelector(".strip-choice");
  const moment = px => view.from + Math.max(0, Math.min(view.width, px)) / view.width * (view.to - view.from);
  let start = null;
  let dragged = false;
  strip.addEventListener("pointerdown", event => { start = event.button === 0 ? event.offsetX : null; dragged = false; });
  strip.addEventListener("pointermove", event => {
    if (start === null) {
      on.show(itemAt(event)?.item ?? null);
      return;
    }
    if (!dragged && Math.abs(event.offsetX - start) < 6)
      return;
    if (!dragged)
      strip.setPointerCapture(event.pointerId);
    dragged = true;
    choice.setAttribute("x", Math.min(start, event.offsetX));
    choice.setAttribute("width", Math.abs(event.offsetX - start));
  });
  strip.addEventListener("pointerup", event => {
    if (start !== null && dragged)
      on.zoom(...[start, event.offsetX].toSorted((a, b) => a - b).map(moment));
    start = null;
    choice.setAttribute("width", 0);
  });
  strip.addEventListener("pointercancel", () => { start = null; dragged = false; choice.setAttribute("width", 0); });
  strip.addEventListener("pointerleave", () => on.show(null));
  strip.addEventListener("dragstart", event => event.preventDefault());
  strip.addEventListener("click", event => {
    const item = itemAt(event)?.item;
    if (dragged)
      event.preventDefault();
    else if (item && item.kind !== "cut")
      on.open(item);
    dragged = false;
  });
}

/** The hours above the strips. */
export function drawAxis(view) {
  const axis = svg("svg.strip-axis", { width: view.width, height: 26, role: "presentation", "aria-hidden": "true" });
  const moments = ticks(view.from, view.to, Math.floor(view.width / 74));
  const isLong = view.to - view.from > 26 * 3_600_000;
  moments.forEach((moment, i) => {
    const x = round((moment - view.from) / (view.to - view.from) * view.width);
    const words = clock(moment);
    axis.append(svg("path", { d: `M${x} 19V26` }), svg("text", {
      x: Math.max(1, Math.min(view.width - 1, x)), y: 14, "text-anchor": x < 20 ? "start" : x > view.width - 20 ? "end" : "middle",
      text: isLong && (i === 0 || words === "00:00") ? day(moment) : words,
    }));
  });
  return axis;
}
