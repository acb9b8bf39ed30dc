// Whether the alarms of the last weeks were such that a person could heed them.
import { get } from "./api.js";
import { subjectOf } from "./alarm-card.js";
import { el, put, setVar, svg } from "./dom.js";
import { t, word } from "./text.js";
import { percent } from "./units.js";

const SIGNS = { within: "M4 12l5 6L20 5", outside: "M5 5l14 14M19 5L5 19", unjudged: "M4 12h16" };

/** Draws the health of the alarms of some days into a place. */
export async function drawHealth(place, days, onDays, signal) {
  put(place, el("p.loading", { text: t("shell.loading") }));
  const health = await get("/alarms/health", { days }, signal);
  const restless = [...health.chattering ?? [], ...health.fleeting ?? []];
  const range = el("div.choice", { role: "group", "aria-label": t("health.days") }, [7, 30, 90].map(count =>
    el("button", { type: "button", "aria-pressed": String(count === days), text: String(count), on: { click: () => onDays(count) } })));
  put(place,
    el("div.row", {}, el("h2", { text: t("health.title", { days }) }), el("div.row", {}, el("span.muted", { text: t("health.days") }), range)),
    el("ul.sheet.health-figures", {}, health.figures.map(figure)),
    el("div.health-tables", {},
      listOf("health.frequent", health.mostFrequent ?? []),
      listOf("health.restless", restless),
      el("section.sheet", {}, el("h2", { text: t("health.standing") }), (health.standing ?? []).length === 0 ? el("p.muted", { text: t("health.noneOfThese") })
        : el("ul.stack", {}, health.standing.map(alarm => el("li", {}, el("a", { href: `#/alarms/${alarm.number}`, text: `${subjectOf(alarm)}: ${word("rule", alarm.rule)}` })))))));
}

function figure({ isWithin, sentence }) {
  const kind = isWithin === true ? "within" : isWithin === false ? "outside" : "unjudged";
  return el("li.health-figure", { data: { kind } },
    svg("svg.health-sign", { viewBox: "0 0 24 24", role: "img", "aria-label": t(`health.${kind}`) }, svg("path", { d: SIGNS[kind] })), el("span", { text: sentence }));
}

function listOf(key, items) {
  const most = Math.max(1, ...items.map(item => item.count));
  return el("section.sheet", {}, el("h2", { text: t(key) }),
    items.length === 0 ? el("p.muted", { text: t("health.noneOfThese") })
      : el("table.table", {},
        el("thead", {}, el("tr", {}, el("th", { scope: "col", text: t("health.alarm") }), el("th.number", { scope: "col", text: t("health.count") }), el("th.number", { scope: "col", text: t("health.share") }))),
        el("tbody", {}, items.map(item => {
          const bar = el("span.health-bar", { "aria-hidden": "true" });
          setVar(bar, "--share", String(item.count / most));
          return el("tr", {}, el("td", {}, `${subjectOf(item)}: ${word("rule", item.rule)}`, bar), el("td.number", { text: String(item.count) }), el("td.number", { text: percent(item.share) }));
        }))));
}
