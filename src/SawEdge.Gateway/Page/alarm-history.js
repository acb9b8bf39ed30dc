// Alarms that were, a page after the other, newest first.
import { get } from "./api.js";
import { severitySign, subjectOf } from "./alarm-card.js";
import { el, once, put } from "./dom.js";
import { t, word } from "./text.js";
import { age, asRead, dayClock } from "./units.js";

/** Draws the history of a saw, or of all, into a place. */
export async function drawHistory(place, saw, signal) {
  const body = el("tbody");
  const more = el("button.button", { type: "button", text: t("alarms.more"), hidden: true });
  const problem = el("p.problem", { role: "alert" });
  const table = el("div.table-wrap.sheet", { tabindex: 0, role: "region", "aria-label": t("alarms.history") },
    el("table.table.alarm-table", {},
      el("thead", {}, el("tr", {}, ["alarms.number", "alarms.what", "alarms.when", "alarms.lasted", "alarms.who", "alarms.verdict"].map(key => el("th", { scope: "col", text: t(key) })))),
      body));
  let cursor = null;
  const load = async () => {
    problem.textContent = "";
    try {
      const page = await get("/alarms", { saw, limit: 50, cursor }, signal);
      const first = body.children.length;
      body.append(...page.items.map(row));
      cursor = page.next;
      more.hidden = !cursor;
      if (first > 0)
        body.children[first]?.querySelector("a").focus();
    } catch (error) {
      if (error.name !== "AbortError")
        problem.textContent = error.message;
    }
  };
  more.addEventListener("click", () => once(more, load));
  put(place, el("p.loading", { text: t("shell.loading") }));
  await load();
  if (signal.aborted)
    return;
  put(place, body.children.length > 0 ? [table, more] : !problem.textContent && empty(), problem);
}

function row(alarm) {
  const ended = alarm.clearedAt ? (Date.parse(alarm.clearedAt) - Date.parse(alarm.raisedAt)) / 1000 : null;
  return el("tr", { data: { severity: alarm.severity } },
    el("td.nowrap", {}, severitySign(alarm.severity), " ", el("a", { href: `#/alarms/${alarm.number}`, text: String(alarm.number) })),
    el("td", {}, el("strong", { text: subjectOf(alarm) }), el("br"), asRead(alarm.text) || word("rule", alarm.rule)),
    el("td.nowrap", { text: dayClock(alarm.raisedAt) }),
    el("td.nowrap", { text: ended === null ? t("alarms.stillOn") : age(ended) }),
    el("td", { text: alarm.acknowledgedBy ?? "" }),
    el("td", { text: word("verdict", alarm.verdict) }));
}

const empty = () => el("div.empty", {}, el("h2", { text: t("alarms.noHistory") }), el("p", { text: t("alarms.noHistoryHelp") }));
