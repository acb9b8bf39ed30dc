// OEE over days and weeks: the figure taken apart, what costs most, and every figure opening down: week, day, shift, its cuts and stops.

import { get } from "./api.js";
import { legend } from "./buckets.js";
import { el, put, say } from "./dom.js";
import { lossesOf } from "./oee-losses.js";
import { equation, figureTable, lossList, lossName, plannedOf, skyline, sorted, spokenSpan } from "./oee-parts.js";
import { addDays, beginOf, dateOf, isDate, mondayOf } from "./plant-time.js";
import { currentSite, gatewayNow } from "./site.js";
import { t } from "./text.js";
import { day } from "./units.js";
import { loadStyle } from "./views.js";

/** The spans that can be chosen: how many days back, and what a column is. */
const SPANS = { fortnight: [13, "day"], quarter: [12 * 7, "week"], year: [51 * 7, "week"] };
const DOWN = { week: "day", day: "shift" };
const MOST_SKIES = 4;

/** Of many subjects so many are drawn at once, those that stand first in the chosen order; the others when they are asked for. */
const SKIES_AT_ONCE = 8;
let view = null;

// Asked for beside the modules and not after them; where it fails, mount() asks again and tells.
loadStyle("time.css").catch(() => { /* as above */ });

/** The title of the view. */
export const title = () => t("oee.title");

/** Draws the view. In the address may stand: span, or from, to and each; by (saw, group, site); subject; sort, loss. */
export async function mount(root, { query, isDisplay = false }) {
  const mine = view = new OeeView(root, Object.fromEntries(query), isDisplay);
  await loadStyle("time.css");
  if (view === mine)
    await mine.start();
}

/** Ends what the view does. */
export function unmount() {
  view?.abort.abort();
  view = null;
}

const addressOf = parameters => `#/oee?${new URLSearchParams(Object.entries(parameters).filter(([, value]) => value !== null && value !== undefined && value !== ""))}`;

class OeeView {
  constructor(root, params, isDisplay) {
    this.root = root;
    this.params = params;
    this.isDisplay = isDisplay;
    this.abort = new AbortController();
    this.by = ["saw", "group", "site"].includes(params.by) ? params.by : "saw";
    this.subject = params.subject ?? null;
    this.group = params.group ?? null;
    this.chosen = params.loss ?? null;
    this.sort = { by: params.sort ?? (this.chosen ? "chosen" : "lost"), isDown: params.up === undefined };
    this.rows = params.rows === "spans" ? "spans" : "subjects";
  }

  async start() {
    put(this.root, el("p.loading", t("oee.loading")));
    try {
      this.site = currentSite();
      if (this.site.hasCalendar === false) {
        put(this.root, el("h1", t("oee.title")), el("div.empty", el("h2", t("oee.noCalendar")), el("p", t("oee.noCalendarHow")), el("a.button", { href: "#/shift", text: t("oee.toShift") })));
        return;
      }
      if (this.isDisplay)
        this.by = this.byOfDisplay();
      await this.load();
    } catch (error) {
      if (!this.abort.signal.aborted)
        put(this.root, el("h1", t("oee.title")), el("div.note.bad", { role: "alert" }, el("p", { text: error.message }), el("p", el("button.button", { type: "button", text: t("shift.again"), on: { click: () => this.start() } }))));
    }
  }

