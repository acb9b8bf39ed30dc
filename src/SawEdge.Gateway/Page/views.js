// The views by their address. A view NAME is view-NAME.js with title, mount(root, params) and unmount(), and view-NAME.css.
// params: {path: what follows the name in the address, query: URLSearchParams, isDisplay}.
import { el } from "./dom.js";

const LOADERS = {
  bay: () => import("./view-bay.js"),
  shift: () => import("./view-shift.js"),
  oee: () => import("./view-oee.js"),
  cut: () => import("./view-cut.js"),
  cuts: () => import("./view-cuts.js"),
  blades: () => import("./view-blades.js"),
  alarms: () => import("./view-alarms.js"),
};

const styles = new Map();

/** Whether there is a view of a name. */
export const hasView = name => Object.hasOwn(LOADERS, name);

/** Loads a view with its style sheet. */
export async function loadView(name) {
  const [module] = await Promise.all([LOADERS[name](), loadStyle(`view-${name}.css`)]);
  return module.default ?? module;
}

/** The title of a view, a text or what makes one. */
export const titleOf = view => typeof view.title === "function" ? view.title() : view.title;

/** Adds a style sheet once; for parts that several views share. */
export function loadStyle(file) {
  if (!styles.has(file)) {
    styles.set(file, new Promise((resolve, reject) => {
      const link = el("link", { rel: "stylesheet", href: `/page/${file}` });
      link.addEventListener("load", resolve);
      link.addEventListener("error", () => { styles.delete(file); link.remove(); reject(new Error(`/page/${file} could not be loaded.`)); });
      document.head.append(link);
    }));
  }
  return styles.get(file);
}
