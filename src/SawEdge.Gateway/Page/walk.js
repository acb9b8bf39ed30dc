// One stop of the tab key for many things in a row: arrows, Home, End and the page keys walk along them.

/**
 * Makes elements walkable.
 * @param {Element} holder What they are in; it hears the keys.
 * @param {Element[]} nodes The elements in order.
 * @param {number} start Which of them the tab key comes to first.
 */
export function walkable(holder, nodes, start = 0) {
  const take = node => nodes.forEach(other => other.setAttribute("tabindex", other === node ? "0" : "-1"));
  take(nodes.at(start));
  holder.addEventListener("focusin", event => {
    const node = nodes.find(node => node.contains(event.target));
    if (node)
      take(node);
  });
  holder.addEventListener("keydown", event => {
    const at = nodes.findIndex(node => node.contains(document.activeElement));
    const last = nodes.length - 1;
    const next = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: last, PageDown: Math.min(last, at + 20), PageUp: Math.max(0, at - 20) }[event.key];
    if (at < 0 || next === undefined || !nodes[next] || event.ctrlKey || event.altKey || event.metaKey)
      return;
    event.preventDefault();
    nodes[next].focus({ preventScroll: true });
  });
}
