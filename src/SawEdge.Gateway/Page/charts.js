// Apache ECharts (Apache License 2.0) in the page's own colours. It is loaded when the first chart is drawn, draws on
// a canvas and builds no markup, so that it lives under the page's content security policy.
import { el } from "./dom.js";
import { bucketColour, bucketOf } from "./buckets.js";

let loading = null;

/** Loads the charts once. */
export function loadCharts() {
  loading ??= new Promise((resolve, reject) => {
    const script = el("script", { src: "/page/echarts.js" });
    script.addEventListener("load", () => resolve(window.echarts));
    script.addEventListener("error", () => { loading = null; script.remove(); reject(new Error("/page/echarts.js could not be loaded.")); });
    document.head.append(script);
  });
  return loading;
}

/** A colour of the theme that holds, by the name of its custom property ("--copper"), as charts and canvases take it. */
export function colour(name) {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

const LIGHT_MARKS = new Set(["stopsByReason", "setup", "scrapTime"]);
const DECALS = {
  slowCutting: { symbol: "rect", dashArrayX: [1, 0], dashArrayY: [2, 5], rotation: Math.PI / 4 },
  handling: { symbol: "rect", dashArrayX: [1, 0], dashArrayY: [1, 5] },
  slowHandling: { symbol: "circle", dashArrayX: [[6, 6], [0, 6, 6, 0]], dashArrayY: [6, 0], symbolSize: .5 },
  shortStops: { symbol: "rect", dashArrayX: [1, 0], dashArrayY: [1.5, 5], rotation: Math.PI / 2 },
  stopsByReason: { symbol: "triangle", dashArrayX: [[8, 4], [4, 8]], dashArrayY: [8, 0], symbolSize: .6 },
  setup: { symbol: "rect", dashArrayX: [1, 0], dashArrayY: [1.5, 6], rotation: -Math.PI / 4 },
  scrapTime: { symbol: "rect", dashArrayX: [[4, 4], [0, 4, 4, 0]], dashArrayY: [4, 0] },
  unknown: { symbol: "rect", dashArrayX: [1, 0], dashArrayY: [1, 8], rotation: Math.PI / 4 },
};

/** The itemStyle of a bucket in a chart: colour and pattern. */
export function fillOf(bucket) {
  const name = bucketOf(bucket);
  const mark = colour(name === "unknown" ? "--line-strong" : LIGHT_MARKS.has(name) ? "--hatch-light" : "--hatch");
  return { color: colour(bucketColour[name]), borderColor: colour("--sheet"), borderWidth: 1, decal: DECALS[name] ? { ...DECALS[name], color: mark } : { symbol: "none" } };
}

/** What all charts share: type, lines, quiet axes, a tooltip that is drawn and not built of markup. To be spread into an option. */
export function common() {
  const axis = {
    axisLine: { lineStyle: { color: colour("--ink") } },
    axisTick: { lineStyle: { color: colour("--line-strong") } },
    axisLabel: { color: colour("--ink-soft"), fontSize: size(.8125) },
    nameTextStyle: { color: colour("--ink-soft"), fontSize: size(.8125) },
    splitLine: { lineStyle: { color: colour("--line") } },
  };
  return {
    animation: false,
    textStyle: { fontFamily: getComputedStyle(document.body).fontFamily, color: colour("--ink"), fontSize: size(.875) },
    grid: { left: 8, right: 16, top: 28, bottom: 8, containLabel: true },
    tooltip: {
      renderMode: "richText",
      confine: true,
      backgroundColor: colour("--sheet"),
      borderColor: colour("--ink"),
      borderRadius: 2,
      textStyle: { color: colour("--ink"), fontSize: size(.875) },
      axisPointer: { lineStyle: { color: colour("--ink-soft") }, crossStyle: { color: colour("--ink-soft") } },
    },
    aria: { enabled: false },
    axis,
  };
}

/** A size in rem as pixels, so that charts grow on a wall as the page does. */
export const size = rem => rem * parseFloat(getComputedStyle(document.documentElement).fontSize);

/**
 * Draws a chart and keeps it right: it follows its element's size, the theme and the units.
 * @param {HTMLElement} host Where it is drawn; gets role img and the label.
 * @param {() => object} option Makes the ECharts option; called again on each change. `common()` of this module is the base.
 * @param {{label: string, onClick?: (params: object) => void}} settings What it shows, in words; what a click does.
 * @returns {Promise<{update: () => void, dispose: () => void, chart: object}>}
 */
export async function chart(host, option, { label, onClick } = {}) {
  const echarts = await loadCharts();
  if (!host.isConnected)
    return { update() { /* the view is gone */ }, dispose() { /* nothing was drawn */ }, chart: null };
  host.classList.add("chart");
  host.setAttribute("role", "img");
  if (label)
    host.setAttribute("aria-label", label);
  const drawn = echarts.init(host, null, { renderer: "canvas" });
  const update = () => {
    const { axis, ...made } = option();
    drawn.setOption(made, { notMerge: true });
  };
  if (onClick)
    drawn.on("click", onClick);
  const sized = new ResizeObserver(() => drawn.resize());
  sized.observe(host);
  const changes = ["themechange", "unitschange", "displaychange"];
  for (const change of changes)
    document.addEventListener(change, update);
  update();
  return {
    update,
    chart: drawn,
    dispose() {
      sized.disconnect();
      for (const change of changes)
        document.removeEventListener(change, update);
      drawn.dispose();
    },
  };
}
