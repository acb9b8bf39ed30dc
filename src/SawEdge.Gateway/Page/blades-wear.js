// How a blade wears: as a strip of teeth that get blunt, as a chart of specific energy against area, and as a table.

import { chart, colour, common } from "./charts.js";
import { el, svg } from "./dom.js";
import { t } from "./text.js";
import { number, percent, quantity, scale } from "./units.js";

// How far a drawing reaches, m2. A forecast without an upper end may lie far beyond what the blade has shown: then its lower end counts.
function reach(wear) {
  const { areaM2: has, areaLeftM2: left, lowM2: low, highM2: high } = wear;
  if (!Number.isFinite(left))
    return Math.max(has * 1.5, Number.isFinite(low) ? (has + low) * 1.1 : 0);
  if (Number.isFinite(high))
    return (has + Math.max(left, high)) * 1.03;
  const far = (has + Math.max(Number.isFinite(low) ? low * 1.3 : 0, has)) * 1.1;
  return Math.min(far, (has + left * 1.6) * 1.03);
}

/** The blade as a strip: what it has cut with blunt teeth, what is left with sharp ones, and how sure that is; `place` is its number on the page. */
export function bladeStrip({ areaM2, wear }, place) {
  const has = wear?.areaM2 ?? areaM2;
  const left = wear?.areaLeftM2;
  if (!Number.isFinite(has) || !wear)
    return el("div.blade-strip.is-unknown", { role: "img", "aria-label": t("blades.strip.unknown") });
  const isOpen = !Number.isFinite(left);
  const high = Number.isFinite(wear.highM2) ? wear.highM2 : null;
  const end = reach({ ...wear, areaM2: has });
  const at = area => `${(100 * Math.max(0, Math.min(end, area)) / end).toFixed(2)}%`;
  const [worn, sharp] = [`teeth-worn-${place}`, `teeth-sharp-${place}`];
  const label = left === 0 ? t("blades.strip.past", { area: quantity(has, "m2") }) : isOpen ? t("blades.strip.open", { area: quantity(has, "m2") }) : t("blades.strip.label", { area: quantity(has, "m2"), left: quantity(left, "m2") });
  return svg("svg.blade-strip", { role: "img", "aria-label": label, width: "100%", height: 44 },
    svg("defs", null, tile(worn, "M0 12H16V18L13 22H6L0 18Z", "blade-worn"), tile(sharp, "M0 12H16V16L3 27L0 16Z", "blade-sharp")),
    svg("rect", { x: 0, y: 0, width: at(has), height: 30, fill: `url(#${worn})` }),
    svg("rect", { x: at(has), y: 0, width: at(isOpen ? end - has : Math.min(left, end - has)), height: 30, fill: `url(#${sharp})`, class: isOpen ? "is-faint" : "" }),
    svg("line.blade-now", { x1: at(has), x2: at(has), y1: 0, y2: 34 }),
    hasInterval(wear) && svg("g", null,
      svg("line.blade-interval", { x1: at(has + wear.lowM2), x2: high === null ? "100%" : at(has + high), y1: 38, y2: 38 }),
      svg("line.blade-interval", { x1: at(has + wear.lowM2), x2: at(has + wear.lowM2), y1: 33, y2: 43 }),
      high !== null && svg("line.blade-interval", { x1: at(has + high), x2: at(has + high), y1: 33, y2: 43 }),
      has + left <= end && svg("circle.blade-expected", { cx: at(has + left), cy: 38, r: 5 })));
}

const tile = (id, path, name) => svg("pattern", { id, width: 16, height: 30, patternUnits: "userSpaceOnUse" },
  svg(`rect.${name}-body`, { y: 4, width: 16, height: 8.5 }), svg(`path.${name}`, { d: path }));

/**
 * How it goes on, as points of a line: from where the blade is to where it meets the limit, and no further; or, where that is far off,
 * to the edge of what is drawn.
 */
