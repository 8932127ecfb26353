// The parts grid: brings rows, table, editing and news together.

import { Model } from "./grid-model.js";
import { addUp, makeBar } from "./grid-bar.js";
import { COLUMNS } from "./grid-columns.js";
import { get, make, problemsOf, style } from "./api.js";
import { Editor } from "./grid-edit.js";
import { FIGURES_AT_LATEST, Reading } from "./grid-news.js";
import { listen } from "./grid-keys.js";
import { menu, move } from "./grid-rows.js";
import { readFilter } from "./grid-filter.js";
import { Steps } from "./grid-record.js";
import { Selection } from "./grid-select.js";
import { Table } from "./grid-table.js";

/** @typedef {import("./grid-select.js").Spot} Spot */
/** @typedef {Grid} Desk */

export class Grid {
  /** @param {HTMLElement} root */
  constructor(root) {
    this.root = root;
    this.currency = root.dataset.currency ?? "EUR";
    this.model = new Model();
    this.selection = new Selection(this.model, COLUMNS.length);
    /** @type {Map<string, import("./grid-table.js").Waiting>} */
    this.waiting = new Map();
    /** @type {Map<string, unknown>} why a cell's text was not recorded, by `id/column` */
    this.refusals = new Map();
    this.table = new Table(this.model, this.selection, this.waiting);
    this.editor = new Editor(this);
    this.steps = new Steps();
    /** @type {any} */
    this.choices = null;
    this.adding = 0;
    /** @type {{col: number, down: boolean}|null} */
    this.sorted = null;
    this.reading = new Reading(this);
    this.bar = makeBar(this);
    this.root.append(...this.bar.above, this.table.box, ...this.bar.below);
    new ResizeObserver(() => this.table.measure()).observe(this.root);
    addEventListener("resize", () => this.table.measure());
    listen(this);
    this.#start();
  }

