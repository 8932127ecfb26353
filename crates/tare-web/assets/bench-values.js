// Fields for values: a number as it is read, with its unit on large keys.

import { freshName, h, memory } from "./dom.js";

/**
 * Reads what was typed for a value: `12.5`, `12,5`, `12.5 +- 0.2`, `12.5 ± 2 %`, `12 .. 13`.
 *
 * @param {string} typed
 * @returns {{text: (unit: string) => string, number: number} | {wrong: string} | null} `null` for nothing typed
 */
export function readValue(typed) {
  const text = typed.trim().replace(/[±]/g, "+-").replace(/[−–]/g, "-").replace(/\s+/g, " ");
  if (!text) return null;
  const parts = text.split(/\s*(\+-|\.\.)\s*/);
  const numbers = parts.filter((_, i) => i % 2 === 0);
  const marks = parts.filter((_, i) => i % 2 === 1);
  const last = numbers.length - 1;
  const percent = marks[0] === "+-" && /%$/.test(numbers[last]);
  if (percent) numbers[last] = numbers[last].replace(/\s*%$/, "");
  const read = numbers.map(readNumber);
  const two = read.find((n) => n === "two marks");
  if (two) return { wrong: "two decimal marks in one number: write it with one, such as 1234.5" };
  const formed = marks.length === 0 || (marks.length === 1 && marks[0] === "+-") || (marks.length <= 2 && marks.every((m) => m === ".."));
  if (!formed || read.some((n) => n === null)) return { wrong: "not read as a number: write 12.5 or 12.5 +- 0.2" };
  const written = /** @type {string[]} */ (read);
  return {
    number: Number(written[0]),
    text: (unit) => {
      if (percent) return `${written[0]} ${unit} +- ${written[1]} %`;
      return `${written.map((n, i) => (i ? `${marks[i - 1]} ${n}` : n)).join(" ")} ${unit}`.trim();
    },
  };
}

/** A number with a decimal point; a comma counts as one. @param {string} text */
function readNumber(text) {
  const bare = text.replace(/ /g, "");
  if (/[.,].*[.,]/.test(bare)) return "two marks";
  return /^-?(\d+([.,]\d*)?|[.,]\d+)$/.test(bare) ? bare.replace(",", ".").replace(/^(-?)\./, "$10.").replace(/\.$/, "") : null;
}

/**
 * A row of keys of which one is down.
 *
 * @param {object} given
 * @param {string} given.label
 * @param {{key: string, title: string}[]} given.keys
 * @param {string} given.value
 * @param {(key: string) => void} [given.change]
 * @param {string} [given.test]
 * @param {boolean} [given.bare] label for screen readers only
 */
export function keys({ label, keys: all, value, change, test, bare }) {
  const name = freshName();
  let now = value;
  const buttons = all.map(({ key, title }) => {
    const input = h("input", { type: "radio", name, value: key, checked: key === value, data: { test: test && `${test}-${key.replace(/\W+/g, "-")}` } });
    input.addEventListener("change", () => {
      now = key;
      change?.(key);
    });
    return h("label", { class: "key" }, input, h("span", {}, title));
  });
  const element = h("fieldset", { class: "keys" }, h("legend", { class: bare ? "unseen" : null }, label), h("div", { class: "key-row" }, buttons));
  return {
    element,
    get value() {
      return now;
    },
    set value(key) {
      now = key;
      for (const input of element.querySelectorAll("input")) input.checked = input.value === key;
    },
  };
}

/**
 * A number with unit keys, a key for the spread and "unknown yet".
 *
 * @param {object} given
 * @param {string} given.label
 * @param {string} given.quantity the unit last used is remembered under it
 * @param {string[]} given.units
 * @param {string} [given.test]
 * @param {boolean} [given.unknown] whether "unknown yet" is offered
 * @param {() => void} [given.change]
 * @param {string} [given.hint]
 */
