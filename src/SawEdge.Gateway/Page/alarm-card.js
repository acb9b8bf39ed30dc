// One alarm as it stands in a list or alone.
import { answerButtons } from "./alarm-answers.js";
import { el, put, setText, svg } from "./dom.js";
import { t, word } from "./text.js";
import { age, dayClock, quantity } from "./units.js";

// Urgency by shape: a filled triangle, a filled square that stands on its tip, a ring.
const SHAPES = { high: "M12 2l11 20H1zM11 9h2v7h-2zM11 18h2v2h-2z", medium: "M12 1l11 11-11 11L1 12zM11 6h2v8h-2zM11 16h2v2h-2z", low: "M12 2a10 10 0 1 0 0 20 10 10 0 0 0 0-20zM12 5a7 7 0 1 1 0 14 7 7 0 0 1 0-14z" };

/** What an alarm is about, in words. */
export function subjectOf(alarm) {
  return !alarm.subjectKind || alarm.subjectKind === "saw" ? alarm.subject : t(`subject.${alarm.subjectKind}`, { name: alarm.subject });
}

/** The sign of a severity. */
export const severitySign = severity => svg("svg.alarm-sign", { viewBox: "0 0 24 24", class: severity, role: "img", "aria-label": t(`severity.${severity}`) },
  svg("path", { "fill-rule": "evenodd", d: SHAPES[severity] ?? SHAPES.low }));

/**
 * Makes a card: {node, draw(alarm, now)}.
 * @param {{isDisplay: boolean, onDone: function}} settings On a display there is nothing to press.
 */
export function alarmCard({ isDisplay, onDone }) {
  const parts = { sign: el("span"), title: el(isDisplay ? "span" : "a.alarm-title"), state: el("span.tag"), meta: el("p.alarm-meta"), text: el("p.alarm-text"), caution: el("p.alarm-caution"), buttons: el("div.row.alarm-buttons"), problem: el("p.problem", { role: "alert" }) };
  const node = el("article.alarm", {},
    parts.sign,
    el("div.alarm-body", {}, el("h2.alarm-head", {}, parts.title, " ", parts.state), parts.text, parts.caution, parts.meta, parts.problem),
    isDisplay ? null : parts.buttons);
  let key = "";
  return {
    node,
    draw(alarm, now) {
      setText(parts.meta, metaOf(alarm, now));
      const changed = JSON.stringify(alarm);
      if (key === changed)
        return;
      key = changed;
      const hadFocus = parts.buttons.contains(document.activeElement);
      node.dataset.severity = alarm.severity;
      node.dataset.state = alarm.state;
      node.classList.toggle("is-active", alarm.active);
      put(parts.sign, severitySign(alarm.severity));
      setText(parts.title, subjectOf(alarm));
      if (!isDisplay)
        parts.title.href = `#/alarms/${alarm.number}`;
      parts.state.className = `tag ${alarm.state === "unacknowledged" ? alarm.severity : "plain"}`;
      setText(parts.state, word("alarmState", alarm.state));
      setText(parts.text, wordsOf(alarm));
      parts.caution.hidden = !(alarm.caution && alarm.active);
      setText(parts.caution, alarm.caution ?? "");
      put(parts.buttons, answerButtons(alarm, {
        only: ["acknowledge", "reset", "unshelve", "shelve"],
        onDone: after => { setText(parts.problem, ""); onDone?.(after); },
        onProblem: words => setText(parts.problem, words),
      }), el("a.button.quiet", { href: `#/alarms/${alarm.number}`, text: t("alarm.details"), "aria-label": `${t("alarm.details")}, ${t("alarm.title", { number: alarm.number })}` }));
      if (hadFocus)
        parts.buttons.querySelector("button, a")?.focus();
    },
  };
}

// The card's heading names the subject; most texts begin with it again.
function wordsOf(alarm) {
  const text = alarm.text || word("rule", alarm.rule);
  const rest = text.startsWith(`${alarm.subject}: `) ? text.slice(alarm.subject.length + 2) : text;
  return rest.charAt(0).toUpperCase() + rest.slice(1);
}

/** Number, rule, how long ago, and what else is to be known at a glance. */
function metaOf(alarm, now) {
  return [
    t("alarm.title", { number: alarm.number }),
    word("rule", alarm.rule),
    `${dayClock(alarm.raisedAt, now)} (${t("alarm.since", { age: age((now - Date.parse(alarm.raisedAt)) / 1000) })})`,
    alarm.activations > 1 && t("alarm.activations", { count: alarm.activations }),
    alarm.chattering && t("alarm.chattering"),
    alarm.acknowledgedBy && t("alarm.ackBy", { who: alarm.acknowledgedBy }),
    alarm.state === "shelved" && alarm.shelvedUntil && t("alarm.shelvedUntil", { time: dayClock(alarm.shelvedUntil, now) }),
    alarm.verdict && word("verdict", alarm.verdict),
  ].filter(Boolean).join(" · ");
}

/** One alarm with all that is known of it: for its own address. */
export function alarmSheet({ alarm, events }, onDone) {
  const problem = el("p.problem", { role: "alert" });
  const facts = [
    ["alarm.rule", word("rule", alarm.rule)],
    ["alarms.when", dayClock(alarm.raisedAt)],
    ["alarm.value", Number.isFinite(alarm.value) ? quantity(alarm.value, alarm.unit ?? "") : null],
    ["alarm.limit", Number.isFinite(alarm.limit) ? quantity(alarm.limit, alarm.unit ?? "") : null],
    ["alarms.who", alarm.acknowledgedBy],
    ["alarms.verdict", word("verdict", alarm.verdict)],
  ].filter(([, words]) => words);
  return el("article.sheet.stack.alarm-sheet", { data: { severity: alarm.severity } },
    el("header.row", {}, severitySign(alarm.severity), el("h2", { text: subjectOf(alarm) }), el("span.tag", { class: alarm.state === "unacknowledged" ? alarm.severity : "plain", text: word("alarmState", alarm.state) })),
    el("p.alarm-text", { text: wordsOf(alarm) }),
    alarm.mayBe && el("div", {}, el("h3", { text: t("alarm.mayBe") }), el("p", { text: alarm.mayBe })),
    alarm.caution && el("div.note.caution", {}, el("h3", { text: t("alarm.caution") }), el("p", { text: alarm.caution })),
    el("dl.facts", {}, facts.map(([key, words]) => el("div", {}, el("dt", { text: t(key) }), el("dd", { text: words })))),
    el("div.row", {}, answerButtons(alarm, { onDone, onProblem: words => setText(problem, words) }),
      alarm.cycleId && el("a.button", { href: `#/cut/${encodeURIComponent(alarm.cycleId)}`, text: t("alarm.cut") })),
    problem,
    el("div", {}, el("h3", { text: t("alarm.what") }),
      el("ol.alarm-events", {}, events.map(event => el("li", {},
        el("time", { datetime: event.at, text: dayClock(event.at) }),
        el("strong", { text: word("alarmEvent", event.event ?? event.kind) }),
        el("span.muted", { text: event.who || t("alarmEvent.itself") }),
        event.note && el("q", { text: event.note }))))));
}
