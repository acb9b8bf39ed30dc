// What a person can answer to an alarm: which answers its state allows, the words that are asked for, and sending it.
import { post } from "./api.js";
import { el, once, say } from "./dom.js";
import { FieldError, askForm, field } from "./form-dialog.js";
import { isOpenAlarm, noteAlarm } from "./live.js";
import { gatewayNow, may } from "./site.js";
import { t } from "./text.js";

const UNTIL_H = [1, 4, 8, 24, 168];

/** The answers that an alarm takes now, the most urgent first. */
export function answersTo(alarm) {
  if (!may("operate"))
    return [];
  const answers = [];
  if (["unacknowledged", "returned_unacknowledged", "latched_unacknowledged"].includes(alarm.state))
    answers.push("acknowledge");
  if (alarm.state === "latched_acknowledged")
    answers.push("reset");
  if (alarm.state === "shelved")
    answers.push("unshelve");
  else if (isOpenAlarm(alarm) && alarm.state !== "out_of_service")
    answers.push("shelve");
  answers.push("comment");
  if (!alarm.verdict)
    answers.push("confirm", "reject");
  return answers;
}

/** The buttons for the answers. `only` limits them; `onDone` is called with the alarm as it is then. */
export function answerButtons(alarm, { only, onDone, onProblem }) {
  return answersTo(alarm).filter(answer => !only || only.includes(answer)).map((answer, i) => el("button.button", {
    type: "button",
    class: i === 0 && ["acknowledge", "reset"].includes(answer) ? "main" : "",
    "data-answer": answer,
    text: t(`alarm.${answer}`),
    on: {
      click: event => once(event.currentTarget, async () => {
        try {
          const changed = await give(alarm, answer);
          if (changed !== null)
            onDone?.(changed);
        } catch (error) {
          onProblem?.(error.message);
          say(error.message, true);
        }
      }),
    },
  }));
}

// Nothing is asked where nothing need be said: an acknowledgement is one press.
function give(alarm, answer) {
  return ["acknowledge", "reset", "unshelve"].includes(answer) ? send(alarm, answer, {}) : ask(alarm, answer);
}

async function send(alarm, answer, body) {
  const changed = await post(`/alarms/${alarm.number}/${answer}`, body);
  const after = changed.alarm ?? changed;
  noteAlarm(after);
  say(t(`alarm.done.${answer}`, { number: alarm.number }));
  return after;
}

function ask(alarm, answer) {
  const isNeeded = answer === "shelve" || answer === "comment";
  const note = el("textarea", { id: "answer-note", maxlength: 500, autofocus: true });
  const until = el("select", { id: "answer-until" }, UNTIL_H.map(hours => el("option", { value: hours, selected: hours === 8, text: t(`alarm.until.${hours}`) })));
  return askForm({
    title: t(`alarm.ask.${answer}`, { number: alarm.number }),
    body: [
      el("p", { text: alarm.text }),
      el("p.muted", { text: t(`alarm.help.${answer}`) }),
      answer === "shelve" && field("until", t("alarm.until"), until),
      field("note", t(answer === "shelve" ? "alarm.reason" : isNeeded ? "alarm.remark" : "alarm.remarkOptional"), note),
    ],
    send: t("alarm.send"),
    submit() {
      const words = note.value.trim();
      if (isNeeded && words === "")
        throw new FieldError({ note: [t("alarm.needed")] });
      return send(alarm, answer, answer === "shelve" ? { note: words, until: new Date(gatewayNow() + Number(until.value) * 3_600_000).toISOString() } : { note: words });
    },
  });
}