export function valueField({ label, quantity, units, test, unknown, change, hint }) {
  const id = freshName();
  const remembered = memory.get(`unit:${quantity}`, units[0]);
  const said = h("p", { class: "reads", id: `${id}-reads`, "aria-live": "polite" });
  const input = h("input", { id, type: "text", inputmode: "decimal", autocomplete: "off", enterkeyhint: "next", "aria-describedby": `${id}-reads`, data: { test, wedge: quantity } });
  const unitKeys = keys({
    label: `Unit of ${label}`,
    bare: true,
    keys: units.map((u) => ({ key: u, title: u })),
    value: units.includes(remembered) ? remembered : units[0],
    change: (unit) => (memory.set(`unit:${quantity}`, unit), show()),
    test: test && `${test}-unit`,
  });
  const notKnown = h("button", { type: "button", class: "key-button", "aria-pressed": "false", data: { test: test && `${test}-unknown` }, onclick: () => setUnknown(!field.unknown) }, "unknown yet");
  const spread = h("button", { type: "button", class: "key-button", "aria-label": `${label}: add a spread, plus or minus`, onclick: addSpread }, "±");
  let scale = false;

  function addSpread() {
    if (input.value && !/\+-|±/.test(input.value)) input.value = `${input.value.trim()} +- `;
    input.focus();
    show();
  }
  /** @param {boolean} yes */
  function setUnknown(yes) {
    notKnown.setAttribute("aria-pressed", String(yes));
    if (yes) input.value = "";
    show();
  }
  function read() {
    const found = readValue(input.value);
    const wrong = found && "wrong" in found ? found.wrong : "";
    input.setAttribute("aria-invalid", wrong ? "true" : "false");
    said.classList.toggle("wrong", Boolean(wrong));
    if (field.unknown) said.textContent = `will be noted as "${label.toLowerCase()}: unknown yet" and stays on the day's list`;
    else said.textContent = wrong || (found && "text" in found ? `reads ${found.text(unitKeys.value)}${scale ? ", from the scale" : ""}` : (hint ?? ""));
  }
  /** Shows and tells whoever asked; not while the field is being made. */
  function show() {
    read();
    change?.();
  }
  input.addEventListener("input", () => {
    scale = false;
    if (input.value) notKnown.setAttribute("aria-pressed", "false");
    show();
  });
  const element = h(
    "div",
    { class: "field value-field" },
    h("label", { for: id }, label),
    h("div", { class: "value-row" }, input, unitKeys.element, spread, unknown && notKnown),
    said,
  );
  const field = {
    element,
    input,
    get unknown() {
      return notKnown.getAttribute("aria-pressed") === "true";
    },
    get unit() {
      return unitKeys.value;
    },
    set unit(unit) {
      if (units.includes(unit)) unitKeys.value = unit;
    },
    /** What is wrong with it, in words; "" if nothing is. */
    get wrong() {
      const read = readValue(input.value);
      return read && "wrong" in read ? `${label}: ${read.wrong}` : "";
    },
    /** The text of the value with its unit, "" if nothing was typed. */
    get text() {
      const read = readValue(input.value);
      return read && "text" in read ? read.text(unitKeys.value) : "";
    },
    get number() {
      const read = readValue(input.value);
      return read && "number" in read ? read.number : null;
    },
    clear() {
      input.value = "";
      scale = false;
      notKnown.setAttribute("aria-pressed", "false");
      show();
    },
    setUnknown,
    /** Takes a reading of a scale and tells what is wrong with it, "" if nothing is. @param {import("./wedge.js").Shown} shown */
    take(shown) {
      if (!shown.settled) return `the scale shows ${shown.number} ${shown.unit} and had not settled: send it again`;
      if (shown.unit && !units.includes(shown.unit)) return `the scale sends ${shown.unit}; ${label.toLowerCase()} is taken in ${units.join(" or ")}`;
      if (shown.unit) unitKeys.value = shown.unit;
      input.value = shown.number;
      notKnown.setAttribute("aria-pressed", "false");
      scale = true;
      show();
      return "";
    },
  };
  // the field is found from its input when a scale types into it
  input.valueField = field;
  read();
  return field;
}

/**
 * A whole number with large keys beside it.
 *
 * @param {object} given
 * @param {string} given.label
 * @param {number} [given.value]
 * @param {string} [given.test]
 * @param {boolean} [given.unknown]
 */
export function countField({ label, value = 1, test, unknown }) {
  const id = freshName();
  const input = h("input", { id, type: "text", inputmode: "numeric", autocomplete: "off", enterkeyhint: "next", value: String(value), data: { test } });
  const notKnown = h("button", { type: "button", class: "key-button", "aria-pressed": "false", onclick: () => notKnown.setAttribute("aria-pressed", String(!field.unknown)) }, "unknown yet");
  const step = (/** @type {number} */ by) => {
    const now = Number(input.value.replace(",", "."));
    input.value = String(Math.max(1, (Number.isFinite(now) ? Math.round(now) : 1) + by));
    notKnown.setAttribute("aria-pressed", "false");
    input.dispatchEvent(new Event("input", { bubbles: true }));
  };
  input.addEventListener("focus", () => input.select());
  const stepper = (/** @type {string} */ sign, /** @type {number} */ by) =>
    h("button", { type: "button", class: "step", "aria-label": `${label}: ${by > 0 ? "one more" : "one less"}`, onclick: () => step(by) }, sign);
  const element = h(
    "div",
    { class: "field count-field" },
    h("label", { for: id }, label),
    h("div", { class: "value-row" }, stepper("−", -1), input, stepper("+", 1), unknown && notKnown),
  );
  const field = {
    element,
    input,
    get unknown() {
      return notKnown.getAttribute("aria-pressed") === "true";
    },
    get number() {
      const read = Number(input.value.trim().replace(",", "."));
      return input.value.trim() && Number.isFinite(read) && read > 0 ? read : null;
    },
    get wrong() {
      return this.number === null ? `${label}: found "${input.value}", expected a number above 0` : "";
    },
    /** @param {number} [to] */
    clear(to = 1) {
      input.value = String(to);
      notKnown.setAttribute("aria-pressed", "false");
    },
  };
  return field;
}

/**
 * A field for words.
 *
 * @param {object} given
 * @param {string} given.label
 * @param {string} [given.test]
 * @param {string} [given.value]
 * @param {Element} [given.list] suggestions
 * @param {boolean} [given.long]
 * @param {string} [given.hint]
 */
export function textField({ label, test, value = "", list, long, hint }) {
  const id = freshName();
  const listId = list && (list.id ||= freshName());
  const input = long
    ? h("textarea", { id, rows: 2, dir: "auto", data: { test }, value })
    : h("input", { id, type: "text", dir: "auto", autocomplete: "off", autocapitalize: "sentences", enterkeyhint: "next", list: listId, value, data: { test } });
  const element = h("div", { class: "field" }, h("label", { for: id }, label), hint && h("p", { class: "reads" }, hint), input, list);
  return {
    element,
    input,
    get text() {
      return input.value.trim();
    },
    clear() {
      input.value = "";
    },
  };
}
