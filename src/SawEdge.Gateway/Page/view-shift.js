// The shift: one strip of time a saw, and under it where the time went, to the second. Cuts open their own view, stops take a reason.

import { get } from "./api.js";
import { legend } from "./buckets.js";
import { el, put, say, setText } from "./dom.js";
import { listen } from "./live.js";
import { addDays, beginOf, dateOf, hours, isDate } from "./plant-time.js";
import { askReason, askScrap } from "./shift-forms.js";
import { SawStrips } from "./shift-saws.js";
import { drawAxis, wordsOf } from "./shift-strip.js";
import { ORDER, addBuckets, nameOf, timeBar, total } from "./time-buckets.js";
import { t } from "./text.js";
import { clock, day } from "./units.js";
import { loadStyle } from "./views.js";

const REFRESH_MS = 30_000;
const SOON_MS = 2000;
const SHORTEST_MS = 120_000;
let view = null;

/** The title of the view. */
export const title = () => t("shift.title");

/** Draws the view. In the address may stand: from and to (RFC 3339), or day (a date); saw. Without them, the shift that runs. */
export async function mount(root, { query, isDisplay = false }) {
  const mine = view = new ShiftView(root, Object.fromEntries(query), isDisplay);
  await loadStyle("time.css");
  if (view === mine)
    await mine.start();
}

/** Ends what the view does. */
export function unmount() {
  view?.end();
  view = null;
}

/** Over the bay: turns to the next saws, and tells whether there are any. */
export const nextPage = () => view?.strips?.nextPage() ?? false;

/** The address of the shift view of a span. */
export const shiftAddress = (from, to, saw) => `#/shift?from=${encodeURIComponent(new Date(from).toISOString())}&to=${encodeURIComponent(new Date(to).toISOString())}${saw ? `&saw=${encodeURIComponent(saw)}` : ""}`;

class ShiftView {
  constructor(root, params, isDisplay) {
    this.root = root;
    this.params = params;
    this.isDisplay = isDisplay;
    this.abort = new AbortController();
    this.waiting = new Set();
    this.span = null;
    this.zoomed = null;
    this.width = 0;
  }

  async start() {
    put(this.root, el("p.loading", t("shift.loading")));
    try {
      this.site = await get("/site", null, this.abort.signal);
      await this.choose();
    } catch (error) {
      this.fail(error);
    }
  }

  end() {
    this.abort.abort();
    clearTimeout(this.timer);
    this.observer?.disconnect();
    this.deafen?.();
  }

  fail(error) {
    if (!this.abort.signal.aborted)
      put(this.root, el("h1", t("shift.title")), el("div.note.bad", { role: "alert" }, el("p", { text: error.message }),
        el("p", el("button.button", { text: t("shift.again"), on: { click: () => this.start() } }))));
  }

  // Which span: the one that was asked for; else the shift that runs now, or the last one before.
  async choose() {
    this.now = this.site.now ? Date.parse(this.site.now) : Date.now();
    this.skew = this.now - Date.now();
    if (this.site.saws.length === 0) {
      put(this.root, el("h1", t("shift.title")), el("div.empty", el("h2", t("shift.noSaws")), el("p", t("shift.noSawsHow"))));
      return;
    }

    const [from, to] = [Date.parse(this.params.from), Date.parse(this.params.to)];
    const asked = Number.isFinite(from) && Number.isFinite(to) && to > from;
    const today = isDate(this.params.day) ? this.params.day : dateOf(asked ? from : this.now);
    this.shifts = await this.shiftsAround(addDays(today, -1), addDays(today, 2));
    const begun = this.shifts.filter(shift => shift.from <= this.now);

    // Figures of a shift reach to the next one, or up to now; what is drawn is the shift itself.
    const named = this.shifts.find((shift, i) => asked && shift.from === from && to <= (this.shifts[i + 1]?.from ?? Infinity));
    this.span = named ?? (asked ? { from, to } : isDate(this.params.day) || begun.length === 0 ? { from: beginOf(today), to: beginOf(addDays(today, 1)) } : begun.at(-1));
    this.date = dateOf(this.span.from);
    this.shown = this.params.saw ? this.site.saws.filter(saw => saw.name === this.params.saw) : this.site.saws;
    if (this.shown.length === 0)
      this.shown = this.site.saws;
    this.frame();
    await this.load();
  }

