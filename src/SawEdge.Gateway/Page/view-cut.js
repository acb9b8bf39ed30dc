// One cut: how it went along its depth, what it took, how unusual it was, and what may be behind it.

import { get, ApiError } from "./api.js";
import { el, put, say } from "./dom.js";
import { t, word } from "./text.js";
import { clock, day, duration, scale, UNKNOWN } from "./units.js";
import { cutDrawing, fitted, writeBin } from "./cut-drawing.js";
import { causes, findings, record, score, sheet, times, verdict } from "./cut-figures.js";
import { scrapPart } from "./cut-scrap.js";

let view = null;

export const title = () => t("cut.title");

/** Draws the cut that the address names. */
export async function mount(root, params) {
  const mine = view = { root, abort: new AbortController(), cut: null, endDrawing: null };
  const [id] = params.path;
  if (!id) {
    location.replace("#/cuts");
    return;
  }
  put(root, el("p.loading", null, t("cut.loading")));
  try {
    mine.cut = await get(`/cycles/${encodeURIComponent(id)}`, null, mine.abort.signal);
  } catch (error) {
    if (view === mine)
      put(root, refused(error, id));
    return;
  }
  if (view === mine)
    draw(mine);
}

/** Ends what the view holds. */
export function unmount() {
  if (!view)
    return;
  view.abort.abort();
  view.endDrawing?.();
  view = null;
}

function draw(mine) {
  const { cut } = mine;
  const { cycle, assessment } = cut;
  put(mine.root,
    head(cut),
    el("div.cut-columns", null,
      el("div.stack", null, drawingPart(mine), record(cycle)),
      el("div.stack", null, causes(assessment), findings(assessment), times(cycle), score(assessment), scrapPart(cycle, mine.abort.signal))),
    el("p.note.caution.cut-general", null, t("cut.caution")));
}

function head({ cycle, assessment, previous, next }) {
  const step = (id, key, rel) => id
    ? el("a.button", { href: `#/cut/${encodeURIComponent(id)}`, rel }, t(key))
    : el("span.button", { "aria-disabled": "true", class: "is-off" }, t(key));
  const what = [cycle.job, cycle.section, cycle.material].filter(Boolean);
  return el("header.view-head", null,
    el("div", null,
      el("p", null, t("cut.head", { saw: cycle.saw, day: day(cycle.startedAt), time: clock(cycle.cutStartedAt ?? cycle.startedAt, true) })),
      el("h1", null, what.length ? what.join(" · ") : t("cut.noJob")),
      el("p.row", null, outcome(cycle.outcome), verdict(cycle.loadScore ?? assessment?.score, assessment?.isUnusual ?? false),
        Number.isFinite(cycle.cutTimeRatio) && el("span", null, t("cut.head.ratio", { time: duration(cycle.cutTimeS), ratio: cycle.cutTimeRatio.toFixed(2) })))),
    el("nav.row", { "aria-label": t("cut.steps") },
      step(previous, "cut.previous", "prev"), step(next, "cut.next", "next"),
      el("a", { href: `#/cuts?saw=${encodeURIComponent(cycle.saw)}` }, t("cut.toList", { saw: cycle.saw }))));
}

/** How a cycle ended, with a sign of its own for what did not end as it should. */
export function outcome(code) {
  const sign = code === "completed" ? "✓" : code === "trim" || code === "partial" ? "–" : "✕";
  return el(`span.tag.${sign === "✕" ? "low" : "plain"}`, null, el("span", { "aria-hidden": "true" }, sign), word("outcome", code) || UNKNOWN);
}

