// What a person can answer to an alarm: which answers its state allows, the words that are asked for, and sending it.
import { post } from "./api.js";
import { el, say } from "./dom.js";
import { isOpenAlarm, noteAlarm } from "./live.js";
import { may } from "./site.js";
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
      click: async event => {
        const button = event.currentTarget;
        button.disabled = true;
        try {
          const changed = await give(alarm, answer);
          if (changed !== null)
            onDone?.(changed);
        } catch (error) {
          onProblem?.(error.message);
          say(error.message, true);
        } finally {
          button.disabled = false;
        }
      },
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
  return new Promise(resolve => {
    const isNeeded = answer === "shelve" || answer === "comment";
    const note = el("textarea", { id: "answer-note", maxlength: 500, "aria-describedby": "answer-problem" });
    const problem = el("p.problem", { id: "answer-problem", role: "alert" });
    const until = el("select", { id: "answer-until" }, UNTIL_H.map(hours => el("option", { value: hours, selected: hours === 8, text: t(`alarm.until.${hours}`) })));
    let done = null;
    const submit = async event => {
      event.preventDefault();
      note.setAttribute("aria-invalid", "false");
      problem.textContent = "";
      if (isNeeded && note.value.trim() === "") {
        note.setAttribute("aria-invalid", "true");
        problem.textContent = t("alarm.needed");
        note.focus();
        return;
      }
      const body = { note: note.value.trim() };
      if (answer === "shelve")
        body.until = new Date(Date.now() + Number(until.value) * 3_600_000).toISOString();
      try {
        done = await send(alarm, answer, body);
        dialog.close();
      } catch (error) {
        problem.textContent = error.message;
      }
    };
    const dialog = el("dialog", { "aria-labelledby": "answer-title" },
      el("form", { on: { submit } },
        el("h2", { id: "answer-title", text: t(`alarm.ask.${answer}`, { number: alarm.number }) }),
        el("p", { text: alarm.text }),
        el("p.muted", { text: t(`alarm.help.${answer}`) }),
        answer === "shelve" && el("div.field", {}, el("label", { for: "answer-until", text: t("alarm.until") }), until),
        el("div.field", {}, el("label", { for: "answer-note", text: t(answer === "shelve" ? "alarm.reason" : isNeeded ? "alarm.remark" : "alarm.remarkOptional") }), note, problem),
        el("div.row.row-end", {},
          el("button.button.quiet", { type: "button", text: t("alarm.cancel"), on: { click: () => dialog.close() } }),
          el("button.button.main", { type: "submit", text: t("alarm.send") }))));
    dialog.addEventListener("close", () => { dialog.remove(); resolve(done); });
    document.body.append(dialog);
    dialog.showModal();
    note.focus();
  });
}
