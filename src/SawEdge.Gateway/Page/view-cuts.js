// The cuts of the plant, the latest first, with conditions that stand in the address, so that a list can be passed on.

import { download, get } from "./api.js";
import { el, once, put, say, setText, setVar } from "./dom.js";
import { listen } from "./live.js";
import { currentSite } from "./site.js";
import { t, word } from "./text.js";
import { clock, day, duration, quantity, UNKNOWN } from "./units.js";
import { addDays, beginOf, dateOf, isDate } from "./plant-time.js";

const LIMIT = 100;
const OUTCOMES = ["completed", "trim", "partial", "aborted", "interrupted", "unobserved_start", "unobserved_end"];
const ORDERS = ["latest", "earliest"];
const FORMATS = ["csv", "xlsx", "parquet"];
const FIELDS = ["saw", "from", "to", "job", "material", "blade", "outcome", "minScore"];

let view = null;

export const title = () => t("cuts.title");

/** Draws the list; its conditions come with the address. */
export async function mount(root, params) {
  const chosen = Object.fromEntries(FIELDS.map(name => [name, params.query.get(name) ?? ""]));
  const order = ORDERS.find(name => name === params.query.get("order")) ?? "latest";
  const mine = view = { abort: new AbortController(), chosen, order, items: [], next: null, fresh: 0, ends: [] };
  mine.parts = {
    status: el("p", { role: "status" }),
    fresh: el("div", { hidden: true }),
    rows: el("tbody"),
    body: el("div.stack"),
    older: el("div.row"),
    trouble: el("div"),
  };
  put(root,
    el("header.view-head", null, el("div", null, el("h1", null, t("cuts.title")), el("p", null, t("cuts.lead")))),
    el("div.stack", null, conditions(mine), mine.parts.fresh, mine.parts.body));
  mine.ends.push(listen((what, cycle) => what === "cycle" && cycle && noteFresh(mine, cycle)));
  await read(mine);
}

/** Ends what the view holds. */
export function unmount() {
  view?.abort.abort();
  for (const end of view?.ends ?? [])
    end();
  view = null;
}

function query({ chosen }) {
  const begin = date => isDate(date) ? new Date(beginOf(date)) : null;
  return { ...chosen, from: begin(chosen.from), to: isDate(chosen.to) ? begin(addDays(chosen.to, 1)) : null };
}

async function read(mine) {
  const { parts } = mine;
  const isFirst = mine.next === null;
  if (isFirst)
    put(parts.body, el("p.loading", null, t("cuts.loading")));
  let page;
  try {
    page = await get("/cycles", { ...query(mine), order: mine.order, limit: LIMIT, cursor: mine.next }, mine.abort.signal);
  } catch (error) {
    if (view === mine)
      put(isFirst ? parts.body : parts.trouble, el("div.note.bad", { role: "alert" }, el("strong", null, t("cuts.failed")), " ", error.message));
    return;
  }
  if (view !== mine)
    return;
  mine.items.push(...page.items);
  mine.next = page.next ?? null;
  if (mine.items.length === 0) {
    put(parts.body, empty(mine));
    return;
  }
  if (isFirst)
    put(parts.body, el("section.sheet", null, el("div.row.cuts-bar", null, parts.status, saving(mine)), table(mine), parts.trouble, parts.older));
  put(parts.trouble);
  parts.rows.append(...page.items.map(row));
  setText(parts.status, `${t("cuts.count", { count: mine.items.length })}, ${t(!mine.next ? "cuts.all" : isEarliest(mine) ? "cuts.moreNewer" : "cuts.more")}.`);
  put(parts.older, mine.next && el("button.button", { type: "button", on: { click: event => once(event.currentTarget, () => older(mine)) } }, t(isEarliest(mine) ? "cuts.newer" : "cuts.older")));
}

const isEarliest = ({ order }) => order === "earliest";

async function older(mine) {
  const { length } = mine.items;
  await read(mine);
  // The button is another one now; the keyboard goes on with the first cut that came.
  mine.parts.rows.children[length]?.querySelector("a")?.focus();
}

function conditions(mine) {
  const { chosen } = mine;
  const field = (name, control) => el("div.field", null, el("label", { for: `cuts-${name}` }, t(`cuts.${name}`)), control);
  const text = (name, props) => field(name, el("input", { id: `cuts-${name}`, name, value: chosen[name], autocomplete: "off", ...props }));
  const list = (name, all, options) => field(name, el("select", { id: `cuts-${name}`, name },
    el("option", { value: "" }, t(all)), options.map(([value, label]) => el("option", { value, selected: chosen[name] === value }, label))));
  const isNarrow = FIELDS.some(name => chosen[name]);
  return el("details.sheet.cuts-conditions", { open: innerWidth > 640 },
    el("summary", null, el("h2", null, t("cuts.filter")), isNarrow && el("span.muted", null, ` ${FIELDS.map(name => chosen[name]).filter(Boolean).join(" · ")}`)),
    el("form", { on: { submit: event => { event.preventDefault(); go(Object.fromEntries(new FormData(event.currentTarget)), mine.order); } } },
      list("saw", "cuts.allSaws", currentSite().saws.map(saw => [saw.name, saw.name])),
      text("from", { type: "date" }), text("to", { type: "date" }),
      text("job"), text("material"), text("blade"),
      list("outcome", "cuts.anyOutcome", OUTCOMES.map(code => [code, word("outcome", code)])),
      text("minScore", { type: "number", min: "0", max: "12", step: "0.1", inputmode: "decimal" }),
      el("div.row.cuts-buttons", null, el("button.button.main", { type: "submit" }, t("cuts.apply")), isNarrow && el("a.button", { href: "#/cuts" }, t("cuts.reset")))));
}

