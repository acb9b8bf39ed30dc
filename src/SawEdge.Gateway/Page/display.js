// The display over the bay: full screen, large, turning through views by itself. Space holds it, arrows turn it, Escape ends it.
// Address: #/display?views=bay,shift,alarms&seconds=20
import { el, put, setText, setVar } from "./dom.js";
import { listen, pressingAlarms } from "./live.js";
import { gatewayNow } from "./site.js";
import { t } from "./text.js";
import { clock } from "./units.js";
import { hasView, loadView } from "./views.js";

const VIEWS = ["bay", "shift", "alarms"];
const SECONDS = 20;
const LEAST_SECONDS = 5;
let running = null;

/** Whether the display is on. */
export const isDisplay = () => running !== null;

/** Goes full screen where the browser lets it; only a person's click can ask for that. */
export function enterDisplay() {
  document.documentElement.requestFullscreen?.().catch(() => { /* the window stays as it is; the display still turns */ });
  location.hash = "#/display";
}

export const display = {
  async mount(main, params) {
    const named = (params.query.get("views") ?? "").split(",").filter(hasView);
    const wanted = named.length > 0 ? named : VIEWS;
    const seconds = Math.max(LEAST_SECONDS, Number(params.query.get("seconds")) || SECONDS);
    const stage = el("section.view.display-stage");
    const marks = wanted.map(name => el("li", { text: t(`nav.${name}`) }));
    const time = el("span.display-clock");
    const hold = el("button.button.quiet", { type: "button", "aria-pressed": "false", text: t("display.hold"), on: { click: () => holdOrTurn() } });
    const urgent = el("p.display-alarm");
    const bar = el("div.display-bar", {}, el("ol.display-marks", {}, marks), urgent, hold, el("a.button.quiet", { href: "#/bay", text: t("display.leave") }), time);
    document.documentElement.classList.add("is-display");
    document.dispatchEvent(new CustomEvent("displaychange"));
    put(main, stage, bar);
    const state = running = { at: -1, isHeld: false, view: null, timers: [], turn: 0, wake: null, onKey: null };
    const holdOrTurn = () => {
      state.isHeld = !state.isHeld;
      hold.setAttribute("aria-pressed", String(state.isHeld));
      bar.classList.toggle("is-held", state.isHeld);
    };
    const turnTo = async step => {
      // A view with more than fits turns its own pages first.
      if (step > 0 && state.view?.nextPage?.()) {
        state.left = seconds;
        return;
      }
      const mine = ++state.turn;
      state.at = (state.at + step + wanted.length) % wanted.length;
      end(state);
      marks.forEach((mark, i) => i === state.at ? mark.setAttribute("aria-current", "true") : mark.removeAttribute("aria-current"));
      state.left = seconds;
      const name = wanted[state.at];
      try {
        const view = await loadView(name);
        if (mine !== state.turn || running !== state)
          return;
        const root = el("div", { class: `view-${name}` });
        put(stage, root);
        state.view = view;
        await view.mount(root, { path: [], query: new URLSearchParams(), isDisplay: true });
      } catch (error) {
        console.error(error);
        put(stage, el("p.note.bad", { text: error.message }));
      }
    };
    // What is urgent stands below every view, whichever is shown.
    const drawUrgent = () => {
      const high = pressingAlarms().filter(alarm => alarm.severity === "high" && alarm.active);
      setText(urgent, high.length ? high[0].text + (high.length > 1 ? ` (${t("alarms.hidden", { count: high.length - 1 })})` : "") : "");
      urgent.hidden = high.length === 0;
    };
    drawUrgent();
    state.stop = listen(what => { if (what === "alarm") drawUrgent(); });
    state.onKey = event => {
      if (event.key === "Escape") location.hash = "#/bay";
      else if (event.key === "ArrowRight") turnTo(1);
      else if (event.key === "ArrowLeft") turnTo(-1);
      else if (event.key === " " && event.target.tagName !== "BUTTON") { event.preventDefault(); holdOrTurn(); }
    };
    document.addEventListener("keydown", state.onKey);
    const tick = () => {
      setText(time, clock(gatewayNow()));
      if (wanted.length < 2 || state.isHeld)
        return;
      state.left -= 1;
      setVar(bar, "--gone", String(1 - state.left / seconds));
      if (state.left <= 0)
        turnTo(1);
    };
    state.timers.push(setInterval(tick, 1000));
    keepAwake(state);
    await turnTo(1);
    tick();
  },

  unmount() {
    const state = running;
    running = null;
    if (state === null)
      return;
    state.timers.forEach(clearInterval);
    state.stop();
    document.removeEventListener("keydown", state.onKey);
    state.wake?.release().catch(() => { /* let go already */ });
    end(state);
    document.documentElement.classList.remove("is-display");
    document.dispatchEvent(new CustomEvent("displaychange"));
    if (document.fullscreenElement)
      document.exitFullscreen().catch(() => { /* left already */ });
  },
};

function end(state) {
  const view = state.view;
  state.view = null;
  try {
    view?.unmount();
  } catch (error) {
    console.error(error);
  }
}

// A display that goes dark shows nothing; where the browser has no such request, the system's own setting decides.
async function keepAwake(state) {
  try {
    state.wake = await navigator.wakeLock?.request("screen");
  } catch { /* refused: as above */ }
}
