// Masses written into the grid: what is said behind the number, and which of several readings is meant.

import { get } from "./api.js";

/** @typedef {import("./grid-record.js").Change} Change */

const CLASSES = ["measured", "derived", "handbook", "quoted", "assumed"];
/** Above this many rows one question about all values is quicker than one for each row. */
const ONE_BY_ONE = 6;

/**
 * Takes the class of evidence off the end: `7.5 kg measured`. Without one the server takes the mass for assumed.
 * @param {string} text
 * @returns {{to: string, evidence: string|null}}
 */
export function massAndEvidence(text) {
  const found = /^(.*\S)[\s,;]+([a-z]+)$/i.exec(text);
  const evidence = found && CLASSES.includes(found[2].toLowerCase()) ? found[2].toLowerCase() : null;
  return found && evidence ? { to: found[1].replace(/[,;]$/, ""), evidence } : { to: text, evidence: null };
}

/**
 * Where several masses stand for one item (five readings, say), the one that the grid shows is named by its number: `@ID/mass#2`.
 * @param {Change[]} changes
 * @returns {Promise<Map<string, string>>} number sign and number, by the id of the value; nothing where one value stands alone
 */
export async function whichOfSeveral(changes) {
  const rows = changes.filter((c) => c.column.key === "stated" && c.row.stated_mass).map((c) => c.row);
  /** @type {Map<string, {id: string, quantity: string}[]>} masses by what they are stated of */
  const stated = new Map();
  if (rows.length > 0 && rows.length <= ONE_BY_ONE) {
    const subjects = [...new Set(rows.flatMap((r) => [r.item, r.id]))];
    for (const subject of subjects) stated.set(subject, (await get(`record?of=@${subject}`)).values);
  } else if (rows.length > 0) {
    for (const value of (await get("list?kind=value")).rows) {
      const beside = stated.get(value.parent) ?? [];
      beside.push({ id: value.id, quantity: value.fields.quantity });
      stated.set(value.parent, beside);
    }
  }
  /** @type {Map<string, string>} */
  const numbers = new Map();
  for (const values of stated.values()) {
    const masses = values.filter((v) => v.quantity === "mass");
    if (masses.length > 1) masses.forEach((v, i) => numbers.set(v.id, `#${i + 1}`));
  }
  return numbers;
}
