// The drawing of one cut: the section as it lay in the vise, the depth as a ruler, and the load at each depth, all on one scale of
// height. Drawn here and not by the chart library, because the section and the load must share that scale to the pixel, and because
// each depth can be reached from the keyboard.

import { svg, put, setText } from "./dom.js";
import { t } from "./text.js";
import { duration, number, scale, quantity, UNKNOWN } from "./units.js";
import { binEdges, chordsAt, deviates, greatest, isInMm, layout, markedStretches, scaleEnd, settled, stretches, ticks } from "./cut-geometry.js";

const HATCH = "cut-hatch";
const BAND = "cut-band";

/**
 * The drawing of a cut.
 * @param {object} cut What the API says of one cut.
 * @param {(bin: number) => void} onPick Called with the bin that a person points at.
 * @returns {{node: SVGElement, draw: (width: number) => void, pick: (bin: number) => void, bins: number}}
 */
export function cutDrawing(cut, onPick) {
  const { profile, cycle } = cut;
  const inMm = isInMm(profile);
  const edges = binEdges(profile);
  const bins = profile.loadKw.length;
  const section = inMm && cut.section?.outline?.length && cut.section.heightMm > 0 && cut.section.widthMm > 0 ? cut.section : null;
  const outline = section ? settled(section) : [];
  const whole = edges[bins];
  const extent = Math.max(whole, section?.heightMm ?? 0);
  const node = svg("svg.cutd", { role: "img", "aria-label": describe(cut, inMm, whole) });
  let place = null;
  let kerf = null;

  function draw(width) {
    const at = layout(width, extent, section);
    const { margin, plotHeight } = at;
    const height = margin.top + plotHeight + margin.bottom;
    const load = scale("kW");
    const most = greatest(profile.loadKw, profile.expectedKw, profile.highKw) * load.factor;
    const steps = at.loadWidth < 260 ? 3 : 5;
    const end = scaleEnd(most, steps);
    const left = margin.left + at.sectionWidth + at.ruler;
    const x = kw => left + kw * load.factor / end * at.loadWidth;
    const y = depth => margin.top + depth / extent * plotHeight;
    place = { at, x, y, left, right: left + at.loadWidth };

    node.setAttribute("viewBox", `0 0 ${width} ${height}`);
    node.setAttribute("width", width);
    node.setAttribute("height", height);
    put(node,
      patterns(),
      section && stock(at, y),
      ruler(at, y),
      loadGrid(end, steps, load, at),
      curves(x, y),
      marks(x, y),
      kerf = svg("g.cutd-kerf", { "aria-hidden": "true" }));
  }

  // The section is hatched as in a drawing of a cut face; its width is written as a dimension.
  function stock(at, y) {
    const x = mm => at.margin.left + mm * at.scaleX;
    const path = outline.map(line => `M${line.map(([px, py]) => `${fixed(x(px))} ${fixed(y(py))}`).join("L")}Z`).join("");
    const above = at.margin.top - 12;
    const [from, to] = [x(0), x(section.widthMm)];
    return svg("g", { "aria-hidden": "true" },
      svg("path.cutd-stock", { d: path, "fill-rule": "evenodd", fill: `url(#${HATCH})` }),
      svg("path.cutd-dimension", { d: `M${from} ${above - 4}V${above + 4}M${to} ${above - 4}V${above + 4}M${from} ${above}H${to}` }),
      svg("text.cutd-label", { x: (from + to) / 2, y: above - 6, "text-anchor": "middle" }, quantity(section.widthMm, "mm")));
  }

  function ruler(at, y) {
    const right = at.margin.left + at.sectionWidth + at.ruler;
    const length = scale("mm");
    const shownEnd = inMm ? extent * length.factor : 100;
    const places = ticks(shownEnd, Math.max(3, Math.round(at.plotHeight / 52)));
    return svg("g.cutd-ruler", { "aria-hidden": "true" },
      svg("path.cutd-line", { d: `M${right} ${at.margin.top}V${at.margin.top + at.plotHeight}` }),
      places.map(place => {
        const py = y(place / shownEnd * extent);
        return [svg("path.cutd-line", { d: `M${right - 6} ${py}H${right}` }),
          svg("text.cutd-label", { x: right - 9, y: py + 4, "text-anchor": "end" }, number(place))];
      }),
      svg("text.cutd-label", { x: right - 9, y: at.margin.top - 12, "text-anchor": "end" }, inMm ? length.unit : "%"));
  }

  function loadGrid(end, steps, load, at) {
    const bottom = at.margin.top + at.plotHeight;
    const places = ticks(end, steps);
    const idle = cycle.idleLoadKw;
    return svg("g", { "aria-hidden": "true" },
      places.map(value => {
        const px = place.x(value / load.factor);
        return [svg("path.cutd-grid", { d: `M${px} ${at.margin.top}V${bottom}` }),
          svg("text.cutd-label", { x: px, y: bottom + 16, "text-anchor": "middle" }, number(value))];
      }),
      svg("text.cutd-label", { x: place.right, y: bottom + 33, "text-anchor": "end" }, t("cut.axis.load", { unit: load.unit })),
      Number.isFinite(idle) && idle > 0 && svg("path.cutd-idle", { d: `M${place.x(idle)} ${at.margin.top}V${bottom}` }));
  }

  function curves(x, y) {
    const band = stretches(profile.lowKw ?? [], profile.highKw).map(([from, to]) => {
      const down = steps(profile.lowKw, from, to, x, y);
      const up = steps(profile.highKw, from, to, x, y).reverse();
      return svg("path.cutd-band", { d: `M${[...down, ...up].join("L")}Z`, fill: `url(#${BAND})` });
    });
    const line = (list, name) => stretches(list ?? []).map(([from, to]) => svg(`path.${name}`, { d: `M${steps(list, from, to, x, y).join("L")}` }));
    return svg("g", { "aria-hidden": "true" }, band, line(profile.expectedKw, "cutd-expected"), line(profile.loadKw, "cutd-load"));
  }

  const steps = (list, from, to, x, y) => {
    const points = [];
    for (let i = from; i < to; i++)
      points.push(`${fixed(x(list[i]))} ${fixed(y(edges[i]))}`, `${fixed(x(list[i]))} ${fixed(y(edges[i + 1]))}`);
    return points;
  };

  // A stretch that stands out has a bracket of its height beside the plot and a triangle that points to where it lies: right of the rest, or left.
  function marks(x, y) {
    return svg("g", { "aria-hidden": "true" }, markedStretches(profile).map(({ from, to, side }) => {
      const [top, bottom] = [y(edges[from]), y(edges[to])];
      const middle = (top + bottom) / 2;
      const loads = profile.loadKw.slice(from, to).filter(Number.isFinite);
      const tip = x(side > 0 ? Math.max(...loads) : Math.min(...loads));
      const points = side > 0 ? `${tip + 5},${middle - 6} ${tip + 15},${middle} ${tip + 5},${middle + 6}` : `${tip - 5},${middle - 6} ${tip - 15},${middle} ${tip - 5},${middle + 6}`;
      return [svg("path.cutd-odd", { d: `M${place.right + 3} ${top}H${place.right + 9}V${bottom}H${place.right + 3}` }),
        stretches(profile.loadKw.map((value, i) => i >= from && i < to ? value : NaN)).map(([a, b]) => svg("path.cutd-odd-load", { d: `M${steps(profile.loadKw, a, b, x, y).join("L")}` })),
        svg("polygon.cutd-odd-mark", { points })];
    }));
  }

  // Where the blade is at the depth that is looked at: across the stock, over the ruler, up to the load.
  function pick(bin) {
    if (!place || !(bin >= 0 && bin < bins))
      return;
    const { at, x, y, left, right } = place;
    const depth = (edges[bin] + edges[bin + 1]) / 2;
    const py = y(depth);
    const load = profile.loadKw[bin];
    put(kerf,
      svg("path.cutd-blade", { d: `M${at.margin.left} ${py}H${right}` }),
      chordsAt(outline, depth).map(([a, b]) => svg("path.cutd-contact", { d: `M${at.margin.left + a * at.scaleX} ${py}H${at.margin.left + b * at.scaleX}` })),
      Number.isFinite(load) && svg("circle.cutd-point", { cx: Math.max(left, x(load)), cy: py, r: 5 }));
  }

  node.addEventListener("pointermove", event => {
    if (!place)
      return;
    const box = node.getBoundingClientRect();
    const depth = ((event.clientY - box.top) - place.at.margin.top) / place.at.plotHeight * extent;
    if (depth < 0 || depth >= whole)
      return;
    onPick(Math.min(bins - 1, Math.floor(depth / whole * bins)));
  });

  return {
    node,
    draw,
    pick,
    bins,
    /** How many times narrower than its height the section is drawn. */
    squeeze: width => layout(width, extent, section).squeeze,
    /** What is known of a bin, for the line under the drawing and for the table. */
    bin: index => binValues(cut, edges, index, inMm, outline),
    /** Stretches that stand out, each with its place in words. */
    marked: markedStretches(profile).map(stretch => ({ ...stretch, place: placeOf(edges, stretch.from, stretch.to, inMm) })),
    hasSection: section !== null,
  };
}

