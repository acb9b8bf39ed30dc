// The plant as the gateway tells of it, and what the person may do.

const RANK = { view: 0, operate: 1, administer: 2 };
let site = { saws: [], stopReasons: [], scrapReasons: [] };

/** Keeps what /site answered. */
export function setSite(answer) { site = answer; }

/** What /site answered: name, units, time zone, saws, reasons, role. */
export const currentSite = () => site;

/** Whether the person has a role or one above it. */
export const may = role => (RANK[site.role] ?? 0) >= RANK[role];
