// The figures of one cut beside its drawing: what it took, how unusual it was and why, and what is behind it.

import { el, setVar } from "./dom.js";
import { t, word, hasText } from "./text.js";
import { asRead, clock, duration, number, percent, quantity, UNKNOWN } from "./units.js";
import { scaleEnd, ticks } from "./cut-geometry.js";

// With fewer accepted cuts what was believed beforehand has the greater say; the same number as in the words of `explain`.
const FEW_CUTS = 100;
const CAP = 12;

/** A sheet with a heading. */
export const sheet = (key, ...children) => el("section.sheet", null, el("h2", null, t(key)), ...children);

/** The times of a cut on one scale: what it took, what the standard gives, what this saw takes usually. */
export function times(cycle) {
  const { cutTimeS: actual, standardCutTimeS: standard, learnedCutTimeS: learned, learnedLowS: low, learnedHighS: high } = cycle;
  const most = Math.max(0, ...[actual, standard, learned, high].filter(Number.isFinite));
  const end = scaleEnd(most * 1.02, 4);
  const bar = (name, from, to) => at(el(`span.cut-time-bar.${name}`), from, to, end);
  const isOut = Number.isFinite(actual) && Number.isFinite(high) && (actual > high || actual < low);
  const rows = [
    row("cut.time.actual", known(actual) ?? t("cut.time.actual.unknown"),
      Number.isFinite(actual) && bar(isOut ? "is-actual.is-out" : "is-actual", 0, actual)),
    row("cut.time.standard", Number.isFinite(standard) ? [duration(standard), Number.isFinite(cycle.cutTimeRatio) && t("cut.time.ratio", { ratio: cycle.cutTimeRatio.toFixed(2) })] : t("cut.time.standard.unknown"),
      Number.isFinite(standard) && bar("is-standard", 0, standard)),
    row("cut.time.learned", Number.isFinite(learned)
      ? [duration(learned), Number.isFinite(low) && Number.isFinite(high) && t("cut.time.interval", { low: duration(low), high: duration(high) })]
      : t("cut.time.learned.unknown"),
    Number.isFinite(low) && Number.isFinite(high) && bar("is-interval", low, high),
    Number.isFinite(learned) && bar("is-learned", learned, learned)),
  ];
  return sheet("cut.times",
    isOut && el("p.cut-verdict", null, t(actual > high ? "cut.time.slow" : "cut.time.fast")),
    el("dl.cut-times", null, rows),
    most > 0 && el("div.cut-time-scale", { "aria-hidden": "true" }, ticks(end, 4).map(place => at(el("span", null, duration(place)), place, place, end))),
    el("p.small.muted", null, t("cut.time.cycle", { cycle: duration(cycle.cycleTimeS), standard: duration(cycle.standardCycleTimeS) })));
}

function row(key, texts, ...marks) {
  const lane = el("span.cut-lane", { "aria-hidden": "true" }, ...marks);
  return el("div.cut-time", null, el("dt", null, t(key)), el("dd", null, el("span.cut-time-words", null, [texts].flat().filter(Boolean).map((text, i) => el(i ? "span.muted" : "strong", null, text))), lane));
}

function at(node, from, to, end) {
  setVar(node, "--from", `${100 * from / end}%`);
  setVar(node, "--span", `${100 * (to - from) / end}%`);
  return node;
}

const known = seconds => Number.isFinite(seconds) ? duration(seconds) : null;

/** How unusual a cut was: one ladder of rarity, a rung each power of ten, on which the cut and each of its views stand. */
export function score(assessment) {
  if (!assessment)
    return sheet("cut.score", el("p", null, t("cut.score.none")));
  if (!Number.isFinite(assessment.score))
    return sheet("cut.score", el("p", null, t("cut.score.nothing")), learned(assessment));
  const { views, threshold } = assessment;
  const end = Math.min(CAP, Math.ceil(Math.max(4, threshold + 0.5, assessment.score, ...views.map(view => view.score ?? 0))));
  const isUnusual = assessment.isUnusual;
  const ladder = el("ul.cut-ladder", null,
    rung(t("cut.score.whole"), 10 ** -assessment.score >= 0.5 ? t("cut.score.half") : t("cut.score.oneIn", { share: oneIn(10 ** -assessment.score, assessment.score) }), assessment.score, threshold, end, true),
    views.map(view => rung(t(`cut.view.${view.view}`), viewWhat(view), view.score, threshold, end)));
  setVar(ladder, "--threshold", threshold / end);
  return sheet("cut.score",
    el("p.cut-verdict", null,
      verdict(assessment.score, isUnusual),
      " ", t(isUnusual ? "cut.score.unusual" : "cut.score.usual", { score: assessment.score.toFixed(1), threshold: threshold.toFixed(1) })),
    el("p.small.muted", { "aria-hidden": "true" }, t("cut.ladder")),
    el("div.cut-ladder-scale", { "aria-hidden": "true" }, Array.from({ length: end + 1 }, (_, i) => at(el("span", null, rungLabel(i, end)), i, i, end))),
    ladder,
    el("p.small.muted", null, el("span.cut-threshold-key", { "aria-hidden": "true" }), t("cut.score.thresholdKey", { threshold: threshold.toFixed(1) })),
    views.length > 1 && el("p.small.muted", null, t("cut.score.several")),
    learned(assessment),
    views.length > 0 && el("details.cut-table", null, el("summary", null, t("cut.score.numbers")), viewTable(views),
      views.some(view => view.history < FEW_CUTS) && el("p.small.muted", null, t("cut.view.few"))));
}

