// How far a cut is, drawn as what it is: stock in section, a blade that comes down through it, and the gap behind the blade.
import { setVar, svg } from "./dom.js";

const TOP = 14, SIZE = 72, LEFT = 10;
let clips = 0;

/** Makes the drawing. Returns {node, set(share, section)}: a share of 0 to 1, null where nothing is cut. */
export function kerf() {
  const id = `kerf-${++clips}`;
  const stock = svg("g.kerf-stock");
  const gap = svg("rect.kerf-gap", { x: LEFT - 6, y: 0, width: SIZE + 12, height: 0 });
  const edge = Array.from({ length: 11 }, (_, i) => `M${1 + i * 8} 4l5 6 3-6z`).join("");
  const blade = svg("g.kerf-blade", {}, svg("rect", { x: 0, y: -3, width: SIZE + 20, height: 7 }), svg("path", { d: edge }));
  const node = svg("svg.kerf", { viewBox: `0 0 ${SIZE + 20} ${SIZE + 26}`, "aria-hidden": "true" },
    svg("defs", {}, svg("clipPath", { id }, gap)), stock, svg("g", { "clip-path": `url(#${id})` }, svg("rect.kerf-cleared", { x: 0, y: 0, width: SIZE + 20, height: SIZE + 26 })),
    svg("path.kerf-table", { d: `M2 ${TOP + SIZE + 1}H${SIZE + 18}` }), blade);
  let drawn = null;
  return {
    node,
    set(share, section) {
      const kind = shapeOf(section);
      if (kind !== drawn) {
        drawn = kind;
        stock.replaceChildren(...shape(kind));
      }
      const isCutting = share !== null && share !== undefined;
      const depth = isCutting ? Math.min(1, Math.max(0, share)) * SIZE : -8;
      node.classList.toggle("is-idle", !isCutting);
      setVar(blade, "--depth", `${(TOP + depth).toFixed(1)}px`);
      gap.setAttribute("height", isCutting ? (TOP + depth).toFixed(1) : "0");
    },
  };
}

// The words with which notations begin; anything else is drawn as a block, which says nothing about its shape.
function shapeOf(section) {
  const words = String(section ?? "").toLowerCase();
  if (/^(round tube|tube|pipe|chs)\b/.test(words))
    return "tube";
  return /^(round|rod|bar)\b/.test(words) ? "round" : section ? "block" : "none";
}

function shape(kind) {
  const half = SIZE / 2, x = LEFT + half, y = TOP + half;
  if (kind === "round")
    return [svg("circle.kerf-solid", { cx: x, cy: y, r: half })];
  if (kind === "tube")
    return [svg("path.kerf-solid", { "fill-rule": "evenodd", d: `M${x - half} ${y}a${half} ${half} 0 1 0 ${SIZE} 0a${half} ${half} 0 1 0-${SIZE} 0zM${x - half + 12} ${y}a${half - 12} ${half - 12} 0 1 1 ${SIZE - 24} 0a${half - 12} ${half - 12} 0 1 1-${SIZE - 24} 0z` })];
  return [svg(`rect.kerf-solid`, { class: kind === "none" ? "is-unknown" : "", x: LEFT, y: TOP, width: SIZE, height: SIZE })];
}
