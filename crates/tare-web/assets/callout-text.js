// Call-outs of a photo as the study writes them: `1 at 0.31 0.52 drain plug; 2 at 0.70 0.22 clip on @PART`.

/** @typedef {{number: number, x: number|null, y: number|null, text: string, part: string}} Callout x and y from the top left, 0 to 1; `part` as written behind "on", or empty */

const ONE = /^(\d+)(?:\s+at\s+(\d*\.?\d+)\s+(\d*\.?\d+))?(?:\s+|$)([\s\S]*)$/;
const ON_PART = /(?:^|\s+)on\s+(@[0-9a-f]{32}|@[^\s;]+)$/;

/** @param {string} text @returns {Callout[]} what cannot be read as a call-out keeps its words, unplaced */
export function readCallouts(text) {
  /** @type {Callout[]} */
  const found = [];
  for (const piece of text
    .split(";")
    .map((p) => p.trim())
    .filter(Boolean)) {
    const one = ONE.exec(piece);
    let words = one ? one[4].trim() : piece;
    const on = ON_PART.exec(words);
    if (on) words = words.slice(0, on.index).trim();
    const number = one ? Number(one[1]) : Math.max(0, ...found.map((c) => c.number)) + 1;
    found.push({
      number,
      x: one?.[2] === undefined ? null : clamp(Number(one[2])),
      y: one?.[3] === undefined ? null : clamp(Number(one[3])),
      text: words,
      part: on?.[1] ?? "",
    });
  }
  return found;
}

/** @param {Callout[]} callouts */
export function writeCallouts(callouts) {
  return callouts
    .map((c) =>
      [
        c.number,
        c.x === null || c.y === null ? "" : `at ${place(c.x)} ${place(c.y)}`,
        plainWords(c.text),
        c.part ? `on ${c.part}` : "",
      ]
        .filter((w) => w !== "")
        .join(" "),
    )
    .join("; ");
}

/** A semicolon parts call-outs from each other, so a text cannot hold one. @param {string} text */
export const plainWords = (text) =>
  text
    .replace(/\s*;\s*/g, ", ")
    .replace(/\s+/g, " ")
    .trim();

/** @param {number} n */
export const clamp = (n) => Math.min(1, Math.max(0, n));

/** A thousandth of the picture is finer than a finger points. @param {number} n */
const place = (n) => n.toFixed(3).replace(/0+$/, "").replace(/\.$/, "");