  async load() {
    this.now = gatewayNow();
    const [from, to] = [Date.parse(this.params.from), Date.parse(this.params.to)];
    this.isExact = Number.isFinite(from) && Number.isFinite(to) && to > from;
    this.span = this.isExact ? null : this.params.span in SPANS ? this.params.span : "fortnight";
    this.each = this.isExact ? (["week", "day", "shift"].includes(this.params.each) ? this.params.each : "day") : SPANS[this.span][1];
    const period = this.isExact ? { from, to: Math.min(to, this.now) } : this.chosenPeriod();
    if (period.to <= period.from) {
      put(this.root, this.head(period), el("div.empty", el("h2", t("oee.nothing")), el("p", t("shift.ahead"))));
      return;
    }

    const ask = (by, each, time) => get("/oee", { from: new Date(time.from), to: new Date(time.to), saw: this.sawsOf(), by, each }, this.abort.signal).then(answer => answer.items);
    let spans = await ask(this.by, this.each, period);
    // The piece of the shift that began on the day before is not of this period.
    if (!this.isExact)
      spans = this.watched(spans.filter(item => item.date >= period.first));
    if (spans.length === 0 || plannedOf(spans) === 0) {
      put(this.root, this.head(period), el("div.empty", el("h2", t("oee.nothing")), el("p", t("oee.nothingHow"))));
      return;
    }

    // What is summed is exactly what the columns show: a night shift at the edge belongs to the day on which it begins.
    const exact = { from: Math.min(...spans.map(item => Date.parse(item.from))), to: Math.min(this.now, Math.max(...spans.map(item => Date.parse(item.to)))) };
    const [wholes, site] = await Promise.all([ask(this.by, "whole", exact), ask("site", "whole", exact)]);
    this.data = { spans, wholes, site: site[0], period: exact };
    this.frame();
  }

  // A display shows what fits: saws, else groups, else the site.
  byOfDisplay() {
    const groups = new Set(this.site.saws.map(saw => saw.group)).size;
    return this.site.saws.length <= MOST_SKIES ? "saw" : groups > 1 && groups <= MOST_SKIES ? "group" : "site";
  }

  sawsOf() {
    if (this.by === "site" || (this.subject === null && this.group === null))
      return null;
    return this.site.saws.filter(saw => (this.group === null || saw.group === this.group) && (this.subject === null || (this.by === "group" ? saw.group : saw.name) === this.subject)).map(saw => saw.name);
  }

  chosenPeriod() {
    const today = dateOf(this.now);
    const first = addDays(this.each === "week" ? mondayOf(today) : today, -SPANS[this.span][0]);
    return { from: beginOf(first), to: this.now, first };
  }

  // Before the gateway saw the first saw there is nothing to tell of; that it is left out is said.
  watched(spans) {
    const first = Math.min(...spans.filter(item => item.figures.unknownShare < 1).map(item => Date.parse(item.from)));
    const kept = spans.filter(item => Date.parse(item.to) > first);
    this.watchedSince = kept.length < spans.length && kept.length > 0 ? first : null;
    return kept.length > 0 ? kept : spans;
  }

  spanName(item) {
    if (item.label === "" || item.label === null || item.label === undefined)
      return t("oee.all");
    if (isDate(item.label))
      return day(`${item.label}T12:00:00Z`);
    return this.each === "shift" ? `${item.label}, ${day(item.from)}` : t("oee.weekOf", { week: item.label.replace(/^\d+-/, ""), day: day(item.from) });
  }

  shortName(item) {
    if (isDate(item.label))
      return day(`${item.label}T12:00:00Z`).replace(/ \S+$/, "");
    return item.label.replace(/^\d+-/, "");
  }

  /** Where a figure opens: its parts, down to the shift with its cuts and stops. */
  addressOf(item) {
    const period = { from: item.from, to: item.to, loss: this.chosen, group: this.group };
    if (item.label && this.each === "shift")
      return `#/shift?${new URLSearchParams({ from: item.from, to: item.to, ...(this.by === "saw" ? { saw: item.subject } : {}) })}`;
    if (item.label)
      return addressOf({ ...period, each: DOWN[this.each], by: this.by, subject: this.by === "site" ? null : item.subject });

    // The whole period of one saw opens to that saw alone; that of a group or the site to its saws.
    return addressOf(this.by === "saw" ? { ...period, each: this.each, by: "saw", subject: item.subject } : { ...period, each: this.each, by: "saw", group: this.by === "group" ? item.subject : null });
  }

