// Scales and readers that type like a keyboard: a burst of keys ended by Enter.
//
// A burst is told from a person by its speed. Where it lands in the wrong field (the name, say), that field is put back as it was and
// the number goes where a number is wanted.

/** Longest pause between two keys of a burst. */
const PAUSE = 60;
/** Shorter bursts may be a person's two fingers. */
const LEAST = 3;

/**
 * @typedef {object} Shown what a scale sent
 * @property {string} number as shown, decimal point
 * @property {string} unit "" where the scale sent none
 * @property {boolean} settled
 */

const LINE = /^\s*(?:([A-Za-z]{1,5})\s*[,:;]?\s*)?(?:([A-Za-z]{1,5})\s*[,:;]?\s*)?([+-]?)\s*(\d+(?:[.,]\d+)?)\s*(kg|g|mg|t|lb|oz)?\s*(\?)?$/i;
/** Words that scales put before the number. */
const BEFORE = new Set(["ST", "US", "S", "SD", "SI", "D", "N", "G", "T", "GS", "NT", "TR", "NET", "GROSS", "TARE", "WT", "QT"]);
const UNSETTLED = new Set(["US", "SD", "D"]);

/**
 * Reads a line such as `ST,GS,+  12.345kg` or `12,345 g`.
 *
 * @param {string} line
 * @returns {Shown | null}
 */
export function readScale(line) {
  const found = LINE.exec(line.replace(/[\u0000-\u001f]/g, " ").trim());
  if (!found) return null;
  const [, first, second, sign, digits, unit, doubt] = found;
  const words = [first, second].filter(Boolean).map((w) => w.toUpperCase());
  if (!words.every((w) => BEFORE.has(w))) return null;
  const number = (sign === "-" ? "-" : "") + digits.replace(",", ".").replace(/^0+(?=\d)/, "");
  return { number, unit: (unit ?? "").toLowerCase(), settled: !doubt && !words.some((w) => UNSETTLED.has(w)) };
}

/**
 * Listens for bursts anywhere on the page.
 *
 * @param {(shown: Shown, focused: Element | null) => void} take what is done with a reading
 * @param {() => number} [clock] milliseconds
 */
export function listen(take, clock = () => performance.now()) {
  let burst = "";
  let last = -Infinity;
  /** @type {{field: any, value: string} | null} the field as it was before the burst */
  let before = null;

  document.addEventListener(
    "keydown",
    (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
      const now = clock();
      const field = event.target;
      if (event.key === "Enter" || event.key === "Tab") {
        const shown = now - last <= PAUSE && burst.length >= LEAST ? readScale(burst) : null;
        const was = before;
        burst = "";
        last = -Infinity;
        before = null;
        if (!shown) return;
        event.preventDefault();
        event.stopImmediatePropagation();
        if (was) putBack(was);
        take(shown, field instanceof Element ? field : null);
        return;
      }
      if (event.key.length !== 1) return;
      if (now - last > PAUSE) {
        burst = "";
        before = isTyped(field) ? { field, value: /** @type {any} */ (field).value } : null;
      }
      // a space within a burst must not press the button that happens to have the focus
      else if (event.key === " " && !isTyped(field)) event.preventDefault();
      burst += event.key;
      last = now;
    },
    true,
  );
}

/** @param {{field: any, value: string}} was */
function putBack({ field, value }) {
  if (field.value === value) return;
  field.value = value;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

/** @param {any} element */
const isTyped = (element) => element instanceof HTMLTextAreaElement || element instanceof HTMLInputElement;