function placeOf(edges, from, to, inMm) {
  const { factor, unit } = inMm ? scale("mm") : { factor: 100, unit: "%" };
  return `${number(round(edges[from] * factor))}–${number(round(edges[to] * factor))}\u00a0${unit}`;
}

/** What is known of one bin, as texts. */
function binValues(cut, edges, index, inMm, outline) {
  const { profile } = cut;
  const contact = inMm ? chordsAt(outline, (edges[index] + edges[index + 1]) / 2).reduce((sum, [a, b]) => sum + b - a, 0) : NaN;
  const side = deviates(profile, index);
  return {
    place: placeOf(edges, index, index + 1, inMm),
    load: quantity(profile.loadKw[index], "kW"),
    expected: quantity(profile.expectedKw?.[index], "kW"),
    low: quantity(profile.lowKw?.[index], "kW"),
    high: quantity(profile.highKw?.[index], "kW"),
    contact: quantity(contact > 0 ? contact : null, "mm"),
    deviation: Number.isFinite(profile.standardised?.[index]) ? `${profile.standardised[index] > 0 ? "+" : ""}${profile.standardised[index].toFixed(1)}` : number(null),
    time: duration(profile.timeS?.[index]),
    side,
    verdict: side === 0 ? "" : t(side > 0 ? "cut.bin.above" : "cut.bin.below"),
  };
}

