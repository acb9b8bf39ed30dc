// Numbers of the drawing of one cut. Pure: lists in, numbers out.

// Standard deviations from which on a stretch is marked; the same number as in the terminal's plot of `explain`.
export const MARKED_FROM = 3;

/** A step of 1, 2 or 5 times a power of ten that divides a span into about so many parts. */
export function niceStep(span, parts) {
  if (!(span > 0)) return 1;
  const raw = span / Math.max(1, parts);
  const power = 10 ** Math.floor(Math.log10(raw));
  const lead = raw / power;
  return (lead < 1.5 ? 1 : lead < 3.5 ? 2 : lead < 7.5 ? 5 : 10) * power;
}

/** Ticks from 0 to the end of a scale. */
export function ticks(end, parts) {
  const step = niceStep(end, parts);
  const places = [];
  for (let i = 0; i * step <= end * (1 + 1e-9); i++) places.push(i * step);
  return places;
}

/** The end of a scale from 0 that holds a value: the next whole step above it. */
export function scaleEnd(most, parts) {
  if (!(most > 0)) return 1;
  const step = niceStep(most, parts);
  return step * Math.ceil(most / step - 1e-9);
}

/** Greatest of the numbers that are known in the lists; 0 where none is. */
export function greatest(...lists) {
  let most = 0;
  for (const list of lists)
    for (const value of list ?? [])
      if (Number.isFinite(value) && value > most) most = value;
  return most;
}

/**
 * Edges of the bins: n + 1 places from 0 to the whole. The profile names the middle of each bin, or its edges; a profile that is not by
 * depth, or whose depth is not known, is of shares, 0 to 1.
 */
export function binEdges(profile) {
  const count = profile.loadKw.length;
  const places = profile.byDepth ? profile.depthMm : null;
  if (places?.length === count + 1) return [...places];
  const whole = places?.length === count && count > 0 && Number.isFinite(places[count - 1])
    ? places[count - 1] / (1 - 0.5 / count)
    : 1;
  return Array.from({ length: count + 1 }, (_, i) => whole * i / count);
}

/** Whether the edges are millimetres; otherwise they are shares of the cut. */
export function isInMm(profile) {
  const count = profile.loadKw.length;
  return Boolean(profile.byDepth && profile.depthMm && (profile.depthMm.length === count + 1 || profile.depthMm.length === count)
    && Number.isFinite(profile.depthMm[profile.depthMm.length - 1]));
}

/** Unbroken stretches of bins in which every list has a value, as [first, beyond the last]. */
export function stretches(...lists) {
  const found = [];
  let from = -1;
  const count = lists[0]?.length ?? 0;
  for (let i = 0; i <= count; i++) {
    const known = i < count && lists.every(list => Number.isFinite(list?.[i]));
    if (known && from < 0) from = i;
    if (!known && from >= 0) {
      found.push([from, i]);
      from = -1;
    }
  }
  return found;
}

/** How a bin lies: 1 above the rest of the cut, -1 below it, 0 as usual or not known. */
export function deviates(profile, bin) {
  const value = profile.standardised?.[bin];
  return !Number.isFinite(value) || Math.abs(value) < MARKED_FROM ? 0 : Math.sign(value);
}

/** Neighbouring bins that deviate to the same side, as { from, to, side, most }. */
export function markedStretches(profile) {
  const found = [];
  for (let i = 0; i < profile.loadKw.length; i++) {
    const side = deviates(profile, i);
    if (side === 0) continue;
    const last = found[found.length - 1];
    const most = profile.standardised[i];
    if (last && last.to === i && last.side === side) {
      last.to = i + 1;
      if (Math.abs(most) > Math.abs(last.most)) last.most = most;
    } else {
      found.push({ from: i, to: i + 1, side, most });
    }
  }
  return found;
}

/** Where a level line crosses closed polylines, even-odd: the stretches of stock the blade is in, as [left, right]. */
export function chordsAt(outline, y) {
  const places = [];
  for (const line of outline) {
    for (let i = 0; i < line.length; i++) {
      const [x0, y0] = line[i];
      const [x1, y1] = line[(i + 1) % line.length];
      if ((y0 <= y) !== (y1 <= y)) places.push(x0 + (y - y0) / (y1 - y0) * (x1 - x0));
    }
  }
  places.sort((a, b) => a - b);
  const chords = [];
  for (let i = 0; i + 1 < places.length; i += 2) chords.push([places[i], places[i + 1]]);
  return chords;
}

/** The outline moved so that its left is 0 and its top is 0, y running down. */
export function settled(section) {
  const points = section.outline.flat();
  const left = Math.min(...points.map(p => p[0]));
  const top = Math.min(...points.map(p => p[1]));
  return section.outline.map(line => line.map(([x, y]) => [x - left, y - top]));
}

/**
 * How the drawing is laid out in a width of so many pixels. Height has one scale for the section and for the load; the section is true to
 * shape unless it is too flat for that, and then `squeeze` says how many times narrower it is drawn.
 */
export function layout(width, extent, section) {
  const narrow = width < 560;
  const ruler = narrow ? 40 : 54;
  const margin = { top: 30, bottom: 40, left: 6, right: narrow ? 16 : 22 };
  const inner = width - margin.left - margin.right - ruler;
  const least = narrow ? 130 : 220;
  const most = Math.max(least, Math.min(520, width * 0.72));
  if (!section) return { width, margin, ruler, sectionWidth: 0, loadWidth: inner, plotHeight: narrow ? 300 : 380, scaleX: 0, squeeze: 1 };
  const room = inner * (narrow ? 0.45 : 0.42);
  // True to shape where that is near enough to the height that a curve needs.
  const fits = room / section.widthMm * extent;
  const plotHeight = fits > 0.85 * least ? Math.min(most, fits) : least;
  const scaleY = plotHeight / extent;
  const scaleX = Math.min(scaleY, room / section.widthMm);
  const sectionWidth = Math.max(scaleX * section.widthMm, 24);
  return { width, margin, ruler, sectionWidth, loadWidth: inner - sectionWidth, plotHeight, scaleX, squeeze: scaleY / scaleX };
}