  async shiftsAround(from, to) {
    const answer = await get("/timeline", { saw: this.site.saws[0].name, from: new Date(beginOf(from)), to: new Date(beginOf(to)) }, this.abort.signal);
    return answer.shifts.map(shift => ({ label: shift.label, from: Date.parse(shift.from), to: Date.parse(shift.to) })).toSorted((a, b) => a.from - b.from);
  }

  /** The range that the strips show: the whole span, or what was zoomed in to. */
  range() { return this.zoomed ?? this.span; }

  frame() {
    const at = this.shifts.findIndex(shift => shift.from === this.span.from && shift.to === this.span.to);
    const ofDay = this.shifts.filter(shift => dateOf(shift.from) === this.date);
    const wholeDay = { from: beginOf(this.date), to: beginOf(addDays(this.date, 1)) };
    const turn = (sign, key, step) => el("button.button", { type: "button", "aria-label": t(key), title: t(key), disabled: step > 0 && this.span.to > this.now, text: sign, on: { click: () => this.turn(step) } });
    const choice = (span, words) => el("a", { href: shiftAddress(span.from, span.to, this.params.saw), "aria-current": span.from === this.span.from && span.to === this.span.to ? "true" : null, text: words });
    const name = at >= 0 ? t("shift.named", { shift: this.shifts[at].label }) : this.span.from === wholeDay.from && this.span.to === wholeDay.to ? t("shift.wholeDay") : t("shift.span");

    this.sum = el("div.shift-sum", { "aria-live": "off" });
    this.readout = el("p.shift-readout", { "aria-hidden": "true" });
    this.axis = el("div.shift-axis");
    this.list = el("div.shift-saws");
    this.zoomState = el("span.muted.small");
    put(this.root,
      el("header.view-head",
        el("div", el("p", { text: `${day(this.span.from)} · ${clock(this.span.from)}–${dateOf(this.span.to - 1) === this.date ? "" : `${day(this.span.to)} `}${clock(this.span.to)}` }), el("h1", { text: name })),
        el("nav.row", { "aria-label": t("shift.choose") },
          el("span.shift-turn", turn("‹", "shift.before", -1), turn("›", "shift.after", 1)),
          el("span.choice", ofDay.filter(shift => shift.from <= this.now).map(shift => choice(shift, shift.label)), choice(wholeDay, t("shift.wholeDay"))),
          el("span.field", el("label.unseen", { for: "shift-day", text: t("shift.day") }),
            el("input", { id: "shift-day", type: "date", value: this.date, max: dateOf(this.now), on: { change: event => this.toDay(event.target.value) } })),
          el("span.field", el("label.unseen", { for: "shift-saw", text: t("shift.saw") }),
            el("select", { id: "shift-saw", on: { change: event => { location.hash = shiftAddress(this.span.from, this.span.to, event.target.value); } } },
              el("option", { value: "", text: t("shift.allSaws") }), this.site.saws.map(saw => el("option", { value: saw.name, text: saw.name, selected: saw.name === this.params.saw })))))),
      !this.hasCalendar() ? el("div.note", el("p", t("shift.noCalendar"))) : null,
      this.sum,
      el("section.sheet.shift-strips", { "aria-label": t("shift.strips") },
        el("div.shift-tools", el("div.row", { role: "group", "aria-label": t("shift.zoom") },
          this.tool("−", "shift.zoomOut", () => this.zoomBy(2)), this.tool("+", "shift.zoomIn", () => this.zoomBy(0.5)),
          this.tool("◀", "shift.earlier", () => this.pan(-0.5)), this.tool("▶", "shift.later", () => this.pan(0.5)),
          el("button.button", { type: "button", text: t("shift.zoomAll"), on: { click: () => this.zoom(this.span.from, this.span.to) } }), this.zoomState), legend()),
        this.readout, this.axis, this.list),
      el("p.muted.small.shift-how", t("shift.how")));
    this.showItem(null);
    this.strips = new SawStrips(this.list, {
      root: this.root, span: this.span, range: () => this.range(), now: () => this.now, width: () => this.width, signal: this.abort.signal,
      hasCalendar: this.hasCalendar(), canEnter: this.canEnter(), isDisplay: this.isDisplay,
      show: (item, saw) => this.showItem(item, saw), open: (item, data) => this.open(item, data), zoom: (from, to) => this.zoom(from, to),
      reason: (data, stop) => this.reason(data, stop), scrap: (data, cut) => this.scrap(data, cut), fail: error => this.stale(error),
    });
    this.observer?.disconnect();
    this.observer = new ResizeObserver(() => {
      const width = Math.floor(this.axis.clientWidth);
      if (width > 0 && width !== this.width) {
        this.width = width;
        this.draw();
      }
    });
    this.observer.observe(this.axis);
  }

