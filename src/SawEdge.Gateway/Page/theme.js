// Light or dark, before anything is drawn: what the person chose, else what the system asks for. Not a module, so that the page
// never flashes in the wrong colours.
(() => {
  const key = "sawedge.theme";
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const paper = matchMedia("print");
  const read = () => { try { return localStorage.getItem(key); } catch { return null; } };
  const apply = () => {
    const wanted = read();
    const holds = paper.matches ? "light" : wanted === "light" || wanted === "dark" ? wanted : dark.matches ? "dark" : "light";
    if (document.documentElement.dataset.theme === holds)
      return;
    document.documentElement.dataset.theme = holds;
    document.dispatchEvent(new CustomEvent("themechange"));
  };
  dark.addEventListener("change", apply);
  paper.addEventListener("change", apply);
  window.sawedgeTheme = {
    get: () => read() ?? "auto",
    set: theme => {
      try { theme === "auto" ? localStorage.removeItem(key) : localStorage.setItem(key, theme); } catch { /* chosen for this visit only */ document.documentElement.dataset.theme = theme; }
      apply();
    },
  };
  apply();
})();
