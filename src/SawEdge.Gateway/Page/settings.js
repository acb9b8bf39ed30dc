// What the person chose for this browser: units and theme, kept in its local storage; nothing of it leaves the browser.
import { el } from "./dom.js";
import { hasToken, setToken } from "./api.js";
import { t } from "./text.js";
import { setUnits } from "./units.js";

const UNITS = "sawedge.units";
let plantUnits = "metric";

/** Takes the plant's own units; they hold where the person chose none. */
export function useUnits(ofPlant) {
  plantUnits = ofPlant === "inch" ? "inch" : "metric";
  applyUnits();
}

/** The menu with the switches. */
export function settingsMenu(onDisplay) {
  const menu = el("details.menu", {},
    el("summary.button.quiet", { text: t("settings.title") }),
    el("div.menu-sheet.stack", {},
      choice("settings.theme", ["auto", "light", "dark"], window.sawedgeTheme.get(), window.sawedgeTheme.set),
      choice("settings.units", ["plant", "metric", "inch"], chosenUnits() ?? "plant", chooseUnits),
      el("button.button", { type: "button", text: t("settings.display"), on: { click: () => { menu.open = false; onDisplay(); } } }),
      hasToken() && el("button.button", { type: "button", text: t("settings.forget"), on: { click: () => { setToken(null); location.reload(); } } }),
      el("p.small.muted", { text: t("settings.about") }),
      el("a.small", { href: "/page/third-party.txt", text: t("settings.licences") })));
  menu.addEventListener("keydown", event => {
    if (event.key === "Escape" && menu.open) {
      menu.open = false;
      menu.querySelector("summary").focus();
    }
  });
  document.addEventListener("click", event => { if (!menu.contains(event.target)) menu.open = false; });
  return menu;
}

function choice(key, options, chosen, choose) {
  const buttons = options.map(option => el("button", {
    type: "button",
    "aria-pressed": String(option === chosen),
    text: t(`${key}.${option}`),
    on: {
      click: event => {
        for (const button of buttons)
          button.setAttribute("aria-pressed", String(button === event.currentTarget));
        choose(option);
      },
    },
  }));
  return el("div.field", { role: "group", "aria-label": t(key) }, el("span.label", { text: t(key) }), el("div.choice", {}, buttons));
}

function chosenUnits() {
  try { return localStorage.getItem(UNITS); } catch { return null; }
}

function chooseUnits(units) {
  try { units === "plant" ? localStorage.removeItem(UNITS) : localStorage.setItem(UNITS, units); } catch { /* no storage: the plant's units stay */ }
  applyUnits();
}

function applyUnits() {
  setUnits(chosenUnits() ?? plantUnits);
  document.dispatchEvent(new CustomEvent("unitschange"));
}
