// Elements made from text that is never taken for markup. What a controller sends (jobs, blades, materials) reaches the page
// through here only.

const SVG = "http://www.w3.org/2000/svg";

/**
 * Makes an HTML element.
 * @param {string} tag Its name, with classes after dots: "p.muted".
 * @param {object} [props] `text`; `class`; `data` (object); `on` (event name to handler); anything else becomes an attribute
 *   (null, undefined and false leave it out, true makes it empty).
 * @param {...(Node|string|number|null|undefined|false|Array)} children What is in it; texts become text nodes.
 */
export function el(tag, props, ...children) {
  return fill(document.createElement(tag.split(".")[0]), tag, props, children);
}

/** Makes an SVG element, as el() does. */
export function svg(tag, props, ...children) {
  return fill(document.createElementNS(SVG, tag.split(".")[0]), tag, props, children);
}

/** Replaces everything in an element. */
export function put(node, ...children) {
  node.replaceChildren();
  append(node, children);
  return node;
}

/** Sets the text only where it differs, so that nothing is drawn or read out anew without need. */
export function setText(node, text) {
  const words = text ?? "";
  if (node.textContent !== words)
    node.textContent = words;
}

/** Sets a measure that a style sheet uses: a custom property, through the object model and never as an attribute. */
export function setVar(node, name, value) {
  node.style.setProperty(name, value);
}

/**
 * Does what a button stands for, once at a time. The button is not "disabled" meanwhile: that would take the focus from whoever works
 * with the keyboard.
 * @param {Element} button It says that it is busy.
 * @param {() => Promise} action What it does.
 */
export async function once(button, action) {
  if (button.getAttribute("aria-disabled") === "true")
    return;
  button.setAttribute("aria-disabled", "true");
  try {
    await action();
  } finally {
    button.removeAttribute("aria-disabled");
  }
}

/** Speaks a sentence to screen readers; at once where it is urgent. */
export function say(text, isUrgent = false) {
  const node = document.getElementById(isUrgent ? "say-now" : "say");
  node.textContent = "";
  setTimeout(() => { node.textContent = text; }, 50);
}

function fill(node, tag, props, children) {
  const classes = tag.split(".").slice(1);
  if (props instanceof Node || typeof props === "string" || Array.isArray(props)) {
    children.unshift(props);
    props = null;
  }
  for (const [name, value] of Object.entries(props ?? {})) {
    if (name === "text")
      node.textContent = value ?? "";
    else if (name === "class")
      classes.push(...String(value ?? "").split(" "));
    else if (name === "data")
      Object.assign(node.dataset, value);
    else if (name === "on")
      for (const [event, handler] of Object.entries(value))
        node.addEventListener(event, handler);
    else if (name === "style" || name.startsWith("on"))
      throw new Error(`dom.js sets no ${name}: use a class, setVar or on.`);
    else if (value !== null && value !== undefined && value !== false)
      node.setAttribute(name, value === true ? "" : value);
  }
  const wanted = classes.filter(Boolean);
  if (wanted.length)
    node.classList.add(...wanted);
  append(node, children);
  return node;
}

function append(node, children) {
  for (const child of children.flat(Infinity)) {
    if (child !== null && child !== undefined && child !== false)
      node.append(child instanceof Node ? child : String(child));
  }
}
