// The saws of a shift, a section each: the figures at once, strip and tables once they come near the screen. A plant may have fifty saws,
// of which a screen shows four.

import { get } from "./api.js";
import { el, put, setVar } from "./dom.js";
import { ledger, tables, tooLoose } from "./shift-parts.js";
import { drawStrip } from "./shift-strip.js";
import { t } from "./text.js";
import { percent } from "./units.js";

const AT_ONCE = 4;
const NEAR = "600px 0px";

/** The least height of a strip over the bay, px, and what stands around it, rem. */
const LEAST_HEIGHT = 56;

// More saws than these over the bay get smaller type, so that fewer pages have to be waited for.
const LARGE_TYPE_SAWS = 6;
const AROUND_REM = 4.9;

// Without a calendar nothing is a stop; what stood is told all the same.
const standing = timeline => timeline.states.filter(state => state.state !== "executing")
  .map(state => ({ from: state.from, to: state.to, durationS: (Date.parse(state.to) - Date.parse(state.from)) / 1000, reason: state.reason, class: null, bucket: state.state === "unknown" ? "unknown" : "stopsByReason" }));

/** The sections of the saws. */
export class SawStrips {
  /**
   * @param {HTMLElement} list Where they stand.
   * @param {object} how What the view knows and does: root, span, range(), now(), width(), signal, hasCalendar, canEnter, isDisplay; show(item,
   *   name), open(item, data), zoom(from, to), reason(data, stop), scrap(data, cut), fail(error).
   */
  constructor(list, how) {
    this.list = list;
    this.how = how;
    this.sections = new Map();
    this.data = new Map();
    this.accounts = new Map();
    this.near = new Set();
    this.old = new Set();
    this.queue = new Set();
    this.working = [];
    this.page = 0;
    this.observer = new IntersectionObserver(entries => this.moved(entries), { rootMargin: NEAR });
    how.signal.addEventListener("abort", () => this.observer.disconnect(), { once: true });
    how.signal.addEventListener("abort", () => setVar(document.documentElement, "--display-scale", "1"), { once: true });
  }

  /** Shows these saws, in this order; over the bay as many as there is room for. Done once what is near is drawn. */
  async show(saws) {
    this.all = saws;
    if (this.how.isDisplay)
      setVar(document.documentElement, "--display-scale", saws.length > LARGE_TYPE_SAWS ? ".76" : "1");
    this.saws = this.ofPage();
    this.observer.disconnect();
    this.sections.clear();
    this.near.clear();
    put(this.list, this.saws.map(saw => this.section(saw)));
    if (this.how.isDisplay)
      this.saws.forEach(saw => this.come(saw.name));

    // The observer tells of all sections at once, as soon as they are laid out.
    this.seen = Promise.withResolvers();
    this.sections.forEach(section => this.observer.observe(section));
    await this.seen.promise;
    await this.idle();
  }

  /** Takes the figures of saws, items of the OEE answer. */
  take(accounts) {
    accounts.forEach(account => this.accounts.set(account.subject, account));
  }

  /** Reads saws anew: those near the screen now, the others when they come near. Done once the former are drawn. */
  async renew(names) {
    for (const name of names) {
      this.old.add(name);
      if (this.near.has(name))
        this.come(name);
      else
        this.place(name);
    }
    await this.idle();
  }

  /** Draws everything anew: the width or the range has changed. */
  draw() {
    this.saws?.forEach(saw => this.place(saw.name));
  }

  /** Over the bay: turns to the next saws. Tells whether there are any. */
  nextPage() {
    if (!this.how.isDisplay || !this.all || (this.page + 1) * this.perPage() >= this.all.length)
      return false;
    this.page++;
    this.show(this.all).catch(this.how.fail);
    return true;
  }

  ofPage() {
    if (!this.how.isDisplay)
      return this.all;
    const most = this.perPage();
    return this.all.slice(this.page * most, (this.page + 1) * most);
  }

  perPage() { return Math.max(1, Math.floor(this.room() / (LEAST_HEIGHT + AROUND_REM * this.rem()))); }

  // Over the bay all saws share what the screen has.
  room() { return this.how.root.parentElement.getBoundingClientRect().bottom - this.list.getBoundingClientRect().top - 2 * this.rem(); }

  rem() { return parseFloat(getComputedStyle(document.documentElement).fontSize); }

  // On a desk or a phone the page scrolls.
  height() {
    return Math.round(this.how.isDisplay
      ? Math.max(LEAST_HEIGHT, Math.min(260, this.room() / this.saws.length - AROUND_REM * this.rem()))
      : Math.max(84, Math.min(150, this.how.width() / 9)));
  }