  // To the shift before or after, over a weekend too; from a day or where no shift is near, to the day.
  async turn(step) {
    const isShift = this.shifts.some(shift => shift.from === this.span.from && shift.to === this.span.to);
    try {
      const near = !isShift ? [] : step < 0 ? await this.shiftsAround(addDays(this.date, -5), addDays(this.date, 1)) : await this.shiftsAround(this.date, addDays(this.date, 5));
      const next = step < 0 ? near.filter(shift => shift.from < this.span.from).at(-1) : near.find(shift => shift.from > this.span.from && shift.from <= this.now);
      if (next)
        location.hash = shiftAddress(next.from, next.to, this.params.saw);
      else
        this.toDay(addDays(this.date, step));
    } catch (error) {
      this.fail(error);
    }
  }

  tool(sign, key, action) { return el("button.button", { type: "button", "aria-label": t(key), title: t(key), text: sign, on: { click: action } }); }

  toDay(date) {
    if (isDate(date))
      location.hash = `#/shift?day=${date}${this.params.saw ? `&saw=${encodeURIComponent(this.params.saw)}` : ""}`;
  }

  async load(saws = this.shown) {
    const until = Math.min(this.span.to, this.now);
    if (until <= this.span.from) {
      put(this.list, el("div.empty", el("p", t("shift.ahead"))));
      return;
    }

    if (this.hasCalendar()) {
      const oee = await get("/oee", { from: new Date(this.span.from), to: new Date(until), saw: saws.map(saw => saw.name), by: "saw", each: "whole" }, this.abort.signal);
      this.strips.take(oee.items);
    }

    // The sentence above takes its room first.
    this.showSum();
    if (this.strips.sections.size > 0)
      await this.strips.renew(saws.map(saw => saw.name));
    else
      await this.strips.show(this.shown);
    if (this.now < this.span.to) {
      this.deafen ??= listen((what, about) => { if (what === "cycle") this.soon(about.saw); });
      this.plan(REFRESH_MS);
    }
  }

