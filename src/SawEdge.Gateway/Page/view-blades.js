// The blades: on each saw what its blade has cut, what is left of it, how it wore, and which were on before.

import { get } from "./api.js";
import { el, put } from "./dom.js";
import { allSaws } from "./live.js";
import { may } from "./site.js";
import { t, word } from "./text.js";
import { day, dayClock, number, percent, quantity, UNKNOWN } from "./units.js";
import { askChange } from "./blades-change.js";
import { bladeStrip, wearChart, wearKey, wearTable } from "./blades-wear.js";

// Older proposals that nobody answered are past caring for.
const MOST_PROPOSED = 2;

const TAKEN_OVER_MS = 6000;

let view = null;

export const title = () => t("blades.title");

/** Draws the saws' blades; the one that the address names, or the most urgent one, with its life. */
export async function mount(root, params) {
  const mine = view = { root, abort: new AbortController(), charts: [], chosen: params.path[0] ?? null, isAsked: params.path.length > 0 };
  put(root, el("p.loading", null, t("blades.loading")));
  await load(mine);
}

/** Ends what the view holds. */
export function unmount() {
  view?.abort.abort();
  clearTimeout(view?.later);
  view?.charts.forEach(chart => chart.dispose());
  view = null;
}

async function load(mine) {
  let blades, life = null, trouble = null;
  try {
    blades = await get("/blades", null, mine.abort.signal);
  } catch (error) {
    if (view === mine)
      put(mine.root, head(), el("div.note.bad", { role: "alert" }, el("strong", null, t("blades.failed")), " ", error.message));
    return;
  }
  const items = [...blades.items].sort((a, b) => urgency(a) - urgency(b) || a.saw.localeCompare(b.saw));
  const chosen = items.find(item => item.saw === mine.chosen) ?? items[0];
  try {
    life = chosen ? await get(`/blades/${encodeURIComponent(chosen.saw)}`, null, mine.abort.signal) : null;
  } catch (error) {
    trouble = error;
  }
  if (view !== mine)
    return;
  mine.charts.forEach(chart => chart.dispose());
  mine.charts = [];
  const mayOperate = may("operate");
  const change = (saw, at, blade) => askChange({
    saws: items.map(item => item.saw), saw, at, blade,
    done() {
      load(mine);
      // The gateway takes an entry over within seconds, and computes records and wear anew.
      mine.later = setTimeout(() => view === mine && load(mine), TAKEN_OVER_MS);
    },
  });
  const key = mine.root.contains(document.activeElement) ? document.activeElement.dataset.key : undefined;
  put(mine.root, head(mayOperate && items.length > 0 && (() => change(chosen?.saw))),
    !mayOperate && el("p.small.muted", null, t("blades.role")),
    items.every(isUnseen) ? empty() : el("div.stack", null, items.map((item, place) => lane(mine, item, place, item === chosen, life, trouble, mayOperate ? change : null))),
    el("p.note.caution.blades-caution", null, t("blades.caution")));
  // What was pressed has been drawn anew: the keyboard goes on from it.
  if (key)
    (mine.root.querySelector(`[data-key="${CSS.escape(key)}"]`) ?? mine.root.querySelector("[data-key]"))?.focus({ preventScroll: true });
  if (mine.isAsked)
    setTimeout(() => view === mine && document.getElementById("blade-chosen")?.scrollIntoView({ block: "start" }));
}

// Nothing is known of a blade before the first cut, unless somebody names it.
const isUnseen = ({ blade, since, cuts }) => !blade && !since && !(cuts > 0);

// Due first, then by the cuts that are left; those of which nothing is known come last.
const urgency = ({ wear }) => !wear ? Infinity : wear.isDue ? -1 : wear.cutsLeft ?? (Number.isFinite(wear.areaLeftM2) ? 1e6 + wear.areaLeftM2 : 1e9);

