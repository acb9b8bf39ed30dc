// A person enters that another blade is on a saw.

import { get, post } from "./api.js";
import { el } from "./dom.js";
import { FieldError, askForm, field } from "./form-dialog.js";
import { minuteOf, momentOf } from "./plant-time.js";
import { t } from "./text.js";
import { currentZone } from "./units.js";

/**
 * Asks for a change of blade and sends it.
 * @param {{saws: string[], saw: string, at?: string, blade?: string, done: () => void}} wanted What is known already; what is done after it.
 */
export async function askChange({ saws, saw, at, blade, done }) {
  const asked = location.hash;

  // By the clock of the gateway: that of the browser may be wrong.
  const now = at ?? (await get("/site").catch(() => null))?.now ?? new Date().toISOString();

  // Who went elsewhere meanwhile wants no form there.
  if (location.hash !== asked)
    return;
  const which = el("select", { id: "change-saw", required: true }, saws.map(name => el("option", { value: name, selected: name === saw }, name)));
  const when = el("input", { id: "change-at", type: "datetime-local", required: true, value: minuteOf(Date.parse(now)) });
  const name = el("input", { id: "change-blade", value: blade ?? "", maxlength: "100", autocomplete: "off" });
  const note = el("textarea", { id: "change-note", maxlength: "500" });
  const isEntered = await askForm({
    title: t("blades.change.title"),
    body: [
      el("p", t("blades.change.words")),
      field("saw", t("blades.change.saw"), which),
      field("at", t("blades.change.at"), when, { hint: t("blades.change.zone", { zone: currentZone() }) }),
      field("blade", t("blades.change.blade"), name, { hint: t("blades.change.bladeHint") }),
      field("note", t("blades.change.note"), note),
    ],
    send: t("blades.change.save"),
    done: () => t("blades.change.said", { saw: which.value }),
    submit() {
      const moment = momentOf(when.value);
      if (moment === null)
        throw new FieldError({ at: [t("blades.change.atBad")] });

      // A proposal is a moment to the millisecond, which the field does not hold: it is sent as it was where nobody changed it.
      const exact = at && when.value === minuteOf(Date.parse(at)) ? at : new Date(moment).toISOString();
      return post("/blades/changes", { saw: which.value, at: exact, blade: name.value.trim() || null, note: note.value.trim() });
    },
  });
  if (isEntered)
    done();
}