function go(values, order) {
  const wanted = new URLSearchParams();
  for (const name of FIELDS)
    if (values[name]?.trim())
      wanted.set(name, values[name].trim());
  if (order !== "latest")
    wanted.set("order", order);
  const next = wanted.size ? `#/cuts?${wanted}` : "#/cuts";
  if (location.hash === next)
    dispatchEvent(new HashChangeEvent("hashchange"));
  else
    location.hash = next;
}

function table({ parts, chosen, order }) {
  const columns = ["time", "what", "outcome", "took", "standard", "ratio", "load", "score"];
  return el("table.table.cuts", null,
    el("caption.unseen", null, t("cuts.table")),
    el("thead", null, el("tr", null, columns.map(name => name === "time"
      ? el("th.is-time", { scope: "col", "aria-sort": order === "latest" ? "descending" : "ascending" },
        el("button", { type: "button", "aria-label": t(`cuts.sort.${order}`), on: { click: () => go(chosen, ORDERS[1 - ORDERS.indexOf(order)]) } },
          t("cuts.col.time"), el("span", { "aria-hidden": "true" }, order === "latest" ? " ↓" : " ↑")))
      : el(`th.is-${name}`, { scope: "col" }, t(`cuts.col.${name}`))))),
    parts.rows);
}

function row(cycle) {
  const began = cycle.cutStartedAt ?? cycle.startedAt;
  return el("tr", null,
    el("td.is-time", null,
      el("a", { href: `#/cut/${encodeURIComponent(cycle.cycleId)}`, "aria-label": t("cuts.open", { saw: cycle.saw, time: `${day(began)} ${clock(began, true)}` }) }, clock(began, true)),
      el("div.small.muted", null, `${cycle.saw} · ${day(began)}`)),
    el("td.is-what", null, cycle.job ?? el("span.muted", null, t("cut.noJob")), el("div.small.muted", null, [cycle.section, cycle.material].filter(Boolean).join(" · "))),
    el("td.is-outcome", null, outcomeWords(cycle.outcome)),
    el("td.is-took", null, duration(cycle.cutTimeS)),
    el("td.is-standard", null, duration(cycle.standardCutTimeS)),
    el("td.is-ratio", null, ratio(cycle.cutTimeRatio)),
    el("td.is-load", null, quantity(cycle.meanLoadKw, "kW")),
    el("td.is-score", null, Number.isFinite(cycle.loadScore) ? cycle.loadScore.toFixed(1) : UNKNOWN,
      cycle.likelyCause && el("div.cuts-cause.small", null, el("span", { "aria-hidden": "true" }, "◆ "), word("cause", cycle.likelyCause))));
}

const outcomeWords = code => [el("span", { "aria-hidden": "true" }, code === "completed" ? "✓ " : code === "trim" || code === "partial" ? "– " : "✕ "), word("outcome", code)];

// From the middle line to the right: slower than standard; to the left: faster. Twice as long is the end.
function ratio(value) {
  if (!Number.isFinite(value))
    return UNKNOWN;
  const held = Math.min(2, value);
  const bar = el(`span.cuts-ratio${value > 1 ? ".is-slow" : ""}`, { "aria-hidden": "true" }, el("span"));
  setVar(bar, "--from", `${50 * Math.min(1, held)}%`);
  setVar(bar, "--span", `${50 * Math.abs(held - 1)}%`);
  return [`${value.toFixed(2)}\u00a0×`, bar];
}

function saving(mine) {
  const format = el("select", { name: "format", "aria-label": t("cuts.exportAs") }, FORMATS.map(name => el("option", { value: name }, t(`cuts.exportAs.${name}`))));
  return el("div.row", null, format, el("button.button", { type: "button", on: { click: event => once(event.currentTarget, async () => {
    try {
      await download("/export/cycles", { ...query(mine), format: format.value }, `cuts-${dateOf(Date.now())}.${format.value}`);
    } catch (error) {
      say(error.message, true);
      setText(mine.parts.status, error.message);
    }
  }) } }, t("cuts.export")));
}

function noteFresh(mine, cycle) {
  if (mine.items.length === 0 || isEarliest(mine) || mine.chosen.to || (mine.chosen.saw && mine.chosen.saw !== cycle.saw) || mine.items.some(item => item.cycleId === cycle.cycleId))
    return;
  mine.fresh++;
  mine.parts.fresh.hidden = false;
  put(mine.parts.fresh, el("button.button", { type: "button", on: { click: () => dispatchEvent(new HashChangeEvent("hashchange")) } }, t("cuts.fresh", { count: mine.fresh })));
}

function empty(mine) {
  const isNarrow = FIELDS.some(name => mine.chosen[name]);
  return el("div.empty", null,
    el("h2", null, t("cuts.empty")),
    el("p", null, t(isNarrow ? "cuts.empty.filter" : "cuts.empty.none")),
    isNarrow ? el("a.button", { href: "#/cuts" }, t("cuts.reset")) : el("a.button", { href: "#/bay" }, t("cuts.empty.bay")));
}
