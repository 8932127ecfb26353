// Which cells are chosen. Rows are held by id, so that a choice outlives rows that come, go or move.

/** @typedef {{id: string, col: number}} Spot */
/** @typedef {{a: Spot, b: Spot}} Range */
/** @typedef {import("./grid-model.js").Model} Model */

export class Selection {
  /** @param {Model} model @param {number} columns */
  constructor(model, columns) {
    this.model = model;
    this.columns = columns;
    /** @type {Spot|null} */
    this.active = null;
    /** @type {Range[]} */
    this.ranges = [];
    /** @type {{r1: number, r2: number, c1: number, c2: number}[]} ranges as places, worked out again after each change */
    this.boxes = [];
  }

  /** Chooses one cell and nothing else. @param {Spot} spot */
  only(spot) {
    this.active = spot;
    this.ranges = [{ a: spot, b: spot }];
    this.refresh();
  }

  /** Stretches the last range. @param {Spot} to */
  stretch(to) {
    const last = this.ranges[this.ranges.length - 1];
    if (!last) this.only(to);
    else {
      last.b = to;
      this.refresh();
    }
  }

  /** Adds one more cell; one already chosen is given up. @param {Spot} spot */
  add(spot) {
    const again = this.ranges.findIndex(
      (r) => r.a.id === spot.id && r.b.id === spot.id && r.a.col === spot.col && r.b.col === spot.col,
    );
    if (again >= 0 && this.ranges.length > 1) {
      this.ranges.splice(again, 1);
      this.active = this.ranges[this.ranges.length - 1].b;
    } else {
      this.ranges.push({ a: spot, b: spot });
      this.active = spot;
    }
    this.refresh();
  }

  /** Widens every range to whole rows. */
  wholeRows() {
    for (const range of this.ranges) {
      range.a = { id: range.a.id, col: 0 };
      range.b = { id: range.b.id, col: this.columns - 1 };
    }
    this.refresh();
  }

  all() {
    const { shown } = this.model;
    if (shown.length === 0) return;
    this.ranges = [{ a: { id: shown[0].id, col: 0 }, b: { id: shown[shown.length - 1].id, col: this.columns - 1 } }];
    this.refresh();
  }

  /** Works out places anew and lets go of rows that are no longer shown. */
  refresh() {
    const at = (/** @type {Spot} */ s) => this.model.position.get(s.id);
    this.ranges = this.ranges.filter((r) => at(r.a) !== undefined && at(r.b) !== undefined);
    if (this.active && at(this.active) === undefined) this.active = this.ranges[0]?.a ?? null;
    if (this.active && this.ranges.length === 0) this.ranges = [{ a: this.active, b: this.active }];
    this.boxes = this.ranges.map(({ a, b }) => {
      const [p, q] = [/** @type {number} */ (at(a)), /** @type {number} */ (at(b))];
      return { r1: Math.min(p, q), r2: Math.max(p, q), c1: Math.min(a.col, b.col), c2: Math.max(a.col, b.col) };
    });
  }

  /** @param {number} row @param {number} col */
  has(row, col) {
    return this.boxes.some((b) => row >= b.r1 && row <= b.r2 && col >= b.c1 && col <= b.c2);
  }

  /** Places of all rows that hold a chosen cell, in order. */
  rows() {
    const places = new Set();
    for (const b of this.boxes) for (let r = b.r1; r <= b.r2; r += 1) places.add(r);
    return [...places].sort((x, y) => x - y);
  }

  /** How many cells are chosen. Overlapping ranges count once. */
  cells() {
    if (this.boxes.length === 1) {
      const [b] = this.boxes;
      return (b.r2 - b.r1 + 1) * (b.c2 - b.c1 + 1);
    }
    let n = 0;
    for (const r of this.rows()) for (let c = 0; c < this.columns; c += 1) if (this.has(r, c)) n += 1;
    return n;
  }

  /** The smallest block around all that is chosen. */
  around() {
    const [first] = this.boxes;
    if (!first) return null;
    const box = { ...first };
    for (const b of this.boxes) {
      box.r1 = Math.min(box.r1, b.r1);
      box.r2 = Math.max(box.r2, b.r2);
      box.c1 = Math.min(box.c1, b.c1);
      box.c2 = Math.max(box.c2, b.c2);
    }
    return box;
  }
}
