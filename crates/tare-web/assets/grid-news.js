// Reading the rows again: on news from others, after own entries, when new figures stand. Place, choice and the text being written stay.

import { changedCells } from "./grid-model.js";
import { COLUMNS } from "./grid-columns.js";
import { counted, get, problemList, problemsOf } from "./api.js";

/** @typedef {import("./grid.js").Desk} Desk */
/** @typedef {{number: number, author: string, says: string}} News */

const AFTER_NEWS = 200;
const AFTER_FIGURES = 350;
/** How long to wait for new figures after an own entry before the rows are read again anyway. */
export const FIGURES_AT_LATEST = 6000;

export class Reading {
  /** @param {Desk} desk */
  constructor(desk) {
    this.desk = desk;
    /** @type {News[]} */
    this.news = [];
    /** Own entries since the page was opened. */
    this.changes = 0;
    this.timer = 0;
    this.due = Infinity;
    this.#listen();
  }

  /**
   * Reads the rows again and changes what differs; place, choice and the text being written stay.
   * @param {{follow?: string|null}} [how] `follow`: the row to choose afterwards
   */
  async again({ follow = null } = {}) {
    clearTimeout(this.timer);
    this.due = Infinity;
    const began = this.changes;
    let fetched;
    try {
      fetched = await get("parts");
    } catch (refused) {
      if (this.desk.model.rows.length === 0) this.desk.table.box.replaceChildren(problemList(problemsOf(refused)));
      this.desk.say(
        `the rows could not be read: ${problemsOf(refused)
          .map((p) => p.says)
          .join("; ")}`,
        true,
        { text: "try again", go: () => this.again() },
      );
      return;
    }
    if (this.desk.model.rows.length > 0) await this.#hearOf(fetched.head);
    if (this.changes !== began && !follow) {
      // something was recorded while the answer was on its way: it may lack it
      this.soon();
      return;
    }
    const news = this.news.filter((n) => n.number <= fetched.head);
    this.news = this.news.filter((n) => n.number > fetched.head);
    if (this.news.length > 0) this.soon();
    const others = news.filter((n) => !this.desk.steps.own.has(n.number));
    this.#take(fetched, others, follow);
    if (follow) this.desk.table.focusActive();
  }

  /** Rows can be quicker than the news of who changed them; waits a moment, so that the change gets its name. @param {number} head */
  async #hearOf(head) {
    const heard = () => Math.max(this.desk.model.head, ...this.news.map((n) => n.number), ...[...this.desk.steps.own].slice(-5));
    for (let round = 0; round < 8 && heard() < head; round += 1) await new Promise((go) => setTimeout(go, 60));
  }

  /** @param {any} fetched @param {News[]} others @param {string|null} follow */
  #take(fetched, others, follow) {
    const { table, model, selection } = this.desk;
    const top = Math.floor(table.box.scrollTop / table.rowHeight);
    const anchor = model.shown[top]?.id;
    const offset = table.box.scrollTop - top * table.rowHeight;
    const oldPlace = selection.active ? (model.position.get(selection.active.id) ?? 0) : 0;
    const had = this.desk.holdsFocus();
    const before = model.byId;
    model.take(fetched);
    if (others.length > 0) {
      const written = COLUMNS.filter((c) => !c.computed);
      const changed = changedCells(before, fetched.rows, written);
      const gone = [...before.keys()].filter((id) => !model.byId.has(id)).length;
      for (const key of changed) table.flash.add(key);
      const fields = new Set(written.filter((c) => c.field).map((c) => c.key));
      const cells = [...changed].filter(
        (key) => fields.has(key.slice(key.indexOf("/") + 1)) && before.has(key.slice(0, key.indexOf("/"))),
      );
      this.#tell(others, [
        [cells.length, "cell", "changed"],
        [fetched.rows.length - before.size + gone, "row", "new"],
        [gone, "row", "gone"],
      ]);
    }
    if (follow && model.position.has(follow)) selection.only({ id: follow, col: selection.active?.col ?? 1 });
    const wasActive = selection.active !== null;
    selection.refresh();
    if (wasActive && !selection.active && model.shown.length > 0) {
      selection.only({ id: model.shown[Math.min(oldPlace, model.shown.length - 1)].id, col: 1 });
    }
    table.render(true);
    const now = anchor === undefined ? undefined : model.position.get(anchor);
    if (now !== undefined && now !== top) {
      table.box.scrollTop = now * table.rowHeight + offset;
      table.render();
    }
    if (had && !this.desk.holdsFocus() && !this.desk.editor.open) table.focusActive();
    this.desk.editor.follow();
    if (this.desk.editor.open) this.desk.editor.noticeChange(others[others.length - 1]?.author ?? "somebody");
    this.desk.headings();
    this.desk.status();
  }

  /** @param {News[]} others @param {[number, string, string][]} facts */
  #tell(others, facts) {
    const who = [...new Set(others.map((n) => n.author))].join(", ");
    const what = others.length === 1 ? others[0].says : counted(others.length, "entry", "entries");
    const parts = facts
      .filter(([n]) => n > 0)
      .map(([n, one, how]) => `${counted(n, one)} ${how}`)
      .join(", ");
    this.desk.say(`${who}: ${what}${parts ? ` (${parts})` : ""}`);
  }

  #listen() {
    document.addEventListener("tare:entry", (e) => {
      this.news.push(/** @type {CustomEvent} */ (e).detail);
      this.soon();
    });
    document.addEventListener("tare:computed", () => this.soon(AFTER_FIGURES, true));
    document.addEventListener("tare:online", (e) => {
      if (/** @type {CustomEvent} */ (e).detail?.missed) this.soon(0, true);
    });
  }

  /** @param {number} [wait] @param {boolean} [surely] also where only own entries are new, whose cells are on the page already */
  soon(wait = AFTER_NEWS, surely = false) {
    const now = performance.now();
    if (surely) this.due = Math.min(this.due, now + wait + 1500);
    clearTimeout(this.timer);
    this.timer = setTimeout(
      () => {
        const sending = [...this.desk.waiting.values()].some((w) => w.state === "sending");
        if (sending && performance.now() < this.due) this.soon(wait, surely);
        else if (
          !surely &&
          this.due === Infinity &&
          this.news.length > 0 &&
          this.news.every((n) => this.desk.steps.own.has(n.number))
        ) {
          this.news = [];
          this.soon(FIGURES_AT_LATEST, true);
        } else this.again();
      },
      Math.max(0, Math.min(wait, this.due - now)),
    );
  }
}