  section(saw) {
    const section = el("section.shift-saw", { data: { saw: saw.name }, "aria-label": saw.name });
    this.sections.set(saw.name, section);
    this.fill(section, saw);
    return section;
  }

  moved(entries) {
    for (const entry of entries) {
      const name = entry.target.dataset.saw;
      if (!entry.isIntersecting)
        this.near.delete(name);
      else if (this.sections.get(name) === entry.target) {
        this.near.add(name);
        if (!this.data.has(name) || this.old.has(name))
          this.come(name);
      }
    }
    this.seen?.resolve();
  }

  come(name) {
    this.near.add(name);
    this.queue.add(name);
    while (this.working.length < Math.min(AT_ONCE, this.queue.size)) {
      const work = this.work().catch(this.how.fail).finally(() => { this.working = this.working.filter(other => other !== work); });
      this.working.push(work);
    }
  }

  async idle() {
    while (this.working.length > 0)
      await Promise.all(this.working);
  }

  async work() {
    // What was passed by is not asked for; of what is near, first what stands first.
    for (let saw = this.next(); saw; saw = this.next()) {
      this.queue.delete(saw.name);
      if (!this.near.has(saw.name))
        continue;
      this.old.delete(saw.name);
      await this.read(saw);
      this.place(saw.name);
    }
  }

  next() { return this.saws.find(saw => this.queue.has(saw.name)); }

  async read(saw) {
    const { span, signal, hasCalendar } = this.how;
    const until = Math.min(span.to, this.how.now());
    try {
      const [timeline, stops] = await Promise.all([
        get("/timeline", { saw: saw.name, from: new Date(span.from), to: new Date(span.to) }, signal),
        hasCalendar ? get("/stops", { saw: saw.name, from: new Date(span.from), to: new Date(until), least: 0 }, signal) : null]);
      this.data.set(saw.name, { saw, timeline, stops: stops?.items ?? standing(timeline) });
    } catch (error) {
      this.old.add(saw.name);
      throw error;
    }
  }

  // Draws one saw; where the keyboard was stays where it was.
  place(name) {
    const section = this.sections.get(name);
    if (!section || this.how.width() === 0)
      return;
    const saw = this.saws.find(saw => saw.name === name);
    const key = section.contains(document.activeElement) ? document.activeElement.dataset.key : undefined;
    const isOpen = section.querySelector("details")?.open ?? false;
    const scrolled = [...section.querySelectorAll(".table-wrap")].map(table => [table.scrollLeft, table.scrollTop]);
    this.fill(section, saw, isOpen);
    section.querySelectorAll(".table-wrap").forEach((table, i) => table.scrollTo(...(scrolled[i] ?? [0, 0])));
    if (key === undefined)
      return;
    const again = section.querySelector(`[data-key="${CSS.escape(key)}"]`);
    if (again?.closest(".strip"))
      section.querySelectorAll(".strip-item").forEach(item => item.setAttribute("tabindex", item === again ? "0" : "-1"));
    again?.focus({ preventScroll: true });
  }

  fill(section, saw, isOpen = false) {
    const { how } = this;
    const data = this.data.get(saw.name);
    const account = this.accounts.get(saw.name) ?? null;
    const range = how.range();
    const isEmpty = data && data.timeline.states.length === 0 && data.timeline.cuts.length === 0;
    put(section,
      el("header", el("h2", { text: saw.name }), el("span.muted", { text: saw.group ?? "" }), headline(account)),
      data ? drawStrip(data.timeline, { ...range, width: how.width(), height: this.height(), now: how.now(), label: t("shift.stripOf", { saw: saw.name, cuts: data.timeline.cuts.length, stops: data.stops.length }) }, {
        show: item => how.show(item, saw.name),
        open: item => how.open(item, data),
        zoom: how.zoom,
      }) : el("div.strip-due"),
      isEmpty ? el("p.muted", t("shift.nothing")) : null,
      ledger(account, saw.name), data ? tooLoose(data.timeline) : null,
      how.isDisplay || !data ? null : tables(data, range, { isOpen, canEnter: how.canEnter, hasReasons: how.hasCalendar, reason: stop => how.reason(data, stop), scrap: cut => how.scrap(data, cut) }));
  }
}

function headline(account) {
  if (!account)
    return null;
  return el("p.shift-figures", el("strong", t("shift.oee", { oee: percent(account.figures.oee) })),
    el("span", t("shift.parts", { count: account.counts.parts })), account.counts.scrap > 0 ? el("span", t("shift.scrapParts", { count: account.counts.scrap })) : null,
    account.figures.unknownShare > 0 ? el("span.is-unknown", t("shift.unknownShare", { share: percent(account.figures.unknownShare) })) : null);
}
