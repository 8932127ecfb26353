// The table itself. Only the rows in sight are in the document; gaps above and below stand for the others.

import { make } from "./api.js";
import { COLUMNS, called, reasonPage } from "./grid-columns.js";

/** @typedef {import("./grid-model.js").Model} Model */
/** @typedef {import("./grid-model.js").Row} Row */
/** @typedef {import("./grid-select.js").Selection} Selection */
/** @typedef {{text: string, state: "sending"|"refused"}} Waiting text that is not recorded (yet) */
/** @typedef {HTMLTableRowElement & {place: number, row: Row|null}} Line */

const ROWS_AROUND = 8;
const NAME = COLUMNS.findIndex((c) => c.key === "name");
const coarse = matchMedia("(pointer: coarse)");
const narrow = matchMedia("(max-width: 40rem)");

export class Table {
  /**
   * @param {Model} model
   * @param {Selection} selection
   * @param {Map<string, Waiting>} waiting by `id/column`
   */
  constructor(model, selection, waiting) {
    this.model = model;
    this.selection = selection;
    this.waiting = waiting;
    /** @type {Set<string>} cells to flash, as `id/column` */
    this.flash = new Set();
    /** @type {Line[]} rows in the document, in order */
    this.lines = [];
    /** @type {Line[]} rows taken out, to be filled again */
    this.spare = [];
    this.rowHeight = 28;
    /** @type {number[]} left edges of the columns, and the right edge of the last */
    this.edges = [];

    this.cols = COLUMNS.map(() => make("col"));
    this.above = make(
      "tr",
      { class: "gap", role: "presentation", "aria-hidden": "true" },
      make("td", { colspan: COLUMNS.length, role: "presentation" }),
    );
    this.below = /** @type {HTMLTableRowElement} */ (this.above.cloneNode(true));
    this.body = make("tbody", { role: "rowgroup" });
    this.headings = COLUMNS.map((c, i) =>
      make(
        "th",
        {
          scope: "col",
          role: "columnheader",
          "aria-colindex": i + 1,
          "aria-sort": "none",
          "data-test": "heading",
          "data-col": c.key,
          class: c.right ? "right" : null,
          title: c.says,
        },
        make("button", { type: "button", tabindex: -1 }, make("span", {}, c.title), make("i", { "aria-hidden": "true" })),
      ),
    );
    this.table = make(
      "table",
      {
        role: "grid",
        "aria-label": "parts",
        "aria-multiselectable": "true",
        "aria-colcount": COLUMNS.length,
        "data-test": "table",
      },
      make("colgroup", {}, ...this.cols),
      make("thead", { role: "rowgroup" }, make("tr", { role: "row", "aria-rowindex": 1 }, ...this.headings)),
      make("tbody", { role: "presentation", "aria-hidden": "true" }, this.above),
      this.body,
      make("tbody", { role: "presentation", "aria-hidden": "true" }, this.below),
    );
    this.sheet = make("div", { class: "sheet" }, this.table);
    this.box = make(
      "div",
      { class: "grid-box", "data-test": "box", tabindex: 0, role: "group", "aria-label": "parts grid" },
      this.sheet,
    );
    // the whole text of a cell that is cut off; made only for the cell pointed at, ten thousand would cost time
    this.body.addEventListener("pointerover", (e) => {
      const cell = e.target instanceof Element ? e.target.closest("[data-test=cell]") : null;
      const row = cell instanceof HTMLTableCellElement && cell.dataset.row ? model.byId.get(cell.dataset.row) : undefined;
      if (!row || !(cell instanceof HTMLTableCellElement)) return;
      const column = COLUMNS[cell.cellIndex];
      cell.title = cell.dataset.col === "name" ? model.path(row) : (column.hover ?? column.text)(row);
    });
    let asked = false;
    this.box.addEventListener(
      "scroll",
      () => {
        if (asked) return;
        asked = true;
        requestAnimationFrame(() => {
          asked = false;
          this.render();
        });
      },
      { passive: true },
    );
  }

  /** Fits widths and height into the page as it is now. */
  measure() {
    this.rowHeight = coarse.matches ? 40 : 28;
    this.sheet.style.setProperty("--row", `${this.rowHeight}px`);
    const widths = COLUMNS.map((c) =>
      narrow.matches && c.key === "name" ? 190 : narrow.matches && c.key === "label" ? 76 : c.width,
    );
    const room = this.box.clientWidth - widths.reduce((a, b) => a + b, 0);
    if (room > 0) widths[NAME] += room;
    this.edges = [0];
    widths.forEach((w, i) => {
      this.cols[i].style.width = `${w}px`;
      this.edges.push(this.edges[i] + w);
    });
    this.table.style.width = `${this.edges[COLUMNS.length]}px`;
    const top = this.box.getBoundingClientRect().top + scrollY;
    const below = [this.box.nextElementSibling, document.querySelector("footer")].reduce(
      (h, e) => h + (e instanceof HTMLElement ? e.offsetHeight : 0),
      0,
    );
    this.box.style.height = `${Math.round(Math.max(innerHeight * 0.6, innerHeight - top - below - 18))}px`;
    this.headHeight = this.table.tHead?.offsetHeight ?? 30;
    this.render(true);
  }

