// The page's words. All of them are in text.en.json; a translation is another file of the same keys.

let words = {};
let plural = new Intl.PluralRules("en");
let language = "en";

/** Loads the words; to be awaited once before anything is drawn. */
export async function loadText(name = "en") {
  const answer = await fetch(`/page/text.${name}.json`);
  if (!answer.ok)
    throw new Error(`The words of the page, text.${name}.json, could not be loaded: status ${answer.status}.`);
  words = await answer.json();
  language = name;
  plural = new Intl.PluralRules(name);
  document.documentElement.lang = name;
}

/** The language of the words. */
export const currentLanguage = () => language;

/** Whether there are words of a key. */
export const hasText = key => Object.hasOwn(words, key);

/** All keys, for the tests. */
export const textKeys = () => Object.keys(words);

/**
 * The words of a key. {name} is replaced by the value of that name. With a value `count`, "key.one" or "key.other" is
 * taken where there is one. A key without words is shown as it is: an error that is seen and hurts nobody.
 */
export function t(key, values) {
  let found = words[key];
  if (values && typeof values.count === "number")
    found = words[`${key}.${plural.select(values.count)}`] ?? words[`${key}.other`] ?? found;
  if (found === undefined)
    return key;
  return found.replace(/\{(\w+)\}/g, (whole, name) => values && values[name] !== undefined && values[name] !== null ? String(values[name]) : whole);
}

/** The words of a code that the gateway sends, as "state.executing"; the code itself, readable, where there are none. */
export function word(kind, code) {
  if (code === null || code === undefined || code === "")
    return "";
  const key = `${kind}.${code}`;
  return hasText(key) ? words[key] : String(code).replaceAll("_", " ");
}