const head = onChange => el("header.view-head", null,
  el("div", null, el("h1", null, t("blades.title")), el("p", null, t("blades.lead"))),
  onChange && el("button.button.main", { type: "button", data: { key: "change" }, on: { click: onChange } }, t("blades.enter")));

const empty = () => el("div.empty", null, el("h2", null, t("blades.empty")), el("p", null, t("blades.empty.words")), el("a.button", { href: "#/bay" }, t("blades.empty.bay")));

function lane(mine, item, place, isChosen, life, trouble, change) {
  const { wear } = item;
  // What is left is counted in cuts like the last one; that is the present job unless another has been set since.
  const now = allSaws().find(saw => saw.name === item.saw);
  const job = now?.job && now.lastCycle?.job === now.job ? now.job : null;
  return el("article.sheet.blade", { id: isChosen ? "blade-chosen" : null, "aria-labelledby": `blade-${place}` },
    el("div.blade-head", null,
      el("div", null,
        el("h2", { id: `blade-${place}` }, item.saw),
        el("p.muted", null, item.blade || t("blades.noName"), item.origin && ` · ${word("bladeOrigin", item.origin)}`)),
      wear?.isDue && el("p.tag.medium", null, el("span", { "aria-hidden": "true" }, "◆"), t("blades.due")),
      el("p.blade-left", null, ...left(item, job))),
    bladeStrip(item, place),
    el("dl.facts", null,
      fact(item.seenNew === false ? "blades.seenSince" : "blades.since", item.since ? day(item.since) : UNKNOWN),
      fact("blades.area", quantity(item.areaM2, "m2")),
      fact("blades.cuts", number(item.cuts)),
      fact("blades.rise", wear ? t("blades.riseOf", { rise: signed(wear.rise), dull: percent(wear.dullRise) }) : UNKNOWN)),
    wear?.isDue && wear.caution && el("p.note.caution", null, el("strong", null, el("span", { "aria-hidden": "true" }, "⚠ "), t("cut.cause.caution")), " ", wear.caution),
    (item.proposed ?? []).slice(-MOST_PROPOSED).map(proposal => proposed(item, proposal, change)),
    isChosen ? chosenPart(mine, item, life, trouble, change)
      : el("a.button", { href: `#/blades/${encodeURIComponent(item.saw)}` }, t("blades.open", { saw: item.saw })));
}

const fact = (key, text) => el("div", null, el("dt", null, t(key)), el("dd", null, text));

const signed = share => `${share < 0 ? "−" : "+"}${percent(Math.abs(share))}`;

// What a person wants to know first, in cuts; the interval is that of the area, in the same cuts.
function left({ wear }, job) {
  if (!wear)
    return [el("strong", null, t("blades.left.unknown")), el("span.muted", null, t("blades.left.unknownWhy"))];
  if (wear.areaLeftM2 === 0)
    return [el("strong", null, t("blades.left.past")), el("span.muted", null, t("blades.left.pastWhy", { rise: signed(wear.rise), dull: percent(wear.dullRise) }))];
  if (!Number.isFinite(wear.areaLeftM2))
    return [el("strong", null, t("blades.left.none")), el("span.muted", null, [t("blades.left.noneWhy"), Number.isFinite(wear.lowM2) && t("blades.left.least", { low: quantity(wear.lowM2, "m2") })].filter(Boolean).join(" · "))];
  const perM2 = Number.isFinite(wear.cutsLeft) && wear.areaLeftM2 > 0 ? wear.cutsLeft / wear.areaLeftM2 : NaN;
  const counted = Number.isFinite(wear.cutsLeft);
  const amount = value => Number.isFinite(perM2) ? t("blades.left.cuts", { count: Math.round(value * perM2) }) : quantity(value, "m2");
  if (!Number.isFinite(wear.highM2) && Number.isFinite(wear.lowM2))
    return [el("strong", null, t("blades.left.atLeast", { cuts: amount(wear.lowM2) })), el("span.muted", null, [counted && (job ? t("blades.left.job", { job }) : t("blades.left.like")), t("blades.left.open"), counted && quantity(wear.lowM2, "m2")].filter(Boolean).join(" · "))];
  const between = Number.isFinite(wear.lowM2)
    ? Number.isFinite(wear.highM2) ? t("blades.left.between", { low: amount(wear.lowM2), high: amount(wear.highM2) }) : t("blades.left.least", { low: amount(wear.lowM2) })
    : "";
  return [
    el("strong", null, counted ? t("blades.left.about", { cuts: t("blades.left.cuts", { count: Math.round(wear.cutsLeft) }) }) : t("blades.left.about", { cuts: quantity(wear.areaLeftM2, "m2") })),
    el("span.muted", null, [counted && (job ? t("blades.left.job", { job }) : t("blades.left.like")), between, counted && quantity(wear.areaLeftM2, "m2")].filter(Boolean).join(" · ")),
  ];
}