  /** Shows what is in sight. @param {boolean} [anew] fill rows again that were there already */
  render(anew = false) {
    const { shown } = this.model;
    const h = this.rowHeight;
    const first = Math.max(0, Math.floor(this.box.scrollTop / h) - ROWS_AROUND);
    const end = Math.min(shown.length, Math.ceil((this.box.scrollTop + this.box.clientHeight) / h) + ROWS_AROUND);
    const start = Math.min(first, end);
    const hadFocus = this.body.contains(document.activeElement);
    const before = this.lines[0]?.place ?? 0;
    if (this.lines.length > 0 && (before >= end || before + this.lines.length <= start)) {
      // a leap: no row stays, so the rows there are filled anew where they stand, which is quicker than moving them
      while (this.lines.length > end - start) this.#take(/** @type {Line} */ (this.lines.pop()));
      this.lines.forEach((line, i) => this.#fill(line, start + i));
    } else {
      while (this.lines.length > 0 && this.lines[0].place < start) this.#take(/** @type {Line} */ (this.lines.shift()));
      while (this.lines.length > 0 && this.lines[this.lines.length - 1].place >= end)
        this.#take(/** @type {Line} */ (this.lines.pop()));
      if (anew) for (const line of this.lines) this.#fill(line, line.place);
    }
    const inFront = document.createDocumentFragment();
    const stands = this.lines[0]?.place ?? start;
    const added = [];
    for (let i = start; i < stands; i += 1) added.push(this.#line(i, inFront));
    if (added.length > 0) this.body.prepend(inFront);
    this.lines.unshift(...added);
    const behind = document.createDocumentFragment();
    for (let i = start + this.lines.length; i < end; i += 1) this.lines.push(this.#line(i, behind));
    if (behind.hasChildNodes()) this.body.append(behind);
    /** @type {HTMLElement} */ (this.above.firstChild).style.height = `${start * h}px`;
    /** @type {HTMLElement} */ (this.below.firstChild).style.height = `${(shown.length - end) * h}px`;
    this.table.setAttribute("aria-rowcount", String(shown.length + 1));
    this.#mark();
    // a focused cell that was scrolled away hands the keys to the box, which listens as the cell did
    if (hadFocus && !this.body.contains(document.activeElement)) this.box.focus({ preventScroll: true });
  }

  /** Draws choice and tab stop again, without filling cells. */
  #mark() {
    const { selection } = this;
    const active = selection.active;
    let reachable = false;
    for (const line of this.lines) {
      const cells = line.cells;
      const onRow = active !== null && line.row?.id === active.id;
      for (let c = 0; c < cells.length; c += 1) {
        const chosen = selection.has(line.place, c);
        const cell = cells[c];
        const here = onRow && active?.col === c;
        if ((cell.getAttribute("aria-selected") === "true") !== chosen) cell.setAttribute("aria-selected", String(chosen));
        if ((cell.tabIndex === 0) !== here) cell.tabIndex = here ? 0 : -1;
        reachable ||= here;
      }
    }
    this.box.tabIndex = reachable ? -1 : 0;
  }

  /** @param {Line} line */
  #take(line) {
    line.remove();
    this.spare.push(line);
  }

  /** @param {number} place @param {DocumentFragment} into */
  #line(place, into) {
    const line = this.spare.pop() ?? newLine();
    this.#fill(line, place);
    into.append(line);
    return line;
  }

