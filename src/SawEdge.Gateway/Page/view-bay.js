// The bay now: every saw, what it does, how far the cut is, its load against what is expected, open alarms, age of the data.
import { el, put, setText, setVar } from "./dom.js";
import { lane } from "./lane.js";
import { allSaws, connection, freshness, listen, pressingAlarms } from "./live.js";
import { t } from "./text.js";

export const title = () => t("bay.title");

// What fits on a display at once: columns and rows for a number of saws.
const LAYOUTS = [[1, 1, 1], [2, 1, 2], [3, 1, 3], [4, 2, 2], [6, 3, 2], [9, 3, 3]];

// The least size of a lane on a display that stands upright, px: there the columns follow the width.
const LEAST_WIDTH = 340;
const LEAST_HEIGHT = 260;

// So few saws get the whole width of a large screen, one below the other: a trace is time, which wants width.
const FEW = 3;
let view = null;

export function mount(root, params) {
  const mine = view = { lanes: new Map(), page: 0, isDisplay: params.isDisplay === true, end: null, timer: 0, seen: null };
  mine.summary = el("p.bay-summary");
  mine.list = el("div.bay-lanes");
  mine.empty = el("div");
  put(root, el("header.view-head", {}, el("div", {}, el("h1", { text: t("bay.title") }), mine.summary)), mine.empty, mine.list);
  mine.seen = new IntersectionObserver(entries => {
    for (const entry of entries)
      mine.lanes.get(entry.target.dataset.saw)?.show(entry.isIntersecting);
  });
  mine.end = listen(what => {
    if (what === "saw")
      mine.isDirty = true;
    else
      arrange(mine);
  });
  mine.redraw = () => draw(mine);
  document.addEventListener("themechange", mine.redraw);
  // Twice a second is what the stream brings; drawing more often would show nothing new.
  mine.timer = setInterval(mine.redraw, 500);
  mine.resized = () => arrange(mine);
  addEventListener("resize", mine.resized);
  arrange(mine);
}

export function unmount() {
  const last = view;
  view = null;
  if (last === null)
    return;
  clearInterval(last.timer);
  last.end();
  last.seen.disconnect();
  for (const one of last.lanes.values())
    one.end();
  removeEventListener("resize", last.resized);
  document.removeEventListener("themechange", last.redraw);
  setVar(document.documentElement, "--display-scale", "1");
}

/** Turns to the next saws of the display; false where there are no more. */
export function nextPage() {
  if (view === null || (view.page + 1) * most(view) >= allSaws().length)
    return false;
  view.page++;
  arrange(view);
  return true;
}

// Columns and rows of a display for a number of saws.
function layoutFor(count) {
  if (innerWidth >= innerHeight)
    return LAYOUTS.find(([most]) => count <= most) ?? LAYOUTS.at(-1);
  const columns = Math.max(1, Math.min(3, Math.floor(innerWidth / LEAST_WIDTH)));
  const rows = Math.max(1, Math.min(Math.ceil(count / columns), Math.floor(innerHeight / LEAST_HEIGHT) - 1));
  return [columns * rows, columns, rows];
}

const most = mine => mine.isDisplay ? layoutFor(allSaws().length)[0] : Infinity;

// Saws stay where they are in the order of the site: people look for them by place.
function arrange(mine) {
  const all = allSaws();
  const saws = mine.isDisplay ? all.slice(mine.page * most(mine), (mine.page + 1) * most(mine)) : all;
  const names = saws.map(saw => saw.name);
  if (names.join("\n") !== [...mine.lanes.keys()].join("\n")) {
    mine.seen.disconnect();
    const kept = mine.lanes;
    mine.lanes = new Map(saws.map(saw => [saw.name, kept.get(saw.name) ?? lane(saw)]));
    for (const [name, one] of kept)
      if (!mine.lanes.has(name))
        one.end();
    put(mine.list, [...mine.lanes.values()].map(one => one.node));
    for (const one of mine.lanes.values())
      mine.seen.observe(one.node);
  }
  const [, columns, rows] = layoutFor(saws.length);
  setVar(mine.list, "--columns", String(columns));
  setVar(mine.list, "--rows", String(rows));
  setVar(mine.list, "--count", String(Math.max(1, saws.length)));
  mine.list.classList.toggle("is-few", saws.length <= FEW);
  // Nine saws need smaller type than six, and have no room for their jobs.
  const isDense = mine.isDisplay && columns > 2 && rows > 2;
  mine.list.classList.toggle("is-dense", isDense);
  setVar(document.documentElement, "--display-scale", isDense ? ".76" : "1");
  mine.list.hidden = saws.length === 0;
  mine.empty.hidden = saws.length > 0;
  put(mine.empty, saws.length > 0 ? null : connection().isOpen ? noSaws() : el("p.loading", { text: t("bay.waiting") }));
  draw(mine);
}

function draw(mine) {
  if (document.hidden)
    return;
  const now = Date.now();
  const alarms = pressingAlarms();
  for (const saw of allSaws())
    mine.lanes.get(saw.name)?.draw(saw, alarms.filter(alarm => alarm.saw === saw.name), now);
  // After all words: each change of words between two canvases would be laid out by itself.
  for (const one of mine.lanes.values())
    one.trace();
  setText(mine.summary, summary(now, alarms.length));
}

function summary(now, alarms) {
  const saws = allSaws();
  if (saws.length === 0)
    return "";
  const unseen = saws.filter(saw => ["stale", "never"].includes(freshness(saw, now))).length;
  const running = saws.filter(saw => saw.state === "executing" && !["stale", "never"].includes(freshness(saw, now))).length;
  return [
    t("bay.running", { count: running, of: saws.length }),
    unseen > 0 && t("bay.unseen", { count: unseen }),
    alarms > 0 ? t("nav.openAlarms", { count: alarms }) : t("bay.noAlarms"),
  ].filter(Boolean).join(" · ");
}

const noSaws = () => el("div.empty", {},
  el("h2", { text: t("bay.empty") }),
  el("p", { text: t("bay.emptyHelp") }),
  el("p", {}, el("code", { text: "sawedge check sawedge.json" })));
