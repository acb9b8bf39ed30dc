// What people tell about a shift: why a saw stood, and which parts were not good. Nothing is overwritten: an entry can be withdrawn
// and stays in the audit trail.

import { del, get, post } from "./api.js";
import { bucketOf } from "./buckets.js";
import { el, put } from "./dom.js";
import { askForm, field } from "./form-dialog.js";
import { t } from "./text.js";
import { clock, dayClock, duration } from "./units.js";
import { jobName } from "./shift-strip.js";
import { nameOf } from "./time-buckets.js";

const CLASSES = ["delay", "down", "setup"];
const OWN = "\u0000own";

/**
 * Asks why a saw stood.
 * @param {object} stop saw, from, to (ms), bucket, reason, and what the list of stops knows of it: class, enteredBy, reasonId.
 * @param {Array<{reason: string, class: string}>} known The plant's reasons.
 * @returns {Promise<*>} What was answered; null where nothing was changed.
 */
export function askReason(stop, known) {
  const own = el("input", { id: "stop-own", maxlength: 100, autocomplete: "off" });
  const classes = el("select", { id: "stop-class" }, CLASSES.map(name => el("option", { value: name, text: t(`stop.class.${name}`) })));
  const ownPart = el("div.row", field("reason", t("stop.ownReason"), own), field("class", t("stop.class"), classes));
  const choices = [...known, { reason: OWN, class: null }];
  const current = known.some(one => one.reason === stop.reason) ? stop.reason : stop.enteredBy || known.length === 0 ? OWN : null;
  if (current === OWN) {
    own.value = stop.reason ?? "";
    classes.value = CLASSES.includes(stop.class) ? stop.class : "delay";
  }
  const radios = choices.map((one, i) => el("input", { type: "radio", name: "reason", id: `stop-reason-${i}`, value: one.reason, checked: one.reason === current, required: true, on: { change: show } }));
  const list = el("fieldset.reasons", el("legend", t("stop.why")), radios.map((radio, i) => el("label.reason", { for: radio.id }, radio,
    el("span", { text: choices[i].reason === OWN ? t("stop.other") : choices[i].reason }), choices[i].class ? el("span.muted.small", t(`stop.class.${choices[i].class}`)) : null)));
  const wanted = () => radios.findIndex(radio => radio.checked);
  function show() {
    ownPart.hidden = wanted() !== choices.length - 1;
    own.required = !ownPart.hidden;
  }
  show();

  return askForm({
    title: t("stop.title", { saw: stop.saw }),
    body: [
      el("p", t("stop.span", { from: dayClock(stop.from), to: clock(stop.to), length: duration((stop.to - stop.from) / 1000) })),
      el("p.muted", stop.enteredBy ? t("stop.enteredBy", { who: stop.enteredBy, reason: stop.reason }) : t("stop.now", { bucket: nameOf(bucketOf(stop.bucket)), reason: stop.reason || t("shift.noReason") })),
      list, ownPart,
    ],
    send: t("stop.send"),
    withdraw: stop.reasonId ? { text: t("stop.withdraw"), done: t("stop.withdrawn"), action: () => del(`/stops/reasons/${encodeURIComponent(stop.reasonId)}`) } : null,
    done: t("stop.done"),
    submit() {
      const one = choices[wanted()];
      const entry = one.reason === OWN ? { reason: own.value.trim(), class: classes.value } : one;
      return post("/stops/reasons", { saw: stop.saw, from: new Date(stop.from).toISOString(), to: new Date(stop.to).toISOString(), reason: entry.reason, class: entry.class });
    },
  });
}

/**
 * Asks which parts were not good: one cut, or the last ones before a time.
 * @param {{saw: string, cuts: object[], cycleId: string|null, until: number, reasons: string[]}} about The latest cut comes last.
 */
export function askScrap({ saw, cuts, cycleId, until, reasons }) {
  const parts = cuts.filter(cut => cut.outcome === "completed" || cut.outcome === "unobserved_start");
  const which = el("select", { id: "scrap-cut", on: { change: show } },
    el("option", { value: "", text: t("scrap.some") }),
    parts.toReversed().slice(0, 300).map(cut => el("option", { value: cut.cycleId, selected: cut.cycleId === cycleId, text: t("scrap.cut", { at: clock(cut.endedAt, true), job: jobName(cut.job) }) })));
  const quantity = el("input", { id: "scrap-quantity", type: "number", min: 1, max: Math.max(1, parts.length), step: 1, value: 1, required: true });
  const amount = field("quantity", t("scrap.quantity", { at: dayClock(nearest(until)) }), quantity);
  const why = el("input", { id: "scrap-why", list: "scrap-reasons", maxlength: 100, autocomplete: "off" });
  function show() {
    amount.hidden = which.value !== "";
    quantity.disabled = amount.hidden;
  }
  show();

  const entries = el("ul.entries");
  const dialog = {
    title: t("scrap.title", { saw }),
    body: [
      field("cycleId", t("scrap.which"), which), amount,
      field("reason", t("scrap.why"), why, { more: el("datalist", { id: "scrap-reasons" }, reasons.map(reason => el("option", { value: reason }))) }),
      entries,
    ],
    send: t("scrap.send"),
    done: t("scrap.done"),
    submit: () => post("/scrap", which.value !== ""
      ? { saw, cycleId: which.value, reason: why.value.trim() }
      : { saw, at: new Date(until).toISOString(), quantity: Number(quantity.value), reason: why.value.trim() }),
  };
  listEntries(entries, saw, parts, until, dialog);
  return askForm(dialog);
}

// What was entered already can be taken back in the same place.
async function listEntries(list, saw, parts, until, dialog) {
  try {
    const from = parts[0]?.startedAt ?? new Date(until - 86_400_000).toISOString();
    const answer = await get("/scrap", { saw, from, to: new Date(until + 1000).toISOString() });
    const items = answer.items.filter(entry => (entry.saw ?? saw) === saw && !entry.withdrawnAt);
    put(list, items.length > 0 ? el("li.muted", t("scrap.entered")) : null, items.map(entry => el("li.row",
      el("span", { text: entryWords(entry, parts) }),
      el("button.button.quiet", { type: "button", text: t("scrap.withdraw"), on: { click: event => dialog.leave(() => del(`/scrap/${encodeURIComponent(entry.id)}`), event.currentTarget, t("scrap.withdrawn")) } }))));
  } catch (error) {
    put(list, el("li.problem", { text: error.message }));
  }
}

// The last moment of a shift reads as its end.
const nearest = ms => Math.round(ms / 1000) * 1000;

function entryWords(entry, parts) {
  const cut = parts.find(part => part.cycleId === entry.cycleId);
  const what = cut ? t("scrap.cut", { at: clock(cut.endedAt, true), job: jobName(cut.job) }) : t("scrap.number", { count: entry.quantity ?? 1, at: dayClock(nearest(Date.parse(entry.at))) });
  return entry.reason ? `${what}: ${entry.reason}` : what;
}