function drawingPart(mine) {
  const { cut } = mine;
  if (!cut.profile?.loadKw?.some(Number.isFinite))
    return sheet("cut.drawing", el("div.empty", null, el("p", null, t("cut.drawing.none"))));
  const holder = el("div.cutd-holder");
  const line = el("output.cut-bin-line", { "aria-live": "off" });
  const note = el("p.small.muted", { hidden: true });
  const range = el("input", { type: "range", min: 0, step: 1, id: "cut-depth" });
  const drawing = cutDrawing(cut, bin => pick(bin));
  range.max = drawing.bins - 1;
  const first = drawing.marked.length > 0 ? largest(drawing.marked) : Math.floor(drawing.bins / 2);

  function pick(bin) {
    const values = drawing.bin(bin);
    range.value = bin;
    writeBin(line, values);
    range.setAttribute("aria-valuetext", line.textContent);
    drawing.pick(bin);
  }

  range.addEventListener("input", () => pick(Number(range.value)));
  holder.append(drawing.node);
  mine.endDrawing = fitted(drawing, holder, width => {
    const squeeze = drawing.squeeze(width);
    note.hidden = squeeze < 1.15;
    note.textContent = t("cut.drawing.squeezed", { times: squeeze.toFixed(1) });
    pick(Number(range.value));
  });
  range.value = first;

  const jumps = drawing.marked.map(stretch => el("button.button", { type: "button", on: { click: () => { pick(middleOf(stretch)); say(line.textContent); } } },
    el("span", { "aria-hidden": "true" }, stretch.side > 0 ? "▶" : "◀"), t(stretch.side > 0 ? "cut.jump.above" : "cut.jump.below", { place: stretch.place })));
  return sheet("cut.drawing",
    legend(cut, drawing.hasSection),
    holder,
    note,
    el("div.field.cut-look", null, el("label", { for: "cut-depth" }, t(cut.profile.byDepth ? "cut.look" : "cut.lookShare")), range, line),
    jumps.length > 0 && el("div.row.cut-jumps", null, el("span.small.muted", null, t("cut.jump")), jumps),
    el("details.cut-table", null, el("summary", null, t("cut.table.show")), table(cut, drawing)));
}

const middleOf = ({ from, to }) => Math.floor((from + to - 1) / 2);

const largest = marked => middleOf(marked.reduce((most, one) => Math.abs(one.most) > Math.abs(most.most) ? one : most));

function legend(cut, hasSection) {
  const entry = (sign, key) => el("li", null, el(`span.cut-key.${sign}`, { "aria-hidden": "true" }), t(key));
  return el("ul.cut-legend.small", null,
    entry("is-load", "cut.key.load"),
    cut.profile.expectedKw && [entry("is-expected", "cut.key.expected"), entry("is-band", "cut.key.band"),
      el("li", null, el("span.cut-key.is-odd", { "aria-hidden": "true" }, "▶"), t("cut.key.odd"))],
    Number.isFinite(cut.cycle.idleLoadKw) && entry("is-idle", "cut.key.idle"),
    hasSection && entry("is-stock", "cut.key.stock"));
}

function table(cut, drawing) {
  const load = scale("kW").unit;
  const columns = ["place", ...(cut.profile.timeS ? ["time"] : []), "load", "expected", "low", "high", "deviation", "verdict"];
  const heads = columns.map(name => el(`th${name === "verdict" ? "" : ".number"}`, { scope: "col" }, t(`cut.table.${name === "place" && !cut.profile.byDepth ? "placeShare" : name}`, { unit: load })));
  return el("div.table-wrap", { tabindex: "0", role: "region", "aria-label": t("cut.table.label") },
    el("table.table.small", null,
      el("caption.unseen", null, t("cut.table.label")),
      el("thead", null, el("tr", null, heads)),
      el("tbody", null, Array.from({ length: drawing.bins }, (_, i) => {
        const values = drawing.bin(i);
        return el("tr", null, columns.map(name => name === "place"
          ? el("th.number", { scope: "row" }, values.place)
          : el(`td${name === "verdict" ? "" : ".number"}`, null, name === "verdict" && values.side !== 0 && el("span", { "aria-hidden": "true" }, values.side > 0 ? "▶ " : "◀ "), values[name])));
      }))));
}

function refused(error, id) {
  const isGone = error instanceof ApiError && error.status === 404;
  return el("div.empty", { role: "alert" },
    el("h1", null, t(isGone ? "cut.gone" : "cut.failed")),
    el("p", null, isGone ? t("cut.gone.words", { id }) : error.message),
    el("a.button", { href: "#/cuts" }, t("cut.gone.list")));
}