export function forecastLine({ wear, line }) {
  if (!wear || wear.areaLeftM2 === 0)
    return [];
  const way = line?.length ? line.map(pair) : Number.isFinite(wear.areaLeftM2) ? [[wear.areaM2, wear.rise], [wear.areaM2 + wear.areaLeftM2, wear.dullRise]] : [];
  const found = way.slice(0, 1);
  for (let i = 1; i < way.length; i++) {
    const [from, to] = [way[i - 1], way[i]];
    const share = Math.min(shareUpTo(reach(wear), from[0], to[0]), shareUpTo(wear.dullRise, from[1], to[1]));
    found.push([from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])]);
    if (share < 1)
      break;
  }
  return found;
}

const shareUpTo = (limit, from, to) => to > limit && to > from ? Math.max(0, (limit - from) / (to - from)) : 1;

// Whether the limit is met within what is drawn.
const meetsLimit = wear => wear?.areaLeftM2 > 0 && wear.areaM2 + wear.areaLeftM2 <= reach(wear);

const hasInterval = wear => wear?.areaLeftM2 > 0 && Number.isFinite(wear.lowM2);

const pair = point => Array.isArray(point) ? point : [point.areaM2, point.rise];

// What is left, in cuts like those that are made now; in area where no cut tells. Without an upper end only the least is told, as beside
// the blade's name.
function endWords(wear) {
  const perM2 = Number.isFinite(wear.cutsLeft) && wear.areaLeftM2 > 0 ? wear.cutsLeft / wear.areaLeftM2 : NaN;
  const amount = areaM2 => Number.isFinite(perM2) ? t("blades.left.cuts", { count: Math.round(areaM2 * perM2) }) : quantity(areaM2, "m2");
  return isLeastOnly(wear) ? t("blades.left.atLeast", { cuts: amount(wear.lowM2) }) : t("blades.left.about", { cuts: amount(wear.areaLeftM2) });
}

const isLeastOnly = wear => Number.isFinite(wear.lowM2) && !Number.isFinite(wear.highM2);

/** Draws rise of specific energy against the area cut, with the dull limit and the forecast. */
export function wearChart(host, life) {
  const { wear } = life;
  const label = wear && Number.isFinite(wear.areaLeftM2)
    ? t("blades.chart.label", { blade: life.blade ?? "", area: quantity(wear.areaM2, "m2"), rise: percent(wear.rise), dull: percent(wear.dullRise), left: quantity(wear.areaLeftM2, "m2"), words: endWords(wear) })
    : t("blades.chart.labelOpen", { blade: life.blade ?? "" });
  return chart(host, () => option(life), { label });
}

