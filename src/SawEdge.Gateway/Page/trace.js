// The load of the last minutes as a line against the band in which it is expected, drawn on a canvas.
import { size } from "./charts.js";
import { GAP_MS, traceOf } from "./live.js";
import { number, scale, clock } from "./units.js";

/** Minutes that are drawn. */
export const DRAWN_MINUTES = 5;

/** Draws the trace of a saw up to a moment; `room` is the size of the canvas, for to ask it would lay out the whole page anew. */
export function drawTrace(canvas, name, { width, height }, now) {
  if (width < 20 || height < 20)
    return;
  const density = Math.min(2, devicePixelRatio || 1);
  if (canvas.width !== Math.round(width * density) || canvas.height !== Math.round(height * density)) {
    canvas.width = Math.round(width * density);
    canvas.height = Math.round(height * density);
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(density, 0, 0, density, 0, 0);
  pen.clearRect(0, 0, width, height);
  const from = now - DRAWN_MINUTES * 60_000;
  const points = traceOf(name).filter(point => point.at >= from - GAP_MS);
  const top = niceTop(Math.max(0, ...points.flatMap(point => [point.load ?? 0, point.high ?? 0])));
  const style = getComputedStyle(canvas);
  const colour = name => style.getPropertyValue(name).trim();
  const text = size(.8125);
  const box = { left: 2, right: width - 2, top: text + 6, bottom: height - text - 7 };
  const x = at => box.left + (at - from) / (now - from) * (box.right - box.left);
  const y = value => box.bottom - Math.max(0, value) / top * (box.bottom - box.top);
  pen.font = `${text}px ${style.fontFamily}`;

  drawUnseen(pen, points, { x, box, from, now, colour });
  drawScale(pen, { x, y, box, top, from, now, colour, isBlank: points.length === 0 });
  for (const run of runs(points, point => point.low !== null && point.low !== undefined && point.high !== null && point.high !== undefined)) {
    pen.beginPath();
    run.forEach((point, i) => pen[i ? "lineTo" : "moveTo"](x(point.at), y(point.high)));
    run.toReversed().forEach(point => pen.lineTo(x(point.at), y(point.low)));
    pen.closePath();
    pen.fillStyle = colour("--band");
    pen.fill();
  }
  // The edges make the band visible without its colour.
  pen.setLineDash([4, 3]);
  pen.strokeStyle = colour("--accent");
  pen.lineWidth = 1;
  for (const edge of ["low", "high"])
    for (const run of runs(points, point => point[edge] !== null && point[edge] !== undefined))
      stroke(pen, run, point => x(point.at), point => y(point[edge]));
  pen.setLineDash([]);
  pen.strokeStyle = colour("--copper");
  pen.lineWidth = Math.max(2, size(.14));
  pen.lineJoin = "round";
  let last = null;
  for (const run of runs(points, point => point.load !== null && point.load !== undefined)) {
    stroke(pen, run, point => x(point.at), point => y(point.load));
    last = run.at(-1);
  }
  if (last !== null && now - last.at < GAP_MS * 2) {
    pen.fillStyle = colour("--copper");
    pen.beginPath();
    pen.arc(Math.min(x(last.at), box.right - 3), y(last.load), size(.25), 0, 7);
    pen.fill();
  }
}

function stroke(pen, run, x, y) {
  pen.beginPath();
  run.forEach((point, i) => pen[i ? "lineTo" : "moveTo"](x(point), y(point)));
  pen.stroke();
}

function drawScale(pen, { x, y, box, top, from, now, colour, isBlank }) {
  pen.strokeStyle = colour("--line");
  pen.fillStyle = colour("--ink-soft");
  pen.lineWidth = 1;
  for (let at = Math.ceil(from / 60_000) * 60_000; at <= now; at += 60_000) {
    pen.beginPath();
    pen.moveTo(Math.round(x(at)) + .5, box.top);
    pen.lineTo(Math.round(x(at)) + .5, box.bottom);
    pen.stroke();
    pen.textAlign = "center";
    pen.textBaseline = "top";
    const words = clock(at);
    const half = pen.measureText(words).width / 2;
    if (x(at) - half > box.left && x(at) + half < box.right)
      pen.fillText(words, x(at), box.bottom + 4);
  }
  pen.strokeStyle = colour("--ink-soft");
  for (const value of [0, top]) {
    pen.beginPath();
    pen.moveTo(box.left, Math.round(y(value)) + .5);
    pen.lineTo(box.right, Math.round(y(value)) + .5);
    pen.globalAlpha = value === 0 ? 1 : .35;
    pen.stroke();
    pen.globalAlpha = 1;
  }
  // Of a saw that said nothing there is no scale.
  if (isBlank)
    return;
  const { factor, unit } = scale("kW");
  pen.textAlign = "left";
  pen.textBaseline = "bottom";
  pen.fillText(`${number(top * factor)} ${unit}`, box.left, box.top - 2);
}

// Time of which nothing was seen is hatched, as unknown time is everywhere.
function drawUnseen(pen, points, { x, box, from, now, colour }) {
  const edges = [from, ...points.map(point => Math.max(from, point.at)), now];
  pen.save();
  pen.beginPath();
  let some = false;
  for (let i = 1; i < edges.length; i++) {
    if (edges[i] - edges[i - 1] > GAP_MS) {
      pen.rect(x(edges[i - 1]), box.top, x(edges[i]) - x(edges[i - 1]), box.bottom - box.top);
      some = true;
    }
  }
  if (some) {
    pen.clip();
    pen.strokeStyle = colour("--line");
    pen.lineWidth = 1;
    pen.beginPath();
    const step = 8;
    // Bound to the time and not to the canvas, so that the hatch moves on with what it covers.
    const moved = (now / 1000 * (box.right - box.left) / (DRAWN_MINUTES * 60)) % step;
    for (let at = box.left - (box.bottom - box.top) - moved; at < box.right + step; at += step) {
      pen.moveTo(at, box.bottom);
      pen.lineTo(at + (box.bottom - box.top), box.top);
    }
    pen.stroke();
  }
  pen.restore();
}

function* runs(points, isKnown) {
  let run = [];
  for (const point of points) {
    if (run.length && (!isKnown(point) || point.at - run.at(-1).at > GAP_MS)) {
      if (run.length > 1)
        yield run;
      run = [];
    }
    if (isKnown(point))
      run.push(point);
  }
  if (run.length > 1)
    yield run;
}

// 1, 1.5, 2, 3, 4, 5, 6, 8 and their tens: a scale that does not jump with each point.
function niceTop(value) {
  if (value <= 0)
    return 1;
  const ten = 10 ** Math.floor(Math.log10(value));
  return [1, 1.5, 2, 3, 4, 5, 6, 8, 10].map(step => step * ten).find(step => step >= value * 1.05) ?? 10 * ten * 1.5;
}