/** Unusual or not, told by shape and word. */
export function verdict(value, isUnusual) {
  if (!Number.isFinite(value))
    return el("span.tag.plain", null, t("cut.tag.none"));
  return el(isUnusual ? "span.tag.medium" : "span.tag.plain", null, el("span", { "aria-hidden": "true" }, isUnusual ? "◆" : "○"), t(isUnusual ? "cut.tag.unusual" : "cut.tag.usual"));
}

function rung(name, what, value, threshold, end, isWhole = false) {
  const isOut = value >= threshold;
  const lane = el("span.cut-lane.is-ladder", { "aria-hidden": "true" },
    at(el(`span.cut-rung${isOut ? ".is-out" : ""}`), 0, Math.min(value, end), end),
    at(el(`span.cut-rung-mark${isOut ? ".is-out" : ""}`), Math.min(value, end), Math.min(value, end), end));
  return el(`li${isWhole ? ".is-whole" : ""}`, null,
    el("span", null, el("strong", null, name), el("span.muted", null, ` ${what}`)),
    el("span.cut-rung-score", null, el("span.unseen", null, t("cut.score.of")), Math.max(0, value).toFixed(1), isOut && el("span.unseen", null, ` ${t("cut.score.beyond")}`)),
    lane);
}

const rungLabel = (power, end) => {
  // Where the ladder is long, every second rung is named.
  if (end > 6 && power % 2 === 1)
    return "";
  return power <= 3 ? (10 ** power).toLocaleString("en") : `10${[...String(power)].map(digit => "⁰¹²³⁴⁵⁶⁷⁸⁹"[digit]).join("")}`;
};

const isIdle = view => view.view === "level" && view.what === "idle load";

const viewWhat = view => hasText(`cut.what.${view.what}`) ? t(`cut.what.${view.what}`) : view.what;

// Every number that led to the score.
function viewTable(views) {
  const columns = ["view", "measured", "expected", "spread", "statistic", "rarity", "history"];
  return el("div.table-wrap", { tabindex: "0", role: "region", "aria-label": t("cut.score.numbers") },
    el("table.table.small", null,
      el("caption.unseen", null, t("cut.score.numbers")),
      el("thead", null, el("tr", null, columns.map(name => el("th", { scope: "col" }, t(`cut.number.${name}`))))),
      el("tbody", null, views.map(view => {
        const isLoop = view.view === "loop";
        const of = value => isIdle(view) ? quantity(value, "kW") : isLoop ? t("cut.view.times", { times: Math.exp(value).toFixed(2) }) : signed((Math.exp(value) - 1) * 100);

        // How a ratio of powers scatters is not told by one deviation; its statistic accounts for that.
        const spread = isLoop ? UNKNOWN : isIdle(view) ? quantity(view.spread, "kW") : `${((Math.exp(view.spread) - 1) * 100).toFixed(1)}\u00a0%`;
        return el("tr", null,
          el("th", { scope: "row" }, `${t(`cut.view.${view.view}`)}: ${viewWhat(view)}`),
          [of(view.value), of(view.expected), spread, `${view.statistic > 0 ? "+" : ""}${view.statistic.toFixed(1)}`, oneIn(view.pValue, view.score),
            view.history < FEW_CUTS ? t("cut.view.historyFew", { count: view.history }) : String(view.history)].map(text => el("td", null, text)));
      }))));
}

const signed = value => `${value > 0.05 ? "+" : value < -0.05 ? "−" : ""}${Math.abs(value).toFixed(1)}\u00a0%`;

function oneIn(share, value) {
  if (value >= CAP)
    return t("cut.oneIn.cap");
  if (share >= 0.5)
    return t("cut.oneIn.half");
  // Two digits: no history tells more.
  const count = 1 / share;
  const power = 10 ** Math.max(0, Math.floor(Math.log10(count)) - 1);
  return t("cut.oneIn.count", { count: (Math.round(count / power) * power).toLocaleString("en", { maximumFractionDigits: 0 }) });
}

