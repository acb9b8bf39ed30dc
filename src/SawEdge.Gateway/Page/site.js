// The plant as the gateway tells of it, and what the person may do.

const RANK = { view: 0, operate: 1, administer: 2 };
let site = { saws: [], stopReasons: [], scrapReasons: [] };

let ahead = 0;

/** Keeps what /site answered. */
export function setSite(answer) {
  site = answer;
  // A display's own clock may be wrong; what is old or new is told by the gateway's. Below two seconds it is the way of the answer.
  const difference = answer.now ? Date.parse(answer.now) - Date.now() : 0;
  ahead = Math.abs(difference) > 2000 ? difference : 0;
}

/** Whether the gateway's clock is another than this one. */
export const clockDiffers = () => ahead !== 0;

/** Now by the gateway's clock, ms. */
export const gatewayNow = () => Date.now() + ahead;

/** What /site answered: name, units, time zone, saws, reasons, role. */
export const currentSite = () => site;

/** Whether the person has a role or one above it. */
export const may = role => (RANK[site.role] ?? 0) >= RANK[role];