  /** @param {Line} line @param {number} place */
  #fill(line, place) {
    const { model } = this;
    const row = model.shown[place];
    line.place = place;
    line.row = row ?? null;
    if (!row) return;
    const assembly = model.isAssembly(row.id);
    const computing = model.computed < model.head;
    line.setAttribute("aria-rowindex", String(place + 2));
    line.dataset.row = row.id;
    line.classList.toggle("assembly", assembly);
    for (let c = 0; c < COLUMNS.length; c += 1) {
      const column = COLUMNS[c];
      const cell = line.cells[c];
      const key = `${row.id}/${column.key}`;
      const waiting = this.waiting.get(key);
      const text = waiting?.text ?? column.text(row);
      const holder = /** @type {HTMLElement} */ (cell.lastChild);
      if (holder.textContent !== text) holder.textContent = text;
      cell.dataset.row = row.id;
      const look = `${column.right ? "right" : ""}${waiting ? ` ${waiting.state}` : ""}${computing && column.computed ? " computing" : ""}${column.field ? "" : " fixed"}`;
      if (cell.className !== look) cell.className = look;
      if (waiting?.state === "refused") cell.setAttribute("aria-invalid", "true");
      else if (cell.hasAttribute("aria-invalid")) cell.removeAttribute("aria-invalid");
      if (column.note) {
        const note = waiting ? "" : column.note(row);
        if (cell.firstChild?.textContent !== note) /** @type {HTMLElement} */ (cell.firstChild).textContent = note;
      }
      if (c === 0) {
        // a row without label is still called something
        if (text === "") cell.setAttribute("aria-label", row.name || "no label");
        else if (cell.hasAttribute("aria-label")) cell.removeAttribute("aria-label");
      }
      if (column.link) {
        const line_ = column.link(row);
        const link = /** @type {HTMLAnchorElement} */ (holder);
        if (line_ && text) link.href = reasonPage(line_);
        else link.removeAttribute("href");
      }
      if (c === NAME) {
        if (cell.style.getPropertyValue("--level") !== String(row.level)) cell.style.setProperty("--level", String(row.level));
        const fold = /** @type {HTMLButtonElement} */ (cell.firstChild);
        fold.hidden = !assembly || !model.inTreeOrder();
        const folded = model.folded.has(row.id);
        fold.setAttribute("aria-expanded", String(!folded));
        fold.setAttribute("aria-label", `${folded ? "unfold" : "fold"} ${called(row)}`);
      }
      if (this.flash.has(key)) {
        cell.classList.add("changed");
        this.flash.delete(key);
        cell.addEventListener("animationend", () => cell.classList.remove("changed"), { once: true });
      }
    }
  }

  /** @param {number} place @param {number} col @returns {HTMLTableCellElement|null} */
  cell(place, col) {
    return this.lines.find((l) => l.place === place)?.cells[col] ?? null;
  }

  /** Where a cell lies inside the sheet. @param {number} place @param {number} col */
  spot(place, col) {
    return {
      left: this.edges[col],
      top: (this.headHeight ?? 30) + place * this.rowHeight,
      width: this.edges[col + 1] - this.edges[col],
      height: this.rowHeight,
    };
  }

  /** Brings a cell into sight, clear of heading and label column. @param {number} place @param {number} col */
  reveal(place, col) {
    const { box, rowHeight } = this;
    const top = place * rowHeight;
    const room = box.clientHeight - (this.headHeight ?? 30);
    if (top < box.scrollTop) box.scrollTop = top;
    else if (top + rowHeight > box.scrollTop + room) box.scrollTop = top + rowHeight - room;
    if (col > 0) {
      const left = this.edges[col] - this.edges[1];
      if (left < box.scrollLeft) box.scrollLeft = left;
      else if (this.edges[col + 1] > box.scrollLeft + box.clientWidth)
        box.scrollLeft = Math.min(left, this.edges[col + 1] - box.clientWidth);
    }
  }

  /** Puts the focus where the choice is. */
  focusActive() {
    const { active } = this.selection;
    const place = active ? this.model.position.get(active.id) : undefined;
    if (!active || place === undefined) {
      this.box.focus({ preventScroll: true });
      return;
    }
    this.reveal(place, active.col);
    this.render();
    (this.cell(place, active.col) ?? this.box).focus({ preventScroll: true });
  }
}

/** @returns {Line} */
function newLine() {
  const line = make("tr", { role: "row" });
  COLUMNS.forEach((column, c) => {
    const hooks = {
      "data-test": "cell",
      "data-col": column.key,
      "aria-colindex": c + 1,
      "aria-readonly": column.field ? null : "true",
    };
    const cell = c === 0 ? make("th", { ...hooks, scope: "row", role: "rowheader" }) : make("td", { ...hooks, role: "gridcell" });
    if (column.key === "name")
      cell.append(make("button", { type: "button", class: "grid-fold", tabindex: -1 }), make("span", { dir: "auto" }));
    else if (column.note) cell.append(make("small", { class: "note" }), make("span", { dir: "auto" }));
    else if (column.link) cell.append(make("a", { tabindex: -1 }));
    else cell.append(make("span", { dir: "auto" }));
    line.append(cell);
  });
  return Object.assign(line, { place: -1, row: null });
}
