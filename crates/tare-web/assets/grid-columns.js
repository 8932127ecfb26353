// The columns of the parts grid: what a cell shows, what it is edited as, and which field of the study it stands for.

import { statedKilograms } from "./grid-model.js";
import { study } from "./api.js";

/** @typedef {import("./grid-model.js").Row} Row */
/**
 * @typedef {object} Column
 * @property {string} key
 * @property {string} title
 * @property {string} says what the column holds, for its tooltip
 * @property {number} width in pixels
 * @property {boolean} [right] numbers stand on the right
 * @property {boolean} [computed] comes out of the calculation
 * @property {string} [field] the field or quantity behind the target's stroke; without it the column is not edited
 * @property {boolean} [ofItem] the item has it, so that all its places show the same
 * @property {string} [list] id of the list of proposals
 * @property {(row: Row) => string} text
 * @property {(row: Row) => string|number|null} sort
 * @property {(row: Row) => string} [note] what is shown beside the text and is no part of it
 * @property {(row: Row) => string} [hover] what pointing at the cell tells
 * @property {(row: Row) => string|null} [link] address of the reason's line
 */

/** @param {number|null|undefined} n */
const numberText = (n) => (n === null || n === undefined ? "" : String(Number(n.toPrecision?.(12) ?? n)));

/** A mass nobody weighed, or weighed with others, is seen to be so. @param {Row} row */
function statedNote(row) {
  const stated = row.stated_mass;
  if (!stated) return "";
  return [
    stated.evidence && stated.evidence !== "measured" ? stated.evidence : "",
    (stated.number ?? 1) > 1 ? `${stated.number} together` : "",
  ]
    .filter(Boolean)
    .join(", ");
}

/** @param {Row} row */
function statedHover(row) {
  const stated = row.stated_mass;
  if (!stated) return "";
  return [
    stated.text,
    (stated.number ?? 1) > 1 ? `${stated.number} pieces weighed together` : "",
    stated.evidence,
    stated.source,
    stated.state,
    stated.who,
    stated.when,
  ]
    .filter(Boolean)
    .join(", ");
}

/** @type {Column[]} */
export const COLUMNS = [
  { key: "label", title: "label", says: "what is written on the bag", width: 92, text: (r) => r.label ?? "", sort: (r) => r.label },
  {
    key: "name",
    title: "name",
    says: "name of the item",
    width: 290,
    field: "name",
    ofItem: true,
    text: (r) => r.name ?? "",
    sort: (r) => r.name,
  },
  {
    key: "count",
    title: "count",
    says: "how many in the assembly above",
    width: 62,
    right: true,
    field: "count",
    text: (r) => numberText(r.count),
    sort: (r) => r.count,
  },
  {
    key: "pieces",
    title: "pieces",
    says: "how many in the whole product",
    width: 66,
    right: true,
    text: (r) => numberText(r.pieces),
    sort: (r) => r.pieces,
  },
  {
    key: "make",
    title: "make",
    says: "make, buy or consigned",
    width: 82,
    field: "make",
    ofItem: true,
    list: "grid-makes",
    text: (r) => r.make ?? "",
    sort: (r) => r.make,
  },
  {
    key: "material",
    title: "material",
    says: "key of the material",
    width: 148,
    field: "material",
    ofItem: true,
    list: "grid-materials",
    text: (r) => r.material ?? "",
    sort: (r) => r.material,
  },
  {
    key: "stated",
    title: "stated mass",
    says: "mass as written down, with its unit: of one piece, or of several weighed together",
    width: 178,
    right: true,
    field: "mass",
    ofItem: true,
    text: (r) => r.stated_mass?.text ?? "",
    sort: statedKilograms,
    note: statedNote,
    hover: statedHover,
  },
  {
    key: "mass",
    title: "mass",
    says: "computed mass of one piece; opens its reason",
    width: 108,
    right: true,
    computed: true,
    text: (r) => r.mass?.text ?? "",
    sort: (r) => r.mass_kg,
    link: (r) => r.mass?.line ?? null,
  },
  {
    key: "cost",
    title: "cost each",
    says: "computed cost of one piece; opens its reason",
    width: 108,
    right: true,
    computed: true,
    text: (r) => r.cost?.text ?? "",
    sort: (r) => r.cost_number,
    link: (r) => r.cost?.line ?? null,
  },
  {
    key: "function",
    title: "function",
    says: "what it is there for",
    width: 150,
    field: "function",
    list: "grid-functions",
    text: (r) => r.function ?? "",
    sort: (r) => r.function,
  },
  {
    key: "processes",
    title: "processes",
    says: "how it is made and put together",
    width: 210,
    text: (r) => (r.processes ?? []).join(", "),
    sort: (r) => (r.processes ?? []).join(", "),
  },
  {
    key: "needed",
    title: "needed",
    says: "how many of the count an ideal product would need",
    width: 70,
    right: true,
    field: "needed",
    text: (r) => numberText(r.needed),
    sort: (r) => r.needed,
  },
  {
    key: "photos",
    title: "photos",
    says: "photos that show it",
    width: 66,
    right: true,
    text: (r) => (r.photos ? String(r.photos) : ""),
    sort: (r) => r.photos || null,
  },
  {
    key: "says",
    title: "remark",
    says: "what else is to be said",
    width: 220,
    field: "says",
    text: (r) => r.says ?? "",
    sort: (r) => r.says,
  },
];

/** @type {Map<string, Column>} */
export const COLUMN = new Map(COLUMNS.map((c) => [c.key, c]));

/**
 * What was typed, as it is sent. A decimal comma becomes a point where it can be nothing else; `1,234` may be thousands as well and is
 * left for the server to ask about.
 * @param {Column} column @param {string} typed
 */
export function written(column, typed) {
  const text = typed.trim();
  if (column.key !== "stated" || text.includes(".")) return text;
  return text.replace(/(?<![\d,])(\d+),(\d+)(?![\d,])/g, (all, whole, part) =>
    part.length !== 3 || whole === "0" ? `${whole}.${part}` : all,
  );
}

/** @param {Row} row @param {Column} column */
export const targetOf = (row, column) => `@${row.id}/${column.field}`;

/**
 * What two cells must share to be one value: rows of one item show one name, one material, one mass.
 * @param {Row} row @param {Column} column
 */
export function valueOf(row, column) {
  if (column.key === "stated" && row.stated_mass) return `value ${row.stated_mass.id}`;
  return column.ofItem ? `item ${row.item}/${column.field}` : `row ${row.id}/${column.field}`;
}

/** @param {string} line an address */
export const reasonPage = (line) => `${study.base}/reason?line=${encodeURIComponent(line)}`;

/** @param {Row} row */
export const partPage = (row) => `${study.base}/part?of=${encodeURIComponent(`@${row.id}`)}`;

/** @param {Row} row */
export const called = (row) => [row.label, row.name].filter(Boolean).join(" ") || "a part without name";
