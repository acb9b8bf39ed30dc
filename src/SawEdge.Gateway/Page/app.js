// The page: finds the view of the address, puts it in place, and keeps head, banner and the spoken words right.
import { askAgain, get, onTokenNeeded, setToken } from "./api.js";
import { definePatterns } from "./buckets.js";
import { display } from "./display.js";
import { el, put, say } from "./dom.js";
import { startLive } from "./live.js";
import { useUnits } from "./settings.js";
import { drawHead, markRoute } from "./shell.js";
import { clockDiffers, currentSite, setSite } from "./site.js";
import { loadText, t } from "./text.js";
import { askForToken } from "./token.js";
import { setZone } from "./units.js";
import { hasView, loadView, titleOf } from "./views.js";

const main = document.getElementById("main");
let mounted = null;
let turn = 0;

await begin();

async function begin() {
  takeTokenFromAddress();
  // The view comes on its way while words and site are asked for; what goes wrong with it is told where it is shown.
  const { name } = route();
  if (hasView(name))
    loadView(name).catch(() => { /* asked for again in show() */ });
  try {
    await loadText();
  } catch (error) {
    main.textContent = error.message;
    return;
  }
  document.getElementById("skip").textContent = t("shell.skip");
  document.getElementById("skip").addEventListener("click", event => { event.preventDefault(); main.focus(); });
  definePatterns();
  onTokenNeeded(askForToken);
  put(main, el("p.loading", { text: t("shell.loading") }));
  const site = await loadSite();
  setSite(site);
  useUnits(site.units);
  const isZoneKnown = setZone(site.timeZone);
  drawHead(site, isZoneKnown);
  startLive();
  keepClock();
  // What is written into the texts (quantities, times) is drawn anew; charts do it by themselves.
  document.addEventListener("unitschange", () => show(false));
  addEventListener("hashchange", () => { askAgain(); takeTokenFromAddress(); show(true); });
  await show(false);
}

// Nothing can be drawn before the site is known; a gateway that restarts is back within seconds.
async function loadSite() {
  for (;;) {
    try {
      return await get("/site");
    } catch (error) {
      await new Promise(resolve => {
        put(main, el("section.view", {}, el("div.empty", {},
          el("h1", { text: t("shell.noSite") }),
          el("p", { text: error.message }),
          el("button.button.main", { type: "button", text: t("shell.again"), on: { click: () => { askAgain(); resolve(); } } }))));
        if (!error.status || error.status >= 500)
          setTimeout(resolve, 5000);
      });
    }
  }
}

// A gateway's clock that differs from this one may also run differently; and one of two gateways takes over, or gives back.
function keepClock() {
  setInterval(async () => {
    if ((clockDiffers() || currentSite().standby) && !document.hidden)
      await get("/site").then(setSite, () => { /* the banner tells that the gateway is gone */ });
  }, 30_000);
}

/** The view of the address and what follows it: #/cut/ID?x=y. */
function route() {
  const [path, query] = location.hash.replace(/^#\/?/, "").split("?");
  const [name, ...rest] = path.split("/").map(decodePart);
  return { name: name || "bay", params: { path: rest, query: new URLSearchParams(query ?? "") } };
}

async function show(moves) {
  const mine = ++turn;
  const { name, params } = route();
  leave();
  if (name === "display") {
    mounted = { view: display };
    document.title = t("display.title");
    await display.mount(main, params);
    return;
  }
  markRoute(name);
  if (!hasView(name)) {
    put(main, problem(t("shell.noView", { name }), t("shell.noViewHelp")));
    return;
  }
  try {
    const view = await loadView(name);
    if (mine !== turn)
      return;
    const root = el("section.view", { class: `view-${name}` });
    put(main, root);
    mounted = { view };
    document.title = `${titleOf(view)} · SawEdge`;
    await view.mount(root, params);
    if (moves && mine === turn) {
      main.focus({ preventScroll: true });
      scrollTo(0, 0);
      say(titleOf(view));
    }
  } catch (error) {
    if (mine !== turn)
      return;
    console.error(error);
    put(main, problem(t("shell.broken"), error.message));
  }
}

function leave() {
  const last = mounted;
  mounted = null;
  try {
    last?.view.unmount();
  } catch (error) {
    console.error(error);
  }
}

function problem(title, words) {
  return el("section.view", {}, el("div.empty", { role: "alert" },
    el("h1", { text: title }), el("p", { text: words }), el("a.button", { href: "#/bay", text: t("nav.bay") })));
}

function takeTokenFromAddress() {
  const found = /[#&?]token=([^&]+)/.exec(location.hash);
  if (found === null)
    return;
  setToken(decodePart(found[1]));
  // The token must not stay where it is read over a shoulder or kept in the list of visited pages.
  const rest = location.hash.replace(found[0], "");
  history.replaceState(null, "", location.pathname + (rest.startsWith("#") || rest === "" ? rest : `#${rest}`));
}

function decodePart(text) {
  try { return decodeURIComponent(text); } catch { return text; }
}