function describe(cut, inMm, whole) {
  const edges = binEdges(cut.profile);
  const texts = markedStretches(cut.profile).map(({ from, to, side }) => t(side > 0 ? "cut.drawing.above" : "cut.drawing.below", { place: placeOf(edges, from, to, inMm) }));
  return [t(inMm ? "cut.drawing.label" : "cut.drawing.labelShare", { whole: inMm ? quantity(whole, "mm") : "" }), ...(texts.length ? texts : [t("cut.drawing.nothing")])].join(" ");
}

// Patterns, so that the band and the stock are told apart without colour.
function patterns() {
  return svg("defs", null,
    svg("pattern", { id: HATCH, width: 9, height: 9, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
      svg("rect.cutd-hatch-ground", { width: 9, height: 9 }), svg("path.cutd-hatch-line", { d: "M0 0V9" })),
    svg("pattern", { id: BAND, width: 6, height: 6, patternUnits: "userSpaceOnUse" },
      svg("rect.cutd-band-ground", { width: 6, height: 6 }), svg("circle.cutd-band-dot", { cx: 3, cy: 3, r: 0.9 })));
}

const fixed = value => value.toFixed(1);
const round = value => Math.round(value * (value < 10 ? 100 : 10)) / (value < 10 ? 100 : 10);

/** Keeps the drawing as wide as what it stands in. */
export function fitted(drawing, holder, after) {
  let width = 0;
  const observer = new ResizeObserver(() => {
    const now = Math.floor(holder.clientWidth);
    if (now < 200 || now === width)
      return;
    width = now;
    drawing.draw(width);
    after(width);
  });
  observer.observe(holder);
  return () => observer.disconnect();
}

/** Writes what is known at a depth under the drawing. */
export function writeBin(node, values) {
  setText(node, t(values.expected === UNKNOWN ? "cut.bin.loadOnly" : values.side === 0 ? "cut.bin.line" : "cut.bin.lineOdd", values));
}
