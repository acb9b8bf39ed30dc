// Head, navigation, banner: what stands around every view.
import { settingsMenu } from "./settings.js";
import { enterDisplay } from "./display.js";
import { el, put, say, setText, svg } from "./dom.js";
import { connection, freshness, allSaws, isOpenAlarm, listen, pressingAlarms } from "./live.js";
import { currentSite, gatewayNow } from "./site.js";
import { t } from "./text.js";
import { age, clock } from "./units.js";

const ROUTES = ["bay", "shift", "oee", "cuts", "blades", "alarms"];
// What one of two gateways says that does not watch its saws.
const IDLE = { standby: "standby.standby", waiting: "standby.waiting", yielding: "standby.yielding" };
const links = {};
const count = el("span.nav-count");
const pulse = el("span.pulse");
const time = el("span.head-clock");
const spoken = new Map();

/** Draws the head once. */
export function drawHead(site, isZoneKnown) {
  for (const name of ROUTES) {
    links[name] = el("a", { href: `#/${name}` }, icon(name), el("span", { text: t(`nav.${name}`) }), name === "alarms" && count);
  }
  put(document.getElementById("head"),
    el("a.brand", { href: "#/bay", title: t("shell.version", { version: site.version }) }, mark(), el("span", { text: site.site || site.gateway || "SawEdge" })),
    el("nav.nav", { "aria-label": t("nav.label") }, ROUTES.map(name => links[name])),
    el("div.head-end", {}, pulse, time, settingsMenu(enterDisplay)));
  put(document.getElementById("foot"), el("span", { text: t(isZoneKnown ? "shell.zone" : "shell.zoneUnknown", { zone: site.timeZone }) }));
  listen(onLive);
  setInterval(tick, 1000);
  tick();
  drawCount();
}

/** Marks the view that is shown. */
export function markRoute(name) {
  for (const [route, link] of Object.entries(links)) {
    if (route === name || (route === "cuts" && name === "cut"))
      link.setAttribute("aria-current", "page");
    else
      link.removeAttribute("aria-current");
  }
}

function onLive(what, about) {
  if (what === "alarm") {
    drawCount();
    if (about !== null)
      speak(about);
  } else if (what === "connection") {
    tick();
  }
}

// An alarm is spoken when it becomes one that waits for a person, not with each word that is added to it.
function speak(alarm) {
  const waits = isOpenAlarm(alarm) && alarm.active && alarm.state === "unacknowledged";
  if (waits && spoken.get(alarm.number) !== alarm.activations)
    say(t("alarm.spoken", { severity: t(`severity.${alarm.severity}`), text: alarm.text || alarm.rule }), alarm.severity === "high");
  if (waits)
    spoken.set(alarm.number, alarm.activations);
  else if (!isOpenAlarm(alarm))
    spoken.delete(alarm.number);
}

function drawCount() {
  const open = pressingAlarms();
  const waiting = open.filter(alarm => alarm.state === "unacknowledged");
  count.hidden = open.length === 0;
  count.className = `nav-count ${waiting[0]?.severity ?? "quiet"}`;
  setText(count, String(open.length));
  count.setAttribute("aria-label", t("nav.openAlarms", { count: open.length }));
}

function tick() {
  setText(time, clock(gatewayNow()));
  const { isOpen, since, trouble } = connection();
  const banner = document.getElementById("banner");
  const gone = (Date.now() - since) / 1000;
  // A short gap is not worth frightening anyone: the page connects again by itself within seconds.
  const isLost = !isOpen && gone > 6;
  const silent = allSaws().filter(saw => freshness(saw) !== "fresh").length;
  const isQuiet = isOpen && silent > 0 && silent === allSaws().length;
  pulse.className = `pulse ${isOpen ? (isQuiet ? "quiet" : "open") : "lost"}`;
  setText(pulse, t(isOpen ? (isQuiet ? "live.quiet" : "live.open") : isLost ? "live.lost" : "live.connecting"));
  const idle = IDLE[currentSite().standby];
  banner.classList.toggle("is-shown", isLost || Boolean(idle));
  banner.classList.toggle("is-idle", !isLost && Boolean(idle));
  document.documentElement.classList.toggle("is-lost", isLost);
  setText(banner, isLost ? t("live.banner", { since: clock(since), reason: trouble?.message ?? "" }) : idle ? t(idle) : "");
  pulse.title = isOpen ? t("live.since", { age: age(gone) }) : "";
}

// The mark: teeth of a band that runs through stock.
const mark = () => svg("svg.mark", { viewBox: "0 0 32 32", "aria-hidden": "true" },
  svg("path", { d: "M2 13V8h28v5l-2.3 6-2.4-6-2.3 6-2.4-6-2.3 6-2.3-6-2.3 6-2.4-6-2.3 6-2.4-6-2.3 6z" }), svg("path.mark-stock", { d: "M2 26h28" }));

const ICONS = {
  bay: "M3 20V9h18v11M3 13h18M8 13v7M16 13v7M3 9l9-5 9 5",
  shift: "M3 6h18M3 12h11M17 12h4M3 18h6M12 18h9",
  oee: "M4 20V10h4v10M10 20V4h4v16M16 20v-7h4v7M2 20h20",
  cuts: "M3 3h7v18H3zM14 6h7M14 10h4M14 14h6M14 18h7",
  blades: "M2 9h20v4l-2.5 5-2.5-5-2.5 5-2.5-5-2.5 5L7 13l-2.5 5L2 13z",
  alarms: "M12 3l10 17H2zM12 10v4M12 17v.5",
};

const icon = name => svg("svg.icon", { viewBox: "0 0 24 24", "aria-hidden": "true" }, svg("path", { d: ICONS[name] }));
