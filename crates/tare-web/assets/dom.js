// Small helpers that build page elements. Everything people wrote goes in as text, never as markup.

/**
 * Makes an element. Functions under `on...` become listeners, `data` becomes data-attributes, properties of form fields are set as
 * properties, all else as attributes; `null`, `undefined` and `false` are left out.
 *
 * @param {string} tag
 * @param {Record<string, any>} [props]
 * @param {...any} children elements, texts, numbers, or lists of them
 * @returns {any} the element
 */
export function h(tag, props = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name === "data") for (const [key, text] of Object.entries(value)) setData(element, key, text);
    else if (["value", "checked", "disabled", "hidden", "open", "selected", "multiple"].includes(name)) element[name] = value;
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  append(element, children);
  return element;
}

/** @param {HTMLElement} element @param {string} key @param {any} text */
function setData(element, key, text) {
  if (text !== null && text !== undefined) element.dataset[key] = String(text);
}

/** @param {Element} element @param {any[]} children */
function append(element, children) {
  for (const child of children.flat(3)) {
    if (child === null || child === undefined || child === false || child === "") continue;
    element.append(child instanceof Node ? child : String(child));
  }
}

/**
 * Text of a person, kept apart from its surroundings so that right-to-left writing does not turn the row round.
 *
 * @param {any} text
 * @param {string} [name] class
 */
export const own = (text, name) => h("bdi", { class: name }, text);

/**
 * Replaces what is in a place and gives the focus back to the element that had it, found by its `data-key`.
 *
 * @param {Element} place
 * @param {...any} children
 */
export function fill(place, ...children) {
  const had = document.activeElement instanceof HTMLElement && place.contains(document.activeElement) ? document.activeElement : null;
  const key = had?.dataset.key;
  const top = place.scrollTop;
  place.replaceChildren();
  append(place, children);
  place.scrollTop = top;
  if (key) [...place.querySelectorAll("[data-key]")].find((e) => e instanceof HTMLElement && e.dataset.key === key)?.focus?.();
}

let numbers = 0;
/** A name for an element that another one refers to. */
export const freshName = () => `bench-${++numbers}`;

export { newId } from "./api.js";

/**
 * Date and time of the place where the bench stands, as the record writes them.
 *
 * @param {Date} [at]
 */
export function stamp(at = new Date()) {
  const two = (/** @type {number} */ n) => String(n).padStart(2, "0");
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${two(at.getHours())}:${two(at.getMinutes())}`;
}

/** What this device remembers between visits; a browser that refuses storage remembers until the page is left. */
const unkept = new Map();
export const memory = {
  /** @template T @param {string} key @param {T} otherwise @returns {T} */
  get(key, otherwise) {
    try {
      const text = localStorage.getItem(`tare-bench:${key}`);
      return text === null ? (unkept.get(key) ?? otherwise) : JSON.parse(text);
    } catch {
      return unkept.get(key) ?? otherwise;
    }
  },
  /** @param {string} key @param {any} value */
  set(key, value) {
    unkept.set(key, value);
    try {
      localStorage.setItem(`tare-bench:${key}`, JSON.stringify(value));
    } catch {
      // kept until the page is left
    }
  },
};

/** @param {number} count @param {string} one @param {string} [many] */
export const counted = (count, one, many = `${one}s`) => `${count} ${count === 1 ? one : many}`;
