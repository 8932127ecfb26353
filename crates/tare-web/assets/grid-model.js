// The rows of the parts grid: tree order, folding, sorting, filtering, what changed between two fetches. No document here.

/**
 * @typedef {{text: string, line: string}} Shown
 * @typedef {object} Stated
 * @property {string} id
 * @property {string} text as written
 * @property {string} [evidence]
 * @property {string} [state] state in which a mass was taken
 * @property {string} [source]
 * @property {string} [who]
 * @property {string} [when]
 * @property {number|null} [number] pieces weighed together: the text is the mass of all of them
 */
/**
 * @typedef {object} Row
 * @property {string} id
 * @property {string} item
 * @property {string} label
 * @property {number} level
 * @property {string|null} parent
 * @property {string} name
 * @property {number} count
 * @property {number|null} pieces none until it is computed
 * @property {string} material
 * @property {string} make
 * @property {string} function
 * @property {string} form
 * @property {string} says
 * @property {Shown|null} mass
 * @property {Shown|null} cost
 * @property {number|null} mass_kg
 * @property {number|null} cost_number
 * @property {Stated|null} stated_mass
 * @property {number|null} needed
 * @property {string[]} processes
 * @property {number} photos
 * @property {boolean} removed
 * @property {string[]} [outstanding] readings due
 */

const KILOGRAMS = new Map([
  ["mg", 1e-6],
  ["g", 1e-3],
  ["kg", 1],
  ["t", 1e3],
]);

/** Reads the leading number and unit of a written mass; null where it has none we know. @param {string|undefined|null} text */
export function kilograms(text) {
  const found = /^\s*([+-]?\d+(?:[.,]\d+)?(?:e[+-]?\d+)?)\s*([a-z]+)/i.exec(text ?? "");
  const factor = found ? KILOGRAMS.get(found[2].toLowerCase()) : undefined;
  return found && factor !== undefined ? Number(found[1].replace(",", ".")) * factor : null;
}

/** Stated mass of one piece: of several weighed together it is a share. @param {Row} row */
export function statedKilograms(row) {
  const all = kilograms(row.stated_mass?.text);
  return all === null ? null : all / (row.stated_mass?.number || 1);
}

/** @param {number} kg a mass as a person would write it */
export function massText(kg) {
  const grams = Math.abs(kg) < 1;
  return `${Number((grams ? kg * 1000 : kg).toPrecision(5))} ${grams ? "g" : "kg"}`;
}

export class Model {
  constructor() {
    /** @type {Row[]} in tree order */
    this.rows = [];
    /** @type {Map<string, Row>} */
    this.byId = new Map();
    /** @type {Map<string|null, Row[]>} */
    this.children = new Map();
    /** @type {Map<string, number>} how many rows show an item */
    this.placesOfItem = new Map();
    /** @type {Set<string>} */
    this.folded = new Set();
    /** @type {((row: Row) => boolean)|null} */
    this.filter = null;
    /** @type {{value: (row: Row) => string|number|null, down: boolean}|null} */
    this.sort = null;
    /** @type {Row[]} what is to be seen, in order */
    this.shown = [];
    /** @type {Map<string, number>} */
    this.position = new Map();
    this.head = 0;
    this.computed = 0;
  }

  /** @param {{head: number, computed: number, rows: Row[]}} fetched */
  take(fetched) {
    this.rows = fetched.rows;
    this.head = fetched.head;
    this.computed = fetched.computed;
    this.byId = new Map(fetched.rows.map((r) => [r.id, r]));
    this.children = new Map();
    this.placesOfItem = new Map();
    for (const row of fetched.rows) {
      const beside = this.children.get(row.parent);
      if (beside) beside.push(row);
      else this.children.set(row.parent, [row]);
      this.placesOfItem.set(row.item, (this.placesOfItem.get(row.item) ?? 0) + 1);
    }
    for (const id of this.folded) if (!this.children.has(id)) this.folded.delete(id);
    this.arrange();
  }

