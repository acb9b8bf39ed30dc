// Asking in a dialog with one form: it closes when the gateway took what was entered, else it says in the gateway's words why not, beside
// the field where that is known.

import { el, once, say, setText } from "./dom.js";
import { t } from "./text.js";
import { dayClock } from "./units.js";

/** What is wrong with fields before anything is sent; `errors` is as that of an ApiError: name of the field to sentences. */
export class FieldError extends Error {
  /** @param {Object<string, string[]>} errors */
  constructor(errors) {
    super(Object.values(errors).flat().join(" "));
    this.errors = errors;
  }
}

/**
 * A field with its label and a place for what is wrong with it.
 * @param {string} name As the API calls it.
 * @param {string} label Its words.
 * @param {HTMLElement} control What is filled in; it has an id.
 * @param {{hint?: string, more?: Node}} [parts] A sentence below it; what else belongs to it.
 */
export function field(name, label, control, { hint, more } = {}) {
  control.setAttribute("aria-describedby", `${control.id}-problem${hint ? ` ${control.id}-hint` : ""}`);
  return el("div.field", { data: { field: name } }, el("label", { for: control.id, text: label }), control, more,
    hint && el("span.small.muted", { id: `${control.id}-hint`, text: hint }), el("span.problem", { id: `${control.id}-problem`, hidden: true }));
}

/**
 * Asks. It is left without an answer by Cancel, by Escape, and when the address changes.
 * @param {object} form title, body (nodes), send (the button's words), submit() (sends; throws what is wrong), done (what is said then, or what tells it);
 *   withdraw {text, action, done}, where there is something to take back. It is given leave(action, button, done), by which what stands
 *   in the body can end the dialog.
 * @returns {Promise<*>} What was answered; null where nothing was.
 */
export function askForm(form) {
  const before = document.activeElement;
  const key = before?.dataset?.key;
  const saw = before?.closest("[data-saw]")?.dataset.saw;
  const problem = el("p.problem", { role: "alert" });
  const send = el("button.button.main", { type: "submit", text: form.send });
  const withdraw = form.withdraw && el("button.button.danger", { type: "button", text: form.withdraw.text, on: { click: () => form.leave(form.withdraw.action, withdraw, form.withdraw.done) } });
  const cancel = el("button.button", { type: "button", text: t("form.cancel"), on: { click: () => dialog.close() } });
  const dialog = el("dialog", { "aria-labelledby": "form-title" },
    el("form", { on: { submit: event => { event.preventDefault(); form.leave(form.submit, send, form.done); } } },
      el("h2", { id: "form-title", text: form.title }), form.body, problem, el("div.row.row-end", {}, withdraw, cancel, send)));
  let answer = null;
  let sending = null;
  form.leave = (action, button, done) => {
    sending = once(button, async () => {
      setText(problem, "");
      mark(dialog, {});
      try {
        answer = await action() ?? true;
        if (done)
          say(typeof done === "function" ? done() : done);
        dialog.close();
      } catch (error) {
        // Who went on meanwhile is told all the same.
        if (dialog.open)
          setText(problem, mark(dialog, error.errors ?? {}) ? "" : readable(error.message));
        else
          say(error.message, true);
      }
    });
  };
  const onMove = () => dialog.close();
  addEventListener("hashchange", onMove);
  document.body.append(dialog);
  dialog.showModal();
  return new Promise(resolve => dialog.addEventListener("close", async () => {
    removeEventListener("hashchange", onMove);
    dialog.remove();

    // What was clicked may have been drawn anew meanwhile.
    const again = before?.isConnected ? before : key && saw ? document.querySelector(`[data-saw="${CSS.escape(saw)}"] [data-key="${CSS.escape(key)}"]`) : null;
    again?.focus({ preventScroll: true });

    // Closed while something is on its way: it may still come to something.
    await sending;
    resolve(answer);
  }));
}

// The gateway's words for a parameter begin small, and name moments as machines do.
const readable = words => words.charAt(0).toUpperCase() + words.slice(1).replace(/\d{4}-\d\d-\d\dT[\d:.]+Z/g, moment => dayClock(moment));

// Writes what is wrong beside the fields and goes to the first; tells whether all of it has found its place.
function mark(dialog, errors) {
  const open = new Set(Object.keys(errors));
  let first = null;
  for (const node of dialog.querySelectorAll("[data-field]")) {
    const words = node.hidden || node.closest("[hidden]") ? "" : readable((errors[node.dataset.field] ?? []).join(" "));
    const control = node.querySelector("input, select, textarea");
    const trouble = node.querySelector(":scope > .problem");
    setText(trouble, words);
    trouble.hidden = words === "";
    if (words === "") {
      control.removeAttribute("aria-invalid");
      continue;
    }
    control.setAttribute("aria-invalid", "true");
    open.delete(node.dataset.field);
    first ??= control;
  }
  first?.focus();
  return first !== null && open.size === 0;
}
