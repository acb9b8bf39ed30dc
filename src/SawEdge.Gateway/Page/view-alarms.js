// Alarms: what is open and waits for an answer, what was, and whether they can be heeded.
// #/alarms, #/alarms/history, #/alarms/health, #/alarms/NUMBER; ?saw=NAME
import { alarmCard, alarmSheet } from "./alarm-card.js";
import { drawHealth } from "./alarm-health.js";
import { drawHistory } from "./alarm-history.js";
import { get } from "./api.js";
import { el, put, setText } from "./dom.js";
import { connection, listen, openAlarms, readable } from "./live.js";
import { currentSite, gatewayNow, may } from "./site.js";
import { t } from "./text.js";

export const title = () => t("alarms.title");

// What is read from five metres: more would have to be smaller.
const ON_DISPLAY = 6;
let view = null;

export async function mount(root, params) {
  const [which = "open"] = params.path;
  const mine = view = { root, isDisplay: params.isDisplay === true, saw: params.query.get("saw"), cards: new Map(), ends: new AbortController(), stops: [] };
  mine.body = el("div.stack");
  put(root, el("header.view-head", {}, el("h1", { text: title() }), mine.isDisplay ? null : el("div.row", {}, tabs(which, mine.saw), which !== "health" && !/^\d+$/.test(which) && sawChoice(mine, which))), mine.body);
  if (/^\d+$/.test(which))
    await showOne(mine, which);
  else if (which === "history")
    await drawHistory(mine.body, mine.saw, mine.ends.signal);
  else if (which === "health")
    await showHealth(mine, 30);
  else
    showOpen(mine);
}

export function unmount() {
  const last = view;
  view = null;
  last?.ends.abort();
  last?.stops.forEach(stop => stop());
}

const tabs = (which, saw) => el("nav.choice", { "aria-label": t("alarms.views") }, ["open", "history", "health"].map(name =>
  el("a", { href: `#/alarms${name === "open" ? "" : `/${name}`}${saw ? `?saw=${encodeURIComponent(saw)}` : ""}`, "aria-current": name === which ? "true" : null, text: t(`alarms.${name}`) })));

function sawChoice(mine, which) {
  const names = currentSite().saws.map(saw => saw.name);
  if (names.length < 2)
    return null;
  const choice = el("select", { id: "alarm-saw", on: { change: () => { location.hash = `#/alarms${which === "open" ? "" : `/${which}`}${choice.value ? `?saw=${encodeURIComponent(choice.value)}` : ""}`; } } },
    el("option", { value: "", text: t("alarms.allSaws") }), names.map(name => el("option", { value: name, selected: name === mine.saw, text: name })));
  return el("div.row", {}, el("label.muted", { for: "alarm-saw", text: t("alarms.saw") }), choice);
}

function showOpen(mine) {
  mine.list = el("div.alarm-list");
  mine.empty = el("div");
  mine.rest = el("p.figure");
  put(mine.body, !mine.isDisplay && !may("operate") && el("p.note", { text: t("alarms.onlyLook") }), mine.empty, mine.list, mine.rest);
  const draw = () => drawOpen(mine);
  mine.stops.push(listen(what => { if (what === "alarm" || what === "connection") draw(); }));
  const timer = setInterval(draw, 5000);
  mine.stops.push(() => clearInterval(timer));
  draw();
}

function drawOpen(mine) {
  const all = openAlarms().filter(alarm => !mine.saw || alarm.subject === mine.saw);
  const shown = mine.isDisplay ? all.slice(0, ON_DISPLAY) : all;
  const now = gatewayNow();
  const cards = new Map(shown.map(alarm => [alarm.number, mine.cards.get(alarm.number) ?? alarmCard({ isDisplay: mine.isDisplay })]));
  const order = [...cards.keys()].join();
  if (order !== [...mine.cards.keys()].join()) {
    // Moving an element takes the focus from it: a press on the keyboard must not end nowhere.
    const at = document.activeElement;
    const held = mine.list.contains(at) ? at : null;
    put(mine.list, [...cards.values()].map(card => card.node));
    if (held !== null && held.isConnected)
      held.focus({ preventScroll: true });
    else if (held !== null)
      (mine.list.querySelector("button, a") ?? document.getElementById("main")).focus();
  }
  mine.cards = cards;
  for (const alarm of shown)
    cards.get(alarm.number).draw(alarm, now);
  setText(mine.rest, all.length > shown.length ? t("alarms.hidden", { count: all.length - shown.length }) : "");
  const isKnown = connection().isOpen;
  put(mine.empty, all.length > 0 ? null : !isKnown ? el("p.loading", { text: t("bay.waiting") }) : el("div.empty", {},
    el("h2", { text: mine.saw ? t("alarms.noneOfSaw", { saw: mine.saw }) : t("alarms.none") }),
    el("p", { text: t("alarms.noneHelp") }),
    mine.isDisplay ? null : el("a.button", { href: `#/alarms/history${mine.saw ? `?saw=${encodeURIComponent(mine.saw)}` : ""}`, text: t("alarms.history") })));
}

async function showOne(mine, number) {
  put(mine.body, el("p.loading", { text: t("shell.loading") }));
  const draw = async () => {
    const found = await get(`/alarms/${number}`, undefined, mine.ends.signal);
    if (view !== mine)
      return;
    const hadFocus = mine.body.contains(document.activeElement);
    put(mine.body, el("p", {}, el("a", { href: "#/alarms", text: t("alarms.back") })), el("h2", { text: t("alarm.title", { number }) }), alarmSheet({ ...found, alarm: readable(found.alarm) }, draw));
    if (hadFocus)
      mine.body.querySelector(".alarm-sheet button, .alarm-sheet a")?.focus();
  };
  await draw();
  mine.stops.push(listen((what, alarm) => {
    if (what === "alarm" && String(alarm?.number) === number && document.querySelector("dialog[open]") === null)
      draw().catch(error => { if (error.name !== "AbortError") console.error(error); });
  }));
}

async function showHealth(mine, days) {
  await drawHealth(mine.body, days, chosen => showHealth(mine, chosen).catch(error => { if (error.name !== "AbortError") put(mine.body, el("p.note.bad", { role: "alert", text: error.message })); }), mine.ends.signal);
}
