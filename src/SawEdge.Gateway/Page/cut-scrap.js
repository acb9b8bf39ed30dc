// The part of a cut that is scrap: entered by a person, withdrawn by a person; nothing is deleted.

import { del, get, post } from "./api.js";
import { el, put, say } from "./dom.js";
import { t, word } from "./text.js";
import { dayClock } from "./units.js";

const MADE_A_PART = new Set(["completed", "unobserved_start"]);

/** The sheet in which the part of a cut is said to be scrap, or is said not to be. */
export function scrapPart(cycle, signal) {
  const body = el("div.stack");
  const part = el("section.sheet", null, el("h2", null, t("cut.scrap")), body);
  let reasons = [];
  let mayOperate = false;

  async function load() {
    try {
      const [site, entered] = await Promise.all([get("/site", null, signal), get("/scrap", { saw: cycle.saw, from: cycle.startedAt, to: later(cycle.endedAt ?? cycle.startedAt) }, signal)]);
      reasons = site.scrapReasons ?? [];
      mayOperate = site.role !== "view";
      show((entered.items ?? []).filter(one => one.cycleId === cycle.cycleId && !one.withdrawnAt));
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
    return put(body, entries.map(entry => el("div.row", null,
      el("p", null, el("strong", null, t("cut.scrap.is")), " ", entry.reason ? t("cut.scrap.reason", { reason: word("scrapReason", entry.reason) }) : "", " ",
        el("span.muted.small", null, t("cut.scrap.by", { by: entry.enteredBy ?? "", at: dayClock(entry.enteredAt) }))),
      mayOperate && el("button.button", { type: "button", on: { click: () => withdraw(entry) } }, t("cut.scrap.withdraw")))));
  }

  function ask() {
    const problem = el("p.problem", { role: "alert", hidden: true });
    const reason = el("input", { id: "scrap-reason", name: "reason", list: "scrap-reasons", autocomplete: "off", maxlength: "100" });
    const send = el("button.button.main", { type: "submit" }, t("cut.scrap.save"));
    const dialog = el("dialog", { "aria-labelledby": "scrap-title" },
      el("form", { on: { submit: event => { event.preventDefault(); enter(reason.value.trim(), dialog, send, problem); } } },
        el("h2", { id: "scrap-title" }, t("cut.scrap.title")),
        el("p", null, t("cut.scrap.words", { saw: cycle.saw, job: cycle.job ?? t("cut.noJob") })),
        el("div.field", null, el("label", { for: "scrap-reason" }, t("cut.scrap.why")), reason,
          el("datalist", { id: "scrap-reasons" }, reasons.map(one => el("option", { value: one })))),
        problem,
        el("div.row.row-end", null, el("button.button", { type: "button", on: { click: () => dialog.close() } }, t("cut.scrap.cancel")), send)));
    dialog.addEventListener("close", () => dialog.remove());
    part.append(dialog);
    dialog.showModal();
  }

  async function enter(reason, dialog, send, problem) {
    send.disabled = true;
    try {
      await post("/scrap", { saw: cycle.saw, cycleId: cycle.cycleId, reason });
      dialog.close();
      say(t("cut.scrap.said"));
      await load();
      focusFirst();
    } catch (error) {
      problem.hidden = false;
      problem.textContent = error.message;
      send.disabled = false;
    }
  }

  async function withdraw(entry) {
    try {
      await del(`/scrap/${encodeURIComponent(entry.id)}`);
      say(t("cut.scrap.withdrawn"));
      await load();
      focusFirst();
    } catch (error) {
      body.append(el("p.problem", { role: "alert" }, error.message));
    }
  }

  // The button that was pressed is gone; the keyboard goes on from the one in its place.
  const focusFirst = () => body.querySelector("button")?.focus();

  load();
  return part;
}

// A period ends before its `to`; a cut belongs to it by its end.
const later = moment => new Date(new Date(moment).getTime() + 1).toISOString();
