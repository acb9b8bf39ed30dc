// The part of a cut that is scrap: entered by a person, withdrawn by a person; nothing is deleted.

import { del, get, post } from "./api.js";
import { el, once, put, say, setText } from "./dom.js";
import { askForm, field } from "./form-dialog.js";
import { currentSite, may } from "./site.js";
import { t, word } from "./text.js";
import { dayClock } from "./units.js";

const MADE_A_PART = new Set(["completed", "unobserved_start"]);

/** The sheet in which the part of a cut is said to be scrap, or is said not to be. */
export function scrapPart(cycle, signal) {
  const body = el("div.stack");
  const part = el("section.sheet", null, el("h2", null, t("cut.scrap")), body);
  const mayOperate = may("operate");

  async function load() {
    try {
      const entered = await get("/scrap", { saw: cycle.saw, from: cycle.startedAt, to: later(cycle.endedAt ?? cycle.startedAt) }, signal);
      show(entered.items.filter(one => one.cycleId === cycle.cycleId && !one.withdrawnAt));
    } catch (error) {
      if (error.name !== "AbortError")
        put(body, el("p.problem", { role: "alert" }, error.message));
    }
  }

  function show(entries) {
    if (entries.length === 0 && !MADE_A_PART.has(cycle.outcome))
      return put(body, el("p", null, t("cut.scrap.noPart")));
    if (entries.length === 0)
      return put(body, el("p", null, t("cut.scrap.none")), mayOperate
        ? el("div", null, el("button.button", { type: "button", on: { click: ask } }, t("cut.scrap.enter")))
        : el("p.small.muted", null, t("cut.scrap.role")));
    const problem = el("p.problem", { role: "alert" });
    return put(body, entries.map(entry => el("div.row", null,
      el("p", null, el("strong", null, t("cut.scrap.is")), " ", entry.reason ? t("cut.scrap.reason", { reason: word("scrapReason", entry.reason) }) : "", " ",
        el("span.muted.small", null, t("cut.scrap.by", { by: entry.enteredBy ?? "", at: dayClock(entry.enteredAt) }))),
      mayOperate && el("button.button", { type: "button", on: { click: event => once(event.currentTarget, () => withdraw(entry, problem)) } }, t("cut.scrap.withdraw")))), problem);
  }

  async function ask() {
    const reason = el("input", { id: "scrap-reason", list: "scrap-reasons", autocomplete: "off", maxlength: "100" });
    const isEntered = await askForm({
      title: t("cut.scrap.title"),
      body: [
        el("p", t("cut.scrap.words", { saw: cycle.saw, job: cycle.job ?? t("cut.noJob") })),
        field("reason", t("cut.scrap.why"), reason, { more: el("datalist", { id: "scrap-reasons" }, currentSite().scrapReasons.map(one => el("option", { value: one }))) }),
      ],
      send: t("cut.scrap.save"),
      done: t("cut.scrap.said"),
      submit: () => post("/scrap", { saw: cycle.saw, cycleId: cycle.cycleId, reason: reason.value.trim() }),
    });
    if (isEntered)
      await loadAgain();
  }

  async function withdraw(entry, problem) {
    setText(problem, "");
    try {
      await del(`/scrap/${encodeURIComponent(entry.id)}`);
      say(t("cut.scrap.withdrawn"));
    } catch (error) {
      setText(problem, error.message);
      return;
    }
    await loadAgain();
  }

  // The button that was pressed is gone; the keyboard goes on from the one in its place.
  async function loadAgain() {
    await load();
    body.querySelector("button")?.focus();
  }

  load();
  return part;
}

// A period ends before its `to`; a cut belongs to it by its end.
const later = moment => new Date(new Date(moment).getTime() + 1).toISOString();