  head(period) {
    const choose = (part, value, words, isNow) => el("a", { href: addressOf({ span: this.span ?? "", from: this.isExact ? this.params.from : "", to: this.isExact ? this.params.to : "", each: this.isExact ? this.each : "", by: this.by, loss: this.chosen, ...part, [value[0]]: value[1] }), "aria-current": isNow ? "true" : null, text: words });
    return el("header.view-head",
      el("div", el("nav", { "aria-label": t("oee.path") }, this.trail(period)), el("h1", { text: this.subject ?? this.group ?? this.site.site })),
      el("div.row.oee-choices",
        el("span.choice", { role: "group", "aria-label": t("oee.span") }, Object.keys(SPANS).map(name => choose({ from: "", to: "", each: "", subject: this.subject, group: this.group }, ["span", name], t(`oee.span.${name}`), this.span === name))),
        this.subject === null ? el("span.choice", { role: "group", "aria-label": t("oee.by") }, ["saw", "group", "site"].map(by => choose({}, ["by", by], t(`oee.by.${by}`), this.by === by))) : null,
        el("form.row", { on: { submit: event => this.ownSpan(event) } },
          el("span.field", el("label", { for: "oee-from", text: t("oee.from") }), el("input", { id: "oee-from", type: "date", required: true, value: dateOf(period.from), max: dateOf(this.now) })),
          el("span.field", el("label", { for: "oee-to", text: t("oee.to") }), el("input", { id: "oee-to", type: "date", required: true, value: dateOf(Math.max(period.from, period.to - 1)), max: dateOf(this.now) })),
          el("button.button", { text: t("oee.show") }), el("span.problem", { id: "oee-problem", role: "alert" }))));
  }

  // The way up: all subjects, this subject over weeks, the week, the day.
  trail(period) {
    const year = dateOf(period.from).slice(0, 4);
    const begin = year === dateOf(period.to).slice(0, 4) ? day(period.from) : `${day(period.from)} ${year}`;
    const same = this.each === "shift" && this.isExact ? begin : `${begin}${dateOf(period.from) === dateOf(period.to - 1) ? "" : `–${day(period.to - 1)}`}`;
    const steps = [el("a", { href: addressOf({ by: this.by, span: this.span, loss: this.chosen }), text: t(`oee.all.${this.by}`) })];
    if (this.isExact)
      steps.push(el("a", { href: addressOf({ by: this.by, subject: this.subject, group: this.group, span: this.each === "shift" ? "fortnight" : "quarter", loss: this.chosen }), text: this.subject ?? this.group ?? this.site.site }));
    if (this.isExact && this.each === "shift") {
      const monday = mondayOf(dateOf(period.from));
      steps.push(el("a", { href: addressOf({ by: this.by, subject: this.subject, group: this.group, from: new Date(beginOf(monday)).toISOString(), to: new Date(beginOf(addDays(monday, 7))).toISOString(), each: "day", loss: this.chosen }), text: t("oee.itsWeek") }));
    }
    steps.push(el("span", { "aria-current": "page", text: same }));
    return el("ol.trail", steps.map(step => el("li", step)));
  }

  ownSpan(event) {
    event.preventDefault();
    const [from, to] = ["oee-from", "oee-to"].map(id => document.getElementById(id).value);
    const days = (Date.parse(to) - Date.parse(from)) / 86_400_000 + 1;
    const problem = document.getElementById("oee-problem");
    problem.textContent = !(days > 0) ? t("oee.backwards") : days > 400 ? t("oee.tooLong") : "";
    if (problem.textContent === "")
      location.hash = addressOf({ from: new Date(beginOf(from)).toISOString(), to: new Date(beginOf(addDays(to, 1))).toISOString(), each: days <= 2 ? "shift" : days <= 31 ? "day" : "week", by: this.by, subject: this.subject, group: this.group, loss: this.chosen });
  }

