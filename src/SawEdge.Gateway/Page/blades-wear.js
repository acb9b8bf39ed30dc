// How a blade wears: as a strip of teeth that get blunt, as a chart of specific energy against area, and as a table.

import { chart, colour, common } from "./charts.js";
import { el, svg } from "./dom.js";
import { t } from "./text.js";
import { number, percent, quantity, scale } from "./units.js";

/** The blade as a strip: what it has cut with blunt teeth, what is left with sharp ones, and how sure that is; `place` is its number on the page. */
export function bladeStrip({ areaM2, wear }, place) {
  const has = wear?.areaM2 ?? areaM2;
  const left = wear?.areaLeftM2;
  if (!Number.isFinite(has) || !wear)
    return el("div.blade-strip.is-unknown", { role: "img", "aria-label": t("blades.strip.unknown") });
  const isOpen = !Number.isFinite(left);
  const high = Number.isFinite(wear.highM2) ? wear.highM2 : null;
  const end = isOpen ? has * 1.5 : (has + Math.max(left, high ?? left * 1.6)) * 1.03;
  const at = area => `${(100 * Math.max(0, area) / end).toFixed(2)}%`;
  const [worn, sharp] = [`teeth-worn-${place}`, `teeth-sharp-${place}`];
  const label = isOpen ? t("blades.strip.open", { area: quantity(has, "m2") }) : t("blades.strip.label", { area: quantity(has, "m2"), left: quantity(left, "m2") });
  return svg("svg.blade-strip", { role: "img", "aria-label": label, width: "100%", height: 44 },
    svg("defs", null, tile(worn, "M0 12H16V18L13 22H6L0 18Z", "blade-worn"), tile(sharp, "M0 12H16V16L3 27L0 16Z", "blade-sharp")),
    svg("rect", { x: 0, y: 0, width: at(has), height: 30, fill: `url(#${worn})` }),
    svg("rect", { x: at(has), y: 0, width: at(isOpen ? end - has : left), height: 30, fill: `url(#${sharp})`, class: isOpen ? "is-faint" : "" }),
    svg("line.blade-now", { x1: at(has), x2: at(has), y1: 0, y2: 34 }),
    !isOpen && Number.isFinite(wear.lowM2) && svg("g", null,
      svg("line.blade-interval", { x1: at(has + wear.lowM2), x2: high === null ? "100%" : at(has + high), y1: 38, y2: 38 }),
      svg("line.blade-interval", { x1: at(has + wear.lowM2), x2: at(has + wear.lowM2), y1: 33, y2: 43 }),
      high !== null && svg("line.blade-interval", { x1: at(has + high), x2: at(has + high), y1: 33, y2: 43 }),
      svg("circle.blade-expected", { cx: at(has + left), cy: 38, r: 5 })));
}

const tile = (id, path, name) => svg("pattern", { id, width: 16, height: 30, patternUnits: "userSpaceOnUse" },
  svg(`rect.${name}-body`, { y: 4, width: 16, height: 8.5 }), svg(`path.${name}`, { d: path }));

// How it goes on, as points of a line: from where the blade is to where it is dull.
function forecastLine({ wear, line }) {
  if (line?.length)
    return line.map(pair);
  return wear && Number.isFinite(wear.areaLeftM2) ? [[wear.areaM2, wear.rise], [wear.areaM2 + wear.areaLeftM2, wear.dullRise]] : [];
}

const pair = point => Array.isArray(point) ? point : [point.areaM2, point.rise];

/** Draws rise of specific energy against the area cut, with the dull limit and the forecast. */
export function wearChart(host, life) {
  const { wear } = life;
  const label = wear && Number.isFinite(wear.areaLeftM2)
    ? t("blades.chart.label", { blade: life.blade ?? "", area: quantity(wear.areaM2, "m2"), rise: percent(wear.rise), dull: percent(wear.dullRise), left: quantity(wear.areaLeftM2, "m2") })
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
  const interval = wear && Number.isFinite(wear.areaLeftM2) && Number.isFinite(wear.lowM2)
    ? [[wear.areaM2 + wear.lowM2, wear.dullRise], [wear.areaM2 + (wear.highM2 ?? wear.areaLeftM2 * 1.6), wear.dullRise]].map(shown)
    : [];
  const [ink, copper, accent, soft] = ["--ink", "--copper", "--accent", "--ink-soft"].map(colour);
  return {
    ...base,
    grid: { left: 8, right: 24, top: 40, bottom: 28, containLabel: true },
    legend: { show: false },
    tooltip: { ...base.tooltip, trigger: "item", formatter: ({ value, seriesName }) => `${seriesName}\n${number(value[0])} ${area.unit}: ${number(Math.round(value[1] * 10) / 10)} %` },
    xAxis: { ...base.axis, type: "value", name: t("blades.axis.area", { unit: area.unit }), nameLocation: "middle", nameGap: 28, min: 0 },
    yAxis: { ...base.axis, type: "value", name: t("blades.axis.rise"), nameLocation: "end", nameTextStyle: { ...base.axis.nameTextStyle, align: "left" } },
    series: [
      {
        name: t("blades.series.points"), type: "scatter", data: points, symbolSize: 8, itemStyle: { color: "transparent", borderColor: ink, borderWidth: 1.5 },
        markLine: wear && {
          symbol: "none", silent: true, animation: false, label: { color: colour("--ink"), position: "insideStartTop" },
          data: [{ yAxis: wear.dullRise * 100, name: "dull", lineStyle: { color: copper, type: "solid", width: 2 }, label: { formatter: t("blades.dullAt", { dull: percent(wear.dullRise) }), color: copper } },
            { xAxis: wear.areaM2 * area.factor, lineStyle: { color: soft, type: "dotted" }, label: { formatter: t("blades.now"), position: "end", color: soft } }],
        },
      },
      { name: t("blades.series.forecast"), type: "line", data: ahead, symbol: (value, { dataIndex }) => dataIndex === ahead.length - 1 && Number.isFinite(wear?.areaLeftM2) ? "diamond" : "none", symbolSize: 12, itemStyle: { color: accent }, lineStyle: { color: accent, width: 2.5, type: "dashed" } },
      { name: t("blades.series.interval"), type: "line", data: interval, symbol: "rect", symbolSize: [3, 18], itemStyle: { color: copper }, lineStyle: { color: copper, width: 5, opacity: 0.75 } },
    ],
  };
}

/** What the lines and signs of the chart are. */
export function wearKey(life) {
  const entry = (sign, key) => el("li", null, el(`span.blade-key.${sign}`, { "aria-hidden": "true" }), t(key));
  return el("ul.blade-legend.small", null, entry("is-point", "blades.series.points"),
    forecastLine(life).length > 0 && entry("is-forecast", "blades.series.forecast"),
    Number.isFinite(life.wear?.areaLeftM2) && Number.isFinite(life.wear.lowM2) && entry("is-interval", "blades.series.interval"));
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