  /** Works out what is to be seen. A filter or a sorting looks into folded assemblies as well. */
  arrange() {
    const { rows, filter, sort } = this;
    let shown;
    if (filter) shown = rows.filter(filter);
    else if (sort || this.folded.size === 0) shown = rows.slice();
    else shown = this.#unfolded();
    if (sort) shown = sorted(shown, sort);
    this.shown = shown;
    this.position = new Map(shown.map((r, i) => [r.id, i]));
  }

  #unfolded() {
    const shown = [];
    let hiddenBelow = Infinity;
    for (const row of this.rows) {
      if (row.level > hiddenBelow) continue;
      hiddenBelow = this.folded.has(row.id) ? row.level : Infinity;
      shown.push(row);
    }
    return shown;
  }

  /** @param {string} id */
  isAssembly(id) {
    return this.children.has(id);
  }

  /** @param {Row} row @param {string} ancestor */
  isUnder(row, ancestor) {
    for (let at = row.parent; at !== null; at = this.byId.get(at)?.parent ?? null) if (at === ancestor) return true;
    return false;
  }

  /** Names from the top down to the row. @param {Row} row */
  path(row) {
    const names = [];
    for (let at = /** @type {Row|undefined} */ (row); at; at = at.parent === null ? undefined : this.byId.get(at.parent)) {
      names.unshift(at.name || at.label || "(no name)");
    }
    return names.join(" / ");
  }

  /** Whether rows hang together as the product does, so that "below" and "beside" mean what they say. */
  inTreeOrder() {
    return this.filter === null && this.sort === null;
  }

  /**
   * Adds a number over the shown rows, times the pieces of each. A row inside another shown row that has the number is left out:
   * the assembly's own number holds it already. `without` counts the rows whose number nobody gives.
   * @param {(row: Row) => number|null} number
   */
  sum(number) {
    let total = 0;
    let rows = 0;
    let without = 0;
    const counts = new Map();
    for (const row of this.shown) {
      const value = number(row);
      if (value !== null && value !== undefined) counts.set(row.id, value);
    }
    for (const row of this.shown) {
      const value = counts.get(row.id);
      // an assembly without a figure is no gap: its parts have theirs
      if (value === undefined && this.children.has(row.id)) continue;
      let inside = false;
      for (let at = row.parent; at !== null && !inside; at = this.byId.get(at)?.parent ?? null) inside = counts.has(at);
      if (inside) continue;
      if (value === undefined) without += 1;
      else {
        total += value * (row.pieces ?? 1);
        rows += 1;
      }
    }
    return { total, rows, without };
  }

  /** Pieces of the shown rows that hold no further parts: those are what lies on the table. */
  pieces() {
    let pieces = 0;
    for (const row of this.shown) if (!this.children.has(row.id)) pieces += row.pieces ?? 0;
    return pieces;
  }
}

/**
 * @param {Row[]} rows
 * @param {{value: (row: Row) => string|number|null, down: boolean}} by
 */
function sorted(rows, by) {
  const inOrder = new Intl.Collator(undefined, { numeric: true, sensitivity: "base" });
  const direction = by.down ? -1 : 1;
  const keyed = rows.map((row, place) => ({ row, place, key: by.value(row) }));
  keyed.sort((a, b) => {
    // rows without a value stand last in both directions: they are what is still to be found out
    const without = Number(isNothing(a.key)) - Number(isNothing(b.key));
    if (without !== 0) return without;
    const order =
      typeof a.key === "number" && typeof b.key === "number" ? a.key - b.key : inOrder.compare(String(a.key), String(b.key));
    return order * direction || a.place - b.place;
  });
  return keyed.map((k) => k.row);
}

/** @param {string|number|null} key */
const isNothing = (key) => key === null || key === "";

/**
 * Which cells differ between two fetches, as `id/column`; rows that are new are whole.
 * @param {Map<string, Row>} before
 * @param {Row[]} after
 * @param {{key: string, text: (row: Row) => string}[]} columns
 */
export function changedCells(before, after, columns) {
  const cells = new Set();
  for (const row of after) {
    const old = before.get(row.id);
    for (const column of columns) if (!old || column.text(old) !== column.text(row)) cells.add(`${row.id}/${column.key}`);
  }
  return cells;
}
