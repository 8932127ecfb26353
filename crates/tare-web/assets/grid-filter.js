// The filter of the parts grid, in words: `mass > 1 kg and make = buy and no photo`. Text in, a test of rows or a located complaint out.
//
//   filter := term ("and" term)*
//   term   := ("no" | "has") field
//           | "under" label
//           | field op value          op: = != ~ < <= > >=
//           | word word ...           each in the label or the name; "quoted words" stay together

import { kilograms, statedKilograms } from "./grid-model.js";

/** @typedef {import("./grid-model.js").Row} Row */
/** @typedef {import("./grid-model.js").Model} Model */
/** @typedef {(row: Row) => boolean} Test */
/** @typedef {{from: number, to: number, says: string}} Complaint */
/** @typedef {{text: string, from: number, to: number, quoted: boolean}} Piece */
/** @typedef {{kind: "text", get: (r: Row) => string} | {kind: "number"|"mass"|"cost", get: (r: Row) => number|null}} Known */

/** @type {Record<string, Known>} */
const FIELDS = {
  label: { kind: "text", get: (r) => r.label ?? "" },
  name: { kind: "text", get: (r) => r.name ?? "" },
  material: { kind: "text", get: (r) => r.material ?? "" },
  make: { kind: "text", get: (r) => r.make ?? "" },
  function: { kind: "text", get: (r) => r.function ?? "" },
  form: { kind: "text", get: (r) => r.form ?? "" },
  remark: { kind: "text", get: (r) => r.says ?? "" },
  process: { kind: "text", get: (r) => (r.processes ?? []).join(", ") },
  evidence: { kind: "text", get: (r) => r.stated_mass?.evidence ?? "" },
  state: { kind: "text", get: (r) => r.stated_mass?.state ?? "" },
  due: { kind: "text", get: (r) => (r.outstanding ?? []).join(", ") },
  removed: { kind: "text", get: (r) => (r.removed ? "yes" : "no") },
  count: { kind: "number", get: (r) => r.count },
  pieces: { kind: "number", get: (r) => r.pieces },
  needed: { kind: "number", get: (r) => r.needed },
  photos: { kind: "number", get: (r) => r.photos || null },
  level: { kind: "number", get: (r) => r.level },
  mass: { kind: "mass", get: (r) => r.mass_kg },
  stated: { kind: "mass", get: statedKilograms },
  cost: { kind: "cost", get: (r) => r.cost_number },
};
/** @type {Record<string, string>} */
const OTHER_NAMES = {
  photo: "photos",
  processes: "process",
  piece: "pieces",
  says: "remark",
  remarks: "remark",
  materials: "material",
};
const OPERATORS = ["<=", ">=", "!=", "<", ">", "=", "~"];

/** The words that begin a term with a field, for proposals and for the help. */
export const FIELD_WORDS = Object.keys(FIELDS);

/**
 * @param {string} text
 * @param {Model} model
 * @param {string} currency
 * @returns {{test: Test|null, complaint: Complaint|null}}
 */
export function readFilter(text, model, currency) {
  const pieces = cut(text);
  if (!Array.isArray(pieces)) return { test: null, complaint: pieces };
  if (pieces.length === 0) return { test: null, complaint: null };
  /** @type {Test[]} */
  const tests = [];
  for (const term of terms(pieces)) {
    if (term.pieces.length === 0) return wrong(term.at, term.to, "`and` needs something on both sides");
    const read = readTerm(term.pieces, text, model, currency);
    if (typeof read !== "function") return { test: null, complaint: read };
    tests.push(read);
  }
  return { test: tests.length === 1 ? tests[0] : (row) => tests.every((t) => t(row)), complaint: null };
}

/** @param {number} from @param {number} to @param {string} says */
const wrong = (from, to, says) => ({ test: null, complaint: { from, to, says } });