function proposed(item, proposal, change) {
  return el("div.note", null,
    el("p", null, el("strong", null, t("blades.proposed")), " ", t("blades.proposed.words", { saw: item.saw, at: dayClock(proposal.at) })),
    el("div.row", null,
      change && el("button.button", { type: "button", data: { key: "proposed" }, on: { click: () => change(item.saw, proposal.at, proposal.blade) } }, t("blades.proposed.yes")),
      el("p.small.muted", null, t("blades.proposed.no"), " ", el("code", null, `sawedge blade correct ${item.saw.includes(" ") ? `"${item.saw}"` : item.saw} --at ${proposal.at} --none`))));
}

function chosenPart(mine, item, life, trouble, change) {
  if (trouble)
    return el("div.note.bad", { role: "alert" }, trouble.message);
  const points = life.points ?? [];
  const host = el("div.chart");
  if (points.length > 1 || life.wear)
    wearChart(host, life).then(chart => view === mine ? mine.charts.push(chart) : chart.dispose())
      .catch(error => put(host, el("p.problem", { role: "alert" }, error.message)));
  return el("div.blade-life", null,
    el("section", null,
      el("h3", null, t("blades.wear", { blade: life.blade || t("blades.noName") })),
      points.length > 1 || life.wear
        ? [el("p.small.muted", null, t("blades.wear.words")), wearKey(life), host, wearTable(life)]
        : el("div.empty", null, el("p", null, t("blades.wear.none")))),
    el("section", null,
      el("h3", null, t("blades.changes")),
      changes(life),
      change && el("button.button", { type: "button", data: { key: "change-chosen" }, on: { click: () => change(item.saw) } }, t("blades.enterOn", { saw: item.saw }))));
}

// The latest first, as a person asks: what is on it now, what was before, and what people wrote about it.
function changes({ changes: list = [], entries = [] }) {
  if (list.length + entries.length === 0)
    return el("p.muted", null, t("blades.changes.none"));
  return [
    el("ol.blade-changes", null, list.map((blade, i) => el("li", null,
      el("strong", null, blade.blade || t("blades.noName")), " ", i === 0 && el("span.muted", null, t("blades.changes.now")),
      el("div.small", null, i === 0 ? t("blades.changes.from", { from: dayClock(blade.firstCutAt) }) : t("blades.changes.span", { from: dayClock(blade.firstCutAt), to: dayClock(blade.lastCutAt) })),
      el("div.small.muted", null, [word("bladeOrigin", blade.origin), t("blades.left.cuts", { count: blade.cuts }), Number.isFinite(blade.areaM2) && quantity(blade.areaM2, "m2")].filter(Boolean).join(" · "))))),
    entries.length > 0 && [el("h3", null, t("blades.entries")), el("ul.blade-entries", null, entries.map(entry => el("li", null,
      el("div.small", null, el("strong", null, dayClock(entry.at)), ` ${[word("bladeEntry", entry.kind), entry.blade].filter(Boolean).join(": ")}`),
      entry.note && el("div.small.muted", null, entry.note))))],
  ];
}