  async #start() {
    this.bar.filterField.value = new URLSearchParams(location.search).get("filter") ?? "";
    this.bar.numbers.textContent = "reading the rows \u2026";
    get("choices").then(
      (choices) => {
        this.choices = choices;
        this.#propose();
      },
      () => {
        // without the lists of proposals everything can still be typed
      },
    );
    await this.refresh();
    if (this.model.rows.length === 0) this.say("no parts yet: add the first one with \u201crow \u2026\u201d");
    this.applyFilter();
    this.table.measure();
  }

  #propose() {
    /** @param {string} id @param {{key: string, title?: string}[]} choices */
    const fill = (id, choices) =>
      this.root
        .querySelector(`#${id}`)
        ?.replaceChildren(...choices.map((c) => make("option", { value: c.key }, c.title && c.title !== c.key ? c.title : "")));
    fill(
      "grid-makes",
      ["make", "buy", "consigned"].map((key) => ({ key })),
    );
    fill("grid-materials", this.choices?.materials ?? []);
    fill(
      "grid-functions",
      [...new Set(this.model.rows.map((r) => r.function).filter(Boolean))].sort().map((key) => ({ key })),
    );
  }

  /** Reads the rows again. @param {{follow?: string|null}} [how] */
  refresh(how) {
    return this.reading.again(how);
  }

  /** An entry of one's own stands. @param {import("./api.js").Recorded} recorded @param {string} [says] */
  recorded(recorded, says) {
    this.reading.changes += 1;
    this.model.head = Math.max(this.model.head, recorded.number);
    if (this.model.filter || this.model.sort) this.status();
    this.say(`entry ${recorded.number}: ${says ?? recorded.says}`);
    this.headings();
    this.reading.soon(FIGURES_AT_LATEST, true);
  }

  async undo() {
    await this.#back(() => this.steps.undo(), "there is nothing of yours to undo; the history page takes back any entry");
  }

  async redo() {
    await this.#back(() => this.steps.redo(), "there is nothing to redo");
  }

  /** @param {() => Promise<import("./api.js").Recorded|null>} go @param {string} nothing */
  async #back(go, nothing) {
    try {
      const recorded = await go();
      if (!recorded) return this.say(nothing);
      this.recorded(recorded);
      await this.refresh();
    } catch (refused) {
      this.say(
        `not done: ${problemsOf(refused)
          .map((p) => p.says)
          .join("; ")}`,
        true,
      );
    }
  }

  /** Empties the chosen cells, in one entry. */
  clear() {
    /** @type {import("./grid-record.js").Change[]} */
    const changes = [];
    for (const place of this.selection.rows()) {
      const row = this.model.shown[place];
      COLUMNS.forEach((column, c) => {
        if (column.field && this.selection.has(place, c) && column.text(row) !== "")
          changes.push({ row, column, to: "", from: column.text(row) });
      });
    }
    if (changes.length === 0) this.say("nothing there that could be emptied");
    else this.editor.send(changes, "emptied");
  }

  /** @param {"up"|"down"|"out"|"in"} where */
  move(where) {
    return move(this, where);
  }

  menu() {
    menu(this);
  }

  /** Forgets what stood against a cell's text. @param {string} key */
  settle(key) {
    this.waiting.delete(key);
    this.refusals.delete(key);
  }

  /** Goes on from the chosen cell. @param {number} down @param {number} right */
  step(down, right) {
    const { selection, model } = this;
    const active = selection.active;
    if (!active) return;
    const place = (model.position.get(active.id) ?? 0) + down;
    const row = model.shown[Math.max(0, Math.min(model.shown.length - 1, place))];
    const many = selection.rows().length > 1;
    // a choice of many rows stays, so that what went into all of them can be seen and typed once more
    if (!many || right !== 0) selection.only({ id: row.id, col: Math.max(0, Math.min(COLUMNS.length - 1, active.col + right)) });
    this.table.focusActive();
    this.status();
  }

  /** The choice changed. @param {Spot} at where to look @param {boolean} single */
  chosen(at, single) {
    const place = this.model.position.get(at.id);
    if (place !== undefined) this.table.reveal(place, at.col);
    if (single) this.table.focusActive();
    else this.table.render();
    this.status();
  }

  /** @param {string} id */
  fold(id) {
    if (!this.model.folded.delete(id)) this.model.folded.add(id);
    this.#rearrange();
  }

  foldAll() {
    const { model } = this;
    const deep = model.rows.filter((r) => r.level > 0 && model.isAssembly(r.id));
    if (model.folded.size > 0) model.folded.clear();
    else for (const row of deep) model.folded.add(row.id);
    this.#rearrange();
  }

  #rearrange() {
    const { model, selection, table } = this;
    const had = this.holdsFocus();
    if (selection.active) {
      // a row folded away hands the choice to the assembly that holds it
      let at = model.byId.get(selection.active.id);
      model.arrange();
      while (at && !model.position.has(at.id)) at = at.parent === null ? undefined : model.byId.get(at.parent);
      if (at && at.id !== selection.active.id) selection.only({ id: at.id, col: selection.active.col });
    } else model.arrange();
    selection.refresh();
    this.bar.foldButton.textContent = model.folded.size > 0 ? "unfold all" : "fold all";
    this.bar.foldButton.disabled = !model.inTreeOrder();
    table.render(true);
    if (had) table.focusActive();
    this.headings();
    this.status();
  }

  /** Third press: back to the order of the tree. @param {number} col */
  sortBy(col) {
    const { model } = this;
    const column = COLUMNS[col];
    const now = this.sorted?.col === col ? this.sorted : null;
    this.sorted = now?.down ? null : { col, down: now !== null };
    model.sort = this.sorted ? { value: column.sort, down: this.sorted.down } : null;
    this.#rearrange();
    this.table.box.scrollTop = 0;
    this.say(
      this.sorted ? `sorted by ${column.title}, ${this.sorted.down ? "largest" : "smallest"} first` : "in the order of the tree",
    );
  }

  /** Marks sorting, and figures older than the rows. */
  headings() {
    const computing = this.model.computed < this.model.head;
    this.table.headings.forEach((th, c) => {
      th.setAttribute("aria-sort", this.sorted?.col === c ? (this.sorted.down ? "descending" : "ascending") : "none");
      const old = computing && COLUMNS[c].computed;
      th.classList.toggle("computing", Boolean(old));
      th.title = old
        ? `computing: the figures are of entry ${this.model.computed}, the rows of entry ${this.model.head}`
        : COLUMNS[c].says;
    });
  }

  /** @param {string} text */
  setFilter(text) {
    this.bar.filterField.value = text;
    this.applyFilter();
  }

  applyFilter() {
    const text = this.bar.filterField.value;
    const { test, complaint } = readFilter(text, this.model, this.currency);
    this.bar.complaint.hidden = complaint === null;
    this.bar.filterField.setAttribute("aria-invalid", String(complaint !== null));
    if (complaint) {
      // the rows stay as the last filter that could be read left them
      this.bar.complaint.replaceChildren(
        make(
          "code",
          {},
          text.slice(0, complaint.from),
          make("mark", {}, text.slice(complaint.from, complaint.to) || "\u2423"),
          text.slice(complaint.to),
        ),
        ` character ${complaint.from + 1}: ${complaint.says}`,
      );
      return;
    }
    const was = this.model.filter;
    this.model.filter = test;
    if (was === null && test === null) return;
    this.#rearrange();
    this.table.box.scrollTop = 0;
    this.table.render();
    const here = new URL(location.href);
    if (text.trim() === "") here.searchParams.delete("filter");
    else here.searchParams.set("filter", text.trim());
    history.replaceState(history.state, "", here);
  }

  /** Writes the line below the grid, once the rows are drawn: adding ten thousand of them up can wait that long. */
  status() {
    if (this.adding) return;
    this.adding = setTimeout(() => {
      this.adding = 0;
      addUp(this);
    }, 0);
  }

  /**
   * @param {string} text
   * @param {boolean} [badly]
   * @param {{text: string, go: () => void}} [offer]
   */
  say(text, badly = false, offer) {
    this.bar.message.classList.toggle("badly", badly);
    this.bar.message.replaceChildren(
      make("bdi", {}, text),
      ...(offer ? [" ", make("button", { type: "button", "data-test": "offer", onclick: offer.go }, offer.text)] : []),
    );
    this.bar.message.title = text;
  }

  /** Whether keys go to the cells just now. */
  holdsFocus() {
    const at = document.activeElement;
    return at instanceof HTMLElement && this.table.box.contains(at) && !(at instanceof HTMLInputElement);
  }

  /** Where a panel about the choice belongs. */
  anchor() {
    const { active } = this.selection;
    const place = active ? this.model.position.get(active.id) : undefined;
    const cell = active && place !== undefined ? this.table.cell(place, active.col) : null;
    return (cell ?? this.table.box).getBoundingClientRect();
  }
}

const root = document.getElementById("grid");
if (root) {
  style("grid.css");
  new Grid(root);
}