/** Cuts into words, quoted texts and operators. @param {string} text @returns {Piece[]|Complaint} */
function cut(text) {
  const pieces = [];
  let at = 0;
  while (at < text.length) {
    if (/\s/.test(text[at])) at += 1;
    else if (text[at] === '"') {
      const end = text.indexOf('"', at + 1);
      if (end < 0) return { from: at, to: text.length, says: "the closing quotation mark is missing" };
      pieces.push({ text: text.slice(at + 1, end), from: at, to: end + 1, quoted: true });
      at = end + 1;
    } else {
      const operator = OPERATORS.find((o) => text.startsWith(o, at));
      const length = operator ? operator.length : (/^(?:(?!<|>|!=|=|~|")\S)+/.exec(text.slice(at))?.[0].length ?? 1);
      pieces.push({ text: text.slice(at, at + length), from: at, to: at + length, quoted: false });
      at += length;
    }
  }
  return pieces;
}

/** @param {Piece[]} pieces */
function terms(pieces) {
  /** @type {{pieces: Piece[], at: number, to: number}[]} */
  const found = [{ pieces: [], at: pieces[0].from, to: pieces[0].to }];
  for (const piece of pieces) {
    if (isWord(piece, "and")) {
      found[found.length - 1].to = piece.to;
      found.push({ pieces: [], at: piece.from, to: piece.to });
    } else found[found.length - 1].pieces.push(piece);
  }
  return found;
}

/** @param {Piece|undefined} piece @param {string} word */
const isWord = (piece, word) => piece !== undefined && !piece.quoted && piece.text.toLowerCase() === word;

/** @param {Piece} piece */
const isOperator = (piece) => !piece.quoted && OPERATORS.includes(piece.text);

/**
 * @param {Piece[]} term
 * @param {string} text
 * @param {Model} model
 * @param {string} currency
 * @returns {Test|Complaint}
 */
function readTerm(term, text, model, currency) {
  const [first, second] = term;
  const last = term[term.length - 1];
  if (isOperator(first)) return { from: first.from, to: first.to, says: `a column is missing before \`${first.text}\`` };
  if (second && isOperator(second)) {
    const field = fieldOf(first);
    if (!field) return unknown(first);
    if (term.length === 2) return { from: second.from, to: second.to, says: `a value is missing after \`${second.text}\`` };
    const extra = term.slice(2).find(isOperator);
    if (extra) return { from: extra.from, to: extra.to, says: "one comparison at a time: join two with `and`" };
    const value = { text: term.length === 3 ? term[2].text : text.slice(term[2].from, last.to), from: term[2].from, to: last.to };
    return compare(field, second.text, value, currency);
  }
  if ((isWord(first, "no") || isWord(first, "has")) && term.length === 2) {
    const field = fieldOf(second);
    if (!field) return unknown(second);
    const wanted = isWord(first, "has");
    const { get } = FIELDS[field];
    return (row) => {
      const value = get(row);
      return (value !== null && value !== undefined && value !== "") === wanted;
    };
  }
  if (isWord(first, "under") && term.length > 1) return under(text.slice(second.from, last.to), second.from, last.to, model);
  return words(term);
}

/** @param {Piece} piece */
function fieldOf(piece) {
  const word = piece.text.toLowerCase();
  const field = OTHER_NAMES[word] ?? word;
  return Object.hasOwn(FIELDS, field) ? field : null;
}

/** @param {Piece} piece @returns {Complaint} */
function unknown(piece) {
  const near = FIELD_WORDS.filter((w) => w.startsWith(piece.text.slice(0, 2).toLowerCase()));
  const choice = near.length > 0 ? near : FIELD_WORDS;
  return { from: piece.from, to: piece.to, says: `no column is called \`${piece.text}\` (there is ${choice.join(", ")})` };
}

/**
 * @param {string} field
 * @param {string} operator
 * @param {{text: string, from: number, to: number}} value
 * @param {string} currency
 * @returns {Test|Complaint}
 */
function compare(field, operator, value, currency) {
  const known = FIELDS[field];
  if (known.kind === "text") {
    const wanted = value.text.toLowerCase();
    const { get } = known;
    if (operator === "=" || operator === "~") return (row) => get(row).toLowerCase().includes(wanted);
    if (operator === "!=") return (row) => !get(row).toLowerCase().includes(wanted);
    return { from: value.from, to: value.to, says: `\`${field}\` is a text: it takes =, ~ or !=` };
  }
  if (operator === "~") return { from: value.from, to: value.to, says: `\`${field}\` is a number: it takes =, !=, <, <=, > or >=` };
  const number = readNumber(known.kind, field, value, currency);
  if (typeof number !== "number") return number;
  const { get } = known;
  // what is shown is rounded: an equality asked for in the words of the page must find what the page shows
  const near = (/** @type {number} */ a) => Math.abs(a - number) <= Math.max(Math.abs(number), Number.MIN_VALUE) * 1e-9;
  /** @type {Record<string, (a: number) => boolean>} */
  const tests = {
    "=": near,
    "!=": (a) => !near(a),
    "<": (a) => a < number,
    "<=": (a) => a < number || near(a),
    ">": (a) => a > number,
    ">=": (a) => a > number || near(a),
  };
  const test = tests[operator];
  return (row) => {
    const a = get(row);
    return a !== null && a !== undefined && test(a);
  };
}

/**
 * @param {"number"|"mass"|"cost"} kind
 * @param {string} field
 * @param {{text: string, from: number, to: number}} value
 * @param {string} currency
 * @returns {number|Complaint}
 */
function readNumber(kind, field, value, currency) {
  const { from, to, text } = value;
  const found = /^([+-]?\d+(?:[.,]\d+)?)\s*(\S*)$/.exec(text.trim());
  if (!found) return { from, to, says: `\`${text}\` is no number` };
  const number = Number(found[1].replace(",", "."));
  if (kind === "mass") {
    if (!found[2]) return { from, to, says: `a mass needs its unit (\`${field} > ${found[1]} kg\`)` };
    return kilograms(text) ?? { from, to, says: `\`${found[2]}\` is no unit of mass known here (g, kg, mg, t)` };
  }
  if (found[2] && !(kind === "cost" && found[2].toUpperCase() === currency.toUpperCase())) {
    return { from, to, says: kind === "cost" ? `costs are in ${currency} here` : `\`${field}\` has no unit` };
  }
  return number;
}

/**
 * @param {string} label
 * @param {number} from
 * @param {number} to
 * @param {Model} model
 * @returns {Test|Complaint}
 */
function under(label, from, to, model) {
  const wanted = label.replaceAll('"', "").trim().toLowerCase();
  const heads = model.rows.filter((r) => (r.label ?? "").toLowerCase() === wanted || r.name.toLowerCase() === wanted);
  if (heads.length === 0) return { from, to, says: `no part has the label or name \`${label}\`` };
  const ids = new Set(heads.map((h) => h.id));
  // rows come depth first: whoever's parent is inside is inside
  for (const row of model.rows) if (row.parent !== null && ids.has(row.parent)) ids.add(row.id);
  return (row) => ids.has(row.id);
}

/** @param {Piece[]} term @returns {Test|Complaint} */
function words(term) {
  const or = term.find((p) => isWord(p, "or"));
  if (or) return { from: or.from, to: or.to, says: '`or` joins nothing here; write "or" in quotation marks to look for the word' };
  const wanted = term.map((p) => p.text.toLowerCase());
  return (row) => {
    const hay = `${row.label ?? ""}\n${row.name ?? ""}`.toLowerCase();
    return wanted.every((w) => hay.includes(w));
  };
}