function learned({ accepted, why }) {
  const reason = why === "" || why === "accepted" ? "" : `: ${why}`;
  return el("p.small.muted", null, `${t(accepted ? "cut.learned.yes" : "cut.learned.no")}${reason}.`);
}

/** Likely causes, the likeliest first; each with what was seen, what it may be and what to be careful with. */
export function causes(assessment) {
  if (!assessment?.causes?.length)
    return null;
  return sheet("cut.causes", el("ol.cut-causes", null, assessment.causes.map(cause => {
    const weight = setShare(el("span.cut-weight", { "aria-hidden": "true" }), cause.weight);
    return el("li", null,
      el("h3", null, word("cause", cause.name), " ", el("span.muted", null, t("cut.cause.weight", { share: percent(cause.weight) }))),
      weight,
      el("dl", null,
        el("dt", null, t("cut.cause.evidence")), el("dd", null, asRead(cause.evidence)),
        el("dt", null, t("cut.cause.mayBe")), el("dd", null, cause.mayBe)),
      el("p.note.caution", null, el("strong", null, el("span", { "aria-hidden": "true" }, "⚠ "), t("cut.cause.caution")), " ", cause.caution));
  })));
}

function setShare(node, share) {
  setVar(node, "--share", `${Math.max(0, Math.min(1, share ?? 0)) * 100}%`);
  return node;
}

/** What was found while the cut ran, and what is doubtful about the signals or the job. */
export function findings(assessment) {
  const found = assessment?.findings ?? [];
  const doubts = assessment?.doubts ?? [];
  if (found.length + doubts.length === 0)
    return null;
  return sheet("cut.findings",
    found.length > 0 && el("ul.cut-list", null, found.map(finding => el("li", null,
      el("strong", null, word("finding", finding.kind)), " ", el("span.muted", null, t("cut.finding.at", { time: clock(finding.at, true) })), el("p", null, asRead(finding.words))))),
    doubts.length > 0 && [el("h3", null, t("cut.doubts")), el("ul.cut-list", null, doubts.map(doubt => el("li", null, asRead(doubt))))]);
}

/** The other columns of the record. */
export function record(cycle) {
  const facts = [
    ["cut.fact.area", quantity(cycle.cutAreaCm2, "cm2")],
    ["cut.fact.rate", quantity(cycle.cuttingRateCm2Min, "cm2/min")],
    ["cut.fact.descent", quantity(cycle.meanDescentMmMin, "mm/min")],
    ["cut.fact.bladeSpeed", quantity(cycle.meanBladeSpeedMMin, "m/min")],
    ["cut.fact.meanLoad", quantity(cycle.meanLoadKw, "kW")],
    ["cut.fact.peakLoad", quantity(cycle.peakLoadKw, "kW")],
    ["cut.fact.idleLoad", quantity(cycle.idleLoadKw, "kW")],
    ["cut.fact.energy", quantity(cycle.cuttingEnergyKj, "kJ")],
    ["cut.fact.specific", quantity(cycle.specificEnergyJMm3, "J/mm3")],
    ["cut.fact.partLength", quantity(cycle.partLengthMm, "mm")],
    ["cut.fact.blade", cycle.blade ?? UNKNOWN],
    ["cut.fact.bladeArea", quantity(cycle.bladeAreaM2, "m2")],
    ["cut.fact.mode", word("mode", cycle.mode) || UNKNOWN],
    ["cut.fact.partCount", number(cycle.partCount)],
    ["cut.fact.frames", cycle.frames === null || cycle.frames === undefined ? UNKNOWN : t("cut.fact.framesOf", { frames: cycle.frames, share: percent(cycle.coverage) })],
  ];
  const basis = String(cycle.basis ?? "").split(";").map(part => part.trim()).filter(Boolean);
  const part = sheet("cut.record",
    el("dl.facts", null, facts.map(([key, text]) => el("div", null, el("dt", null, t(key)), el("dd", null, text)))),
    basis.length > 0 && [el("h3", null, t("cut.basis")), el("dl.cut-basis", null, basis.map(part => {
      const [name, ...rest] = part.split(":");
      return rest.length ? [el("dt", null, name.trim()), el("dd", null, asRead(rest.join(":").trim()))] : el("dd", null, asRead(part));
    }))],
    cycle.notes && [el("h3", null, t("cut.notes")), el("p", null, asRead(cycle.notes))],
    el("p.small.muted", null, t("cut.identity", { id: cycle.cycleId })));
  part.classList.add("cut-record");
  return part;
}