  plan(ms) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.refresh(), ms);
  }

  // A cut that ended is shown soon: many at a time once, and only the saws that made them.
  soon(name) {
    if (!this.shown.some(saw => saw.name === name))
      return;
    if (this.waiting.size === 0)
      setTimeout(() => this.refresh(this.waiting), SOON_MS);
    this.waiting.add(name);
  }

  async refresh(names = null) {
    if (this.abort.signal.aborted)
      return;
    this.now = Date.now() + this.skew;
    const saws = names ? this.shown.filter(saw => names.has(saw.name)) : this.shown;
    this.waiting.clear();
    try {
      await this.load(saws);
    } catch (error) {
      this.stale(error);
    }
  }

  // What is shown stays; that it is old is said, and it is tried again.
  stale(error) {
    if (this.abort.signal.aborted)
      return;
    put(this.sum, el("div.note.caution", el("p", t("shift.stale", { error: error.message, at: clock(this.now) }))));
    this.plan(REFRESH_MS);
  }

  draw() {
    if (this.span === null || this.width === 0)
      return;
    const range = this.range();
    put(this.axis, drawAxis({ ...range, width: this.width }));
    this.zoomState.textContent = this.zoomed ? t("shift.zoomed", { from: clock(range.from, true), to: clock(range.to, true) }) : "";
    this.strips.draw();
  }

  hasCalendar() { return this.site.hasCalendar !== false; }

  canEnter() { return this.site.role !== "view" && !this.isDisplay; }

  showItem(item, saw) { setText(this.readout, item ? `${saw}: ${wordsOf(item)}` : t("shift.hint")); }

  showSum() {
    const items = [...this.strips.accounts.values()];
    if (items.length === 0) {
      put(this.sum);
      return;
    }
    const buckets = addBuckets(items);
    const planned = total(buckets);
    const worst = ORDER.slice(2, -1).toSorted((a, b) => buckets[b] - buckets[a])[0];
    put(this.sum, planned > 0 ? [
      el("p", t("shift.sum", {
        count: items.length, saw: items[0].subject, planned: hours(planned), good: hours(buckets.cuttingAtStandard + buckets.handling), worst: nameOf(worst), lost: hours(buckets[worst]), unknown: hours(buckets.unknown),
      })),
      items.length > 1 ? timeBar(buckets, planned, { label: t("shift.sumBar") }) : null] : el("p", t("shift.nonePlanned")));
  }

  open(item, data) {
    if (item.kind === "group") {
      const middle = (item.from + item.to) / 2;
      const quarter = (this.range().to - this.range().from) / 8;
      this.zoom(middle - quarter, middle + quarter);
    } else if (item.bucket !== "unknown") {
      // A strip may show a part of a stop; its reason is that of all of it.
      const stop = data.stops.find(stop => Date.parse(stop.from) < item.to && Date.parse(stop.to) > item.from);
      if (stop)
        this.reason(data, { ...stop, from: Date.parse(stop.from), to: Date.parse(stop.to) });
    }
  }

  async reason(data, stop) {
    if (!this.canEnter() || !this.hasCalendar())
      say(t(!this.hasCalendar() ? "shift.noCalendar" : "shift.viewOnly"));
    else if (await askReason({ ...stop, saw: data.saw.name }, this.site.stopReasons ?? []))
      await this.refresh();
  }

  async scrap(data, cut) {
    // The end of a shift is the begin of the next, which would be given the parts.
    const until = Math.min(this.now, this.span.to - 1);
    if (await askScrap({ saw: data.saw.name, cuts: data.timeline.cuts, cycleId: cut?.cycleId ?? null, until, reasons: this.site.scrapReasons ?? [] }))
      await this.refresh();
  }

  zoomBy(factor) {
    const { from, to } = this.range();
    const [middle, half] = [(from + to) / 2, (to - from) * factor / 2];
    this.zoom(middle - half, middle + half);
  }

  pan(share) {
    const { from, to } = this.range();
    this.zoom(from + (to - from) * share, to + (to - from) * share);
  }

  zoom(from, to) {
    const whole = this.span.to - this.span.from;
    const length = Math.min(whole, Math.max(SHORTEST_MS, to - from));
    const begin = Math.max(this.span.from, Math.min(this.span.to - length, (from + to - length) / 2));
    this.zoomed = length >= whole ? null : { from: begin, to: begin + length };
    this.draw();
    say(this.zoomed ? t("shift.zoomed", { from: clock(begin), to: clock(begin + length) }) : t("shift.zoomAll"));
  }
}
