// One saw in the bay.
import { drawTrace } from "./trace.js";
import { el, put, setText, svg } from "./dom.js";
import { kerf } from "./kerf.js";
import { ageOf, freshness } from "./live.js";
import { currentSite, gatewayNow } from "./site.js";
import { t, word } from "./text.js";
import { age, dayClock, duration, percent, running, UNKNOWN } from "./units.js";

// Signs of the states: their shape tells them apart without colour.
const SIGNS = {
  cutting: "M3 4h18v5l-3 6-3-6-3 6-3-6-3 6-3-6z",
  executing: "M6 3l14 9-14 9z",
  not_executing: "M6 4h4v16H6zM14 4h4v16h-4z",
  not_available: "M5 3l7 7 7-7 2 2-7 7 7 7-2 2-7-7-7 7-2-2 7-7-7-7z",
  out_of_service: "M4 4h16v16H4zM7 15l8-8 2 2-8 8z",
  unknown: "M9 16h4v4H9zM6 9c0-8 12-8 12-1 0 4-5 4-5 6H9c0-5 5-4 5-6 0-2-4-2-4 1z",
};

// How often the words of a lane are renewed that is not on the screen, ms.
const UNSEEN_MS = 5000;

/** Makes the lane of a saw: {node, draw(saw, alarms, now), trace(), show(isVisible), end()}. */
export function lane(first) {
  const parts = {
    sign: svg("path"),
    state: el("span.lane-state-word"),
    since: el("span.lane-since"),
    alarms: el("a.tag"),
    share: el("span.lane-share"),
    shareNote: el("span.small.muted"),
    load: el("span.lane-load"),
    verdict: el("span.lane-verdict"),
    canvas: el("canvas.lane-canvas", { role: "img" }),
    job: el("dd"),
    stock: el("dd"),
    blade: el("dd"),
    last: el("dd"),
    shift: el("p.lane-shift"),
    age: el("p.lane-age"),
  };
  const drawing = kerf();
  const id = `lane-${first.name.replace(/\W+/g, "-")}-${Math.random().toString(36).slice(2, 6)}`;
  const node = el("article.lane.sheet", { "aria-labelledby": id, data: { saw: first.name } },
    el("header.lane-head", {},
      svg("svg.lane-sign", { viewBox: "0 0 24 24", "aria-hidden": "true" }, parts.sign),
      el("div", {}, el("h2", { id, text: first.name }), el("p.lane-state", {}, parts.state, " ", parts.since)),
      parts.alarms),
    el("div.lane-work", {},
      el("div.lane-cut", {}, drawing.node, parts.share, parts.shareNote),
      el("div.lane-trace", {}, el("p.lane-now", {}, parts.load, " ", parts.verdict), el("div.lane-plot", {}, parts.canvas))),
    el("dl.lane-facts", {},
      fact("bay.job", parts.job), fact("bay.stock", parts.stock), fact("bay.blade", parts.blade), fact("bay.last", parts.last)),
    el("footer.lane-foot", {}, parts.shift, parts.age));
  // Off the screen the words are kept, for those who hear them, at their own pace; the trace is drawn where it can be seen.
  let isVisible = false;
  let described = 0;
  let drawn = -Infinity;
  let room = null;
  const trace = () => {
    if (isVisible && room !== null)
      drawTrace(parts.canvas, first.name, room, Date.now());
  };
  // What stands around it gives the trace its room: a canvas that is not drawn anew at once would be stretched, and its words with it.
  const sized = new ResizeObserver(([entry]) => {
    room = entry.contentRect;
    trace();
  });
  sized.observe(parts.canvas);
  return {
    node,
    trace,
    show(visible) {
      isVisible = visible;
      trace();
    },
    end() { sized.disconnect(); },
    draw(saw, alarms, now) {
      if (!isVisible && now - drawn < UNSEEN_MS)
        return;
      drawn = now;
      const fresh = freshness(saw, now);
      const isKnown = fresh === "fresh" || fresh === "old";
      const isCutting = isKnown && saw.cutShare !== null && saw.cutShare !== undefined;
      const state = !isKnown || !SIGNS[saw.state] ? "unknown" : isCutting && saw.state === "executing" ? "cutting" : saw.state;
      node.dataset.state = state;
      node.dataset.fresh = fresh;
      if (parts.sign.getAttribute("d") !== SIGNS[state])
        parts.sign.setAttribute("d", SIGNS[state]);
      setText(parts.state, isKnown ? word("state", state === "executing" ? "handling" : state) + (saw.reason ? `: ${saw.reason}` : "") : t(fresh === "never" ? "bay.never" : "bay.noData"));
      setText(parts.since, isKnown ? sinceWords(state === "cutting" ? saw.cutStartedAt : saw.stateSince) : "");
      drawing.set(isCutting ? saw.cutShare : null, saw.section);
      setText(parts.share, isCutting ? percentOf(saw.cutShare) : UNKNOWN);
      setText(parts.shareNote, t(isCutting ? "bay.through" : "bay.noCut"));
      drawLoad(parts, saw, isKnown);
      if (now - described > 10_000) {
        described = now;
        parts.canvas.setAttribute("aria-label", t("bay.trace", { load: running(isKnown ? saw.motorLoadKw : null, "kW"), verdict: parts.verdict.textContent }));
      }
      drawFacts(parts, saw);
      drawAlarms(parts.alarms, saw, alarms);
      const seconds = ageOf(saw, now);
      const never = currentSite().standby === "standby" ? "bay.standsBy" : "bay.neverHelp";
      setText(parts.age, seconds === null ? t(never) : t(fresh === "fresh" ? "bay.fresh" : fresh === "old" ? "bay.old" : "bay.stale",
        { age: age(seconds), at: dayClock(gatewayNow() - seconds * 1000, gatewayNow()) }));
    },
  };
}

