// A person enters that another blade is on a saw.

import { post } from "./api.js";
import { el, say } from "./dom.js";
import { t } from "./text.js";
import { minuteOf, momentOf } from "./plant-time.js";
import { currentZone } from "./units.js";

/**
 * Asks for a change of blade and sends it.
 * @param {{saws: string[], saw: string, at?: string, blade?: string, now: string, done: () => void}} wanted What is known already; what is done after it.
 */
export function askChange({ saws, saw, at, blade, now, done }) {
  const problem = el("p.problem", { role: "alert", hidden: true });
  const fields = {
    saw: el("select", { id: "change-saw", required: true }, saws.map(name => el("option", { value: name, selected: name === saw }, name))),
    at: el("input", { id: "change-at", type: "datetime-local", required: true, value: minuteOf(Date.parse(at ?? now)) }),
    blade: el("input", { id: "change-blade", value: blade ?? "", maxlength: "100", autocomplete: "off" }),
    note: el("textarea", { id: "change-note", maxlength: "500" }),
  };
  const send = el("button.button.main", { type: "submit" }, t("blades.change.save"));
  const dialog = el("dialog", { "aria-labelledby": "change-title" },
    el("form", { on: { submit: submit } },
      el("h2", { id: "change-title" }, t("blades.change.title")),
      el("p", null, t("blades.change.words")),
      field("saw"), field("at", t("blades.change.zone", { zone: currentZone() })), field("blade", t("blades.change.bladeHint")), field("note"),
      problem,
      el("div.row.row-end", null, el("button.button", { type: "button", on: { click: () => dialog.close() } }, t("blades.change.cancel")), send)));
  dialog.addEventListener("close", () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();

  function field(name, hint) {
    const control = fields[name];
    const trouble = el("span.problem", { id: `change-${name}-problem`, hidden: true });
    control.setAttribute("aria-describedby", `change-${name}-problem${hint ? ` change-${name}-hint` : ""}`);
    return el("div.field", null, el("label", { for: control.id }, t(`blades.change.${name}`)), control,
      hint && el("span.small.muted", { id: `change-${name}-hint` }, hint), trouble);
  }

  function mark(errors) {
    let first = null;
    for (const [name, control] of Object.entries(fields)) {
      const trouble = dialog.querySelector(`#change-${name}-problem`);
      const words = [errors[name] ?? []].flat().join(" ");
      trouble.textContent = words;
      trouble.hidden = words === "";
      control.setAttribute("aria-invalid", String(words !== ""));
      if (words !== "")
        first ??= control;
    }
    first?.focus();
    return first !== null;
  }

  async function submit(event) {
    event.preventDefault();
    const moment = momentOf(fields.at.value);
    problem.hidden = true;
    if (mark(moment !== null ? {} : { at: t("blades.change.atBad") }))
      return;
    send.disabled = true;
    try {
      // A proposal is a moment to the millisecond, which the field does not hold: it is sent as it was where nobody changed it.
      const exact = at && fields.at.value === minuteOf(Date.parse(at)) ? at : new Date(moment).toISOString();
      await post("/blades/changes", { saw: fields.saw.value, at: exact, blade: fields.blade.value.trim() || null, note: fields.note.value.trim() });
      dialog.close();
      say(t("blades.change.said", { saw: fields.saw.value }));
      done();
    } catch (error) {
      send.disabled = false;
      if (!mark(error.errors ?? {})) {
        problem.textContent = error.message;
        problem.hidden = false;
      }
    }
  }
}