  frame() {
    const { site, period } = this.data;
    this.losses = lossesOf(this.data.wholes);
    if (this.chosen !== null && !this.losses.some(loss => loss.key === this.chosen))
      this.chosen = null;
    this.lossPart = el("div");
    this.skyPart = el("div.skies");
    this.tablePart = el("div");
    this.rowChoice = el("div.choice", { role: "group", "aria-label": t("oee.rows") });
    put(this.root, this.head(period),
      el("section.sheet", { "aria-label": t("oee.whole") }, site ? equation(site) : null, this.watchedSince ? el("p.small.muted", t("oee.watchedSince", { day: day(this.watchedSince) })) : null),
      el("div.oee-columns",
        el("section.sheet", el("h2", t("oee.costs")), el("p.small.muted", t("oee.costsHow")), this.lossPart),
        el("section.sheet", el("h2", t(`oee.sky.${this.each}`)), el("p.small.muted", t("oee.skyHow")), legend(), this.skyPart)),
      el("section.sheet", el("header.row.oee-table-head", el("h2", t("oee.figures")), this.rowChoice), this.tablePart, el("p.small.muted.oee-how", t("oee.how"))));
    this.draw();
  }

  draw() {
    const { spans, wholes } = this.data;
    const chosenLoss = this.losses.find(loss => loss.key === this.chosen);
    put(this.lossPart, lossList(this.losses, plannedOf(wholes), this.chosen, key => this.choose(key)));
    const scaleS = Math.max(...spans.map(item => item.plannedBusyTimeS));
    const skies = sorted(wholes, this.sort.by === "span" ? { by: "lost", isDown: true } : this.sort, this.chosen);
    const draw = whole => skyline(whole, spans.filter(item => item.subject === whole.subject), {
      scaleS, mostLabels: this.isDisplay ? 5 : 16, chosen: this.chosen, label: item => spokenSpan(item, `${item.subject}, ${this.spanName(item)}`), short: item => this.shortName(item), address: item => this.addressOf(item),
    });
    const most = this.isWhole || skies.length <= SKIES_AT_ONCE + 1 ? skies.length : SKIES_AT_ONCE;
    put(this.skyPart, skies.slice(0, most).map(draw), most < skies.length ? el("p.sky-more", el("button.button", { type: "button", on: { click: () => this.showAll(most) } }, t("oee.moreSkies", { count: skies.length - most }))) : null);
    put(this.rowChoice, ["subjects", "spans"].map(rows => el("button", { type: "button", "aria-pressed": String(this.rows === rows), text: t(rows === "subjects" ? `oee.by.${this.by}` : `oee.each.${this.each}`), on: { click: () => { this.rows = rows; this.note(); } } })));
    put(this.tablePart, figureTable(this.rows === "spans" ? spans : wholes, {
      sort: this.sort, chosen: this.chosen, chosenName: chosenLoss ? lossName(chosenLoss) : "", caption: t("oee.figures"),
      onSort: by => { this.sort = { by, isDown: this.sort.by === by ? !this.sort.isDown : by !== "subject" && by !== "span" }; this.note(by); },
      name: item => this.spanName(item), address: item => this.addressOf(item),
    }));
  }

  // The keyboard goes on with the first that came.
  showAll(shown) {
    this.isWhole = true;
    this.draw();
    this.skyPart.children[shown]?.querySelector("[tabindex='0']")?.focus({ preventScroll: true });
  }

  choose(key) {
    this.chosen = key;
    this.sort = { by: key === null ? "lost" : "chosen", isDown: true };
    this.note();
    const loss = this.losses.find(loss => loss.key === key);
    say(loss ? t("oee.chosen", { loss: lossName(loss) }) : t("oee.noneChosen"));
    this.lossPart.querySelector(key === null ? ".loss" : "[aria-pressed=true]")?.focus({ preventScroll: true });
  }

  // Draws anew and keeps the choice in the address, so that it can be sent and comes back with the way back.
  note(sortedBy) {
    this.draw();
    const query = new URLSearchParams(location.hash.split("?")[1] ?? "");
    const keep = { loss: this.chosen, sort: this.sort.by, up: this.sort.isDown ? null : "1", rows: this.rows };
    for (const [name, value] of Object.entries(keep))
      value === null ? query.delete(name) : query.set(name, value);
    if (!this.isDisplay)
      history.replaceState(null, "", `#/oee?${query}`);
    if (sortedBy)
      this.tablePart.querySelector(`th[aria-sort] button`)?.focus({ preventScroll: true });
  }
}
