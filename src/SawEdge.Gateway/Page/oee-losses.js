// What planned time was lost to, the dearest first: buckets, and within stops and setup their reasons. Pure sums.

import { LOSSES, addBuckets } from "./time-buckets.js";

/** The key of a loss: its bucket, and for one reason its class and the reason. */
export const lossKey = (bucket, stopClass, reason) => stopClass === undefined ? bucket : JSON.stringify([bucket, stopClass, reason ?? ""]);

/** The bucket of a loss. */
export const bucketOfLoss = key => key.startsWith("[") ? JSON.parse(key)[0] : key;

const bucketOfStop = stop => stop.class === "setup" ? "setup" : "stopsByReason";

/** Seconds that an item of the OEE answer lost to something. */
export function lostTo(item, key) {
  if (!key.startsWith("["))
    return item.bucketsS[key] ?? 0;
  const [bucket, stopClass, reason] = JSON.parse(key);
  if (stopClass === "")
    return withoutReason(item, bucket);
  return (item.stops ?? []).filter(stop => bucketOfStop(stop) === bucket && stop.class === stopClass && (stop.reason ?? "") === reason).reduce((sum, stop) => sum + stop.timeS, 0);
}

// Of setup, what no stop accounts for is trim cuts.
const withoutReason = (item, bucket) => Math.max(0, (item.bucketsS[bucket] ?? 0) - (item.stops ?? []).filter(stop => bucketOfStop(stop) === bucket).reduce((sum, stop) => sum + stop.timeS, 0));

/** All planned time that an item did not earn, seconds; time that nobody saw is not among it. */
export const lostOf = item => LOSSES.filter(bucket => bucket !== "unknown").reduce((sum, bucket) => sum + (item.bucketsS[bucket] ?? 0), 0);

/**
 * The losses of some items.
 * @returns {Array<{key: string, bucket: string, stopClass: string|null, reason: string|null, timeS: number}>} The dearest first; unknown time is not among them.
 */
export function lossesOf(items) {
  const buckets = addBuckets(items);
  const found = LOSSES.filter(bucket => bucket !== "unknown" && bucket !== "setup" && bucket !== "stopsByReason")
    .map(bucket => ({ key: lossKey(bucket), bucket, stopClass: null, reason: null, timeS: buckets[bucket] }));
  const reasons = new Map();
  for (const item of items) {
    for (const stop of item.stops ?? []) {
      const key = lossKey(bucketOfStop(stop), stop.class, stop.reason);
      const loss = reasons.get(key) ?? { key, bucket: bucketOfStop(stop), stopClass: stop.class, reason: stop.reason ?? "", timeS: 0 };
      loss.timeS += stop.timeS;
      reasons.set(key, loss);
    }
  }

  for (const bucket of ["setup", "stopsByReason"])
    found.push({ key: lossKey(bucket, "", ""), bucket, stopClass: "", reason: "", timeS: items.reduce((sum, item) => sum + withoutReason(item, bucket), 0) });
  return [...found, ...reasons.values()].filter(loss => loss.timeS >= 1).toSorted((a, b) => b.timeS - a.timeS);
}