// Data may carry times of a clock that is ahead of the gateway's: then how long is not known.
function sinceWords(moment) {
  const seconds = moment ? (gatewayNow() - Date.parse(moment)) / 1000 : -1;
  return seconds < 0 ? "" : t("bay.for", { time: seconds < 6000 ? duration(Math.floor(seconds)) : age(seconds) });
}

function drawLoad(parts, saw, isKnown) {
  setText(parts.load, isKnown ? running(saw.motorLoadKw, "kW") : UNKNOWN);
  const [now, low, high] = [saw.motorLoadKw, saw.expectedLowKw, saw.expectedHighKw];
  const isJudged = isKnown && [now, low, high].every(Number.isFinite);
  const kind = !isJudged ? "none" : now > high ? "above" : now < low ? "below" : "within";
  parts.verdict.dataset.kind = kind;
  const band = isJudged ? { low: running(low, "kW").split("\u00a0")[0], high: running(high, "kW") } : null;
  setText(parts.verdict, kind === "none" ? (isKnown ? t("bay.noExpectation") : "") : t(`bay.${kind}`, band));
}

function drawFacts(parts, saw) {
  setText(parts.job, saw.job || UNKNOWN);
  setText(parts.stock, [saw.material, saw.section].filter(Boolean).join(", ") || UNKNOWN);
  setText(parts.blade, saw.blade || UNKNOWN);
  const last = saw.lastCycle;
  const key = last ? `${last.cycleId}|${document.documentElement.dataset.theme}|${last.outcome}` : "none";
  if (parts.last.dataset.key !== key) {
    parts.last.dataset.key = key;
    put(parts.last, !last ? UNKNOWN : el("a", { href: `#/cut/${encodeURIComponent(last.cycleId)}` },
      Number.isFinite(last.cutTimeRatio) ? t("bay.lastOf", { time: duration(Math.round(last.cutTimeS)), share: percentOf(last.cutTimeRatio) }) : Number.isFinite(last.cutTimeS) ? duration(Math.round(last.cutTimeS)) : word("outcome", last.outcome)));
  }
  const shift = saw.shift;
  const words = !shift ? t("bay.noShift") : [t("bay.parts", { count: shift.parts ?? 0 }), Number.isFinite(shift.oee) && t("bay.oee", { share: percentOf(shift.oee) })].filter(Boolean).join(", ");
  if (parts.shift.textContent !== words)
    put(parts.shift, shift ? el("a", { href: `#/shift?saw=${encodeURIComponent(saw.name)}`, text: words }) : words);
}

function drawAlarms(node, saw, alarms) {
  // The open alarms themselves are known here; the counts of the saw stand in until they are.
  const count = alarms.length || saw.openAlarms || 0;
  const severity = alarms[0]?.severity ?? saw.highestSeverity ?? "low";
  node.hidden = count === 0;
  if (count === 0)
    return;
  const isNew = alarms.some(alarm => alarm.state === "unacknowledged");
  node.className = `tag ${severity}${isNew ? " is-new" : ""}`;
  node.href = `#/alarms?saw=${encodeURIComponent(saw.name)}`;
  setText(node, t("bay.alarms", { count, severity: word("severity", severity) }));
  node.title = alarms[0]?.text ?? "";
}

const percentOf = share => percent(Math.round(share * 100) / 100);

const fact = (key, node) => el("div", {}, el("dt", { text: t(key) }), node);
