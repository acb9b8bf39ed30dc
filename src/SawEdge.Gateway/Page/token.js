// Asks the person for a token, where the gateway wants one.
import { el } from "./dom.js";
import { t } from "./text.js";

/**
 * Opens the dialog.
 * @param {boolean} wasRefused Whether a token was there and was refused.
 * @returns {Promise<string|null>} The token; null where the person wants none.
 */
export function askForToken(wasRefused) {
  return new Promise(resolve => {
    const input = el("input", { id: "token", type: "password", autocomplete: "off", spellcheck: "false", required: true, "aria-describedby": "token-help" });
    let token = null;
    const dialog = el("dialog.token-dialog", { "aria-labelledby": "token-title" },
      el("form", { method: "dialog", on: { submit: () => { token = input.value.trim(); } } },
        el("h2", { id: "token-title", text: t("token.title") }),
        wasRefused && el("p.note.bad", { text: t("token.refused") }),
        el("p", { id: "token-help", text: t("token.help") }),
        el("p", {}, el("code", { text: "sawedge token make NAME --role view" })),
        el("div.field", {}, el("label", { for: "token", text: t("token.label") }), input),
        el("div.row.row-end", {},
          el("button.button.quiet", { type: "button", on: { click: () => dialog.close() }, text: t("token.cancel") }),
          el("button.button.main", { type: "submit", text: t("token.use") }))));
    dialog.addEventListener("close", () => { dialog.remove(); resolve(token || null); });
    document.body.append(dialog);
    dialog.showModal();
  });
}