function option(life) {
  const { wear } = life;
  const area = scale("m2");
  const shown = ([x, y]) => [x * area.factor, y * 100];
  const points = (life.points ?? []).map(pair).map(shown);
  const ahead = forecastLine(life).map(shown);
  const base = common();
  const isOpen = !Number.isFinite(wear?.highM2) || wear.areaM2 + wear.highM2 > reach(wear);
  const interval = hasInterval(wear)
    ? [[wear.areaM2 + wear.lowM2, wear.dullRise], [isOpen ? reach(wear) : wear.areaM2 + wear.highM2, wear.dullRise]].map(shown)
    : [];
  const words = area => ({ show: true, position: "bottom", distance: 14, align: area > reach(wear) * 0.6 ? "right" : "left", color: colour("--ink"), backgroundColor: colour("--sheet"), padding: 2, fontWeight: "bold", formatter: endWords(wear) });
  const ending = meetsLimit(wear) && { value: ahead.at(-1), symbol: "diamond", symbolSize: 13, label: isLeastOnly(wear) ? { show: false } : words(wear.areaM2 + wear.areaLeftM2) };
  const ends = interval.map((value, i) => i === 1 && isOpen ? { value, symbol: "triangle", symbolSize: [18, 12], symbolRotate: -90 } : i === 0 && isLeastOnly(wear) ? { value, label: words(wear.areaM2 + wear.lowM2) } : value);
  const [ink, copper, accent, soft] = ["--ink", "--copper", "--accent", "--ink-soft"].map(colour);
  return {
    ...base,
    grid: { left: 8, right: 24, top: 40, bottom: 28, containLabel: true },
    legend: { show: false },
    tooltip: { ...base.tooltip, trigger: "item", formatter: ({ value, seriesName }) => `${seriesName}\n${number(value[0])} ${area.unit}: ${number(Math.round(value[1] * 10) / 10)} %` },
    xAxis: { ...base.axis, type: "value", name: t("blades.axis.area", { unit: area.unit }), nameLocation: "middle", nameGap: 28, min: 0, max: wear ? ({ max }) => Math.max(max > reach(wear) * area.factor ? 0 : max, reach(wear) * area.factor) : null, axisLabel: { ...base.axis.axisLabel, showMaxLabel: false } },
    yAxis: { ...base.axis, type: "value", name: t("blades.axis.rise"), nameLocation: "end", nameTextStyle: { ...base.axis.nameTextStyle, align: "left" }, max: wear ? ({ max }) => Math.ceil(Math.max(max, wear.dullRise * 100) * 1.15 / 5) * 5 : null, axisLabel: { ...base.axis.axisLabel, showMaxLabel: false } },
    series: [
      {
        name: t("blades.series.points"), type: "scatter", data: points, symbolSize: 8, itemStyle: { color: "transparent", borderColor: ink, borderWidth: 1.5 },
        markLine: wear && {
          symbol: "none", silent: true, animation: false, label: { color: colour("--ink"), position: "insideStartTop" },
          data: [{ yAxis: wear.dullRise * 100, name: "dull", lineStyle: { color: copper, type: "solid", width: 2 }, label: { formatter: t("blades.dullAt", { dull: percent(wear.dullRise) }), color: copper } },
            { xAxis: wear.areaM2 * area.factor, lineStyle: { color: soft, type: "dotted" }, label: { formatter: t("blades.now"), position: "end", color: soft } }],
        },
      },
      { name: t("blades.series.forecast"), type: "line", data: ending ? [...ahead.slice(0, -1), ending] : ahead, symbol: "none", showAllSymbol: true, z: 4, itemStyle: { color: accent }, lineStyle: { color: accent, width: 2.5, type: "dashed" } },
      { name: t("blades.series.interval"), type: "line", data: ends, showAllSymbol: true, z: 5, symbol: "rect", symbolSize: [3, 18], itemStyle: { color: copper }, lineStyle: { color: copper, width: 5, opacity: 0.75 } },
    ],
  };
}

/** What the lines and signs of the chart are. */
export function wearKey(life) {
  const entry = (sign, key) => el("li", null, el(`span.blade-key.${sign}`, { "aria-hidden": "true" }), t(key));
  return el("ul.blade-legend.small", null, entry("is-point", "blades.series.points"),
    forecastLine(life).length > 0 && entry("is-forecast", "blades.series.forecast"),
    hasInterval(life.wear) && entry("is-interval", "blades.series.interval"));
}

/** The same numbers as a table. */
export function wearTable(life) {
  const rows = (life.points ?? []).map(pair);
  if (rows.length === 0)
    return null;
  const unit = scale("m2").unit;
  const { wear } = life;
  const line = (kind, area, rise) => el("tr", null, el("th", { scope: "row" }, kind), el("td.number", null, quantity(area, "m2")), el("td.number", null, percent(rise)));
  return el("details.blade-table", null, el("summary", null, t("blades.table.show")),
    el("div.table-wrap", { tabindex: "0", role: "region", "aria-label": t("blades.table.label") },
      el("table.table.small", null,
        el("caption.unseen", null, t("blades.table.label")),
        el("thead", null, el("tr", null, el("th", { scope: "col" }, t("blades.table.kind")), el("th.number", { scope: "col" }, t("blades.axis.area", { unit })), el("th.number", { scope: "col" }, t("blades.axis.rise")))),
        el("tbody", null,
          rows.map(([area, rise]) => line(t("blades.series.points"), area, rise)),
          wear && Number.isFinite(wear.areaLeftM2) && [
            Number.isFinite(wear.lowM2) && line(t("blades.table.low"), wear.areaM2 + wear.lowM2, wear.dullRise),
            line(t("blades.series.forecast"), wear.areaM2 + wear.areaLeftM2, wear.dullRise),
            Number.isFinite(wear.highM2) && line(t("blades.table.high"), wear.areaM2 + wear.highM2, wear.dullRise)]))));
}
