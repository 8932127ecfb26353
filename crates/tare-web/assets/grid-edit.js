// Editing of a cell in place: the field over the cell, the unit question, both values where somebody else was quicker.

import { closePanel, openPanel, panelHasFocus } from "./grid-panel.js";
import { COLUMNS, called, written } from "./grid-columns.js";
import { massAndEvidence } from "./grid-mass.js";
import { commandsOf, conflictOf, patch, recordChanges } from "./grid-record.js";
import { counted, make, problemList, problemsOf } from "./api.js";

/** @typedef {import("./grid.js").Desk} Desk */
/** @typedef {import("./grid-model.js").Row} Row */
/** @typedef {import("./grid-columns.js").Column} Column */
/** @typedef {import("./grid-record.js").Change} Change */
/** @typedef {{rows: Row[], column: Column, col: number, from: Map<string, string>, input: HTMLInputElement, refused?: string}} Open
 *   `from`: what each row showed when it was opened; `refused`: text that was sent already and not taken, which is not sent again by
 *   merely going elsewhere: the cell stays marked with it */

const BARE_NUMBER = /^[+-]?\d+(?:[.,]\d+)?$/;

export class Editor {
  /** @param {Desk} desk */
  constructor(desk) {
    this.desk = desk;
    /** @type {Open|null} */
    this.open = null;
  }

  /**
   * Begins to edit the chosen cell. Where more rows are chosen, what is typed goes into all of them.
   * @param {string|null} typed the first key typed, which replaces what was there; null to go on with what is there
   */
  begin(typed = null) {
    const { selection, model, table } = this.desk;
    const { active } = selection;
    const row = active ? model.byId.get(active.id) : undefined;
    const place = active ? model.position.get(active.id) : undefined;
    if (!active || !row || place === undefined) return;
    const column = COLUMNS[active.col];
    if (!column.field) {
      this.desk.say(
        column.computed ? `${column.title} is computed; Enter opens its reason` : `${column.title} is not written here`,
      );
      return;
    }
    this.end();
    const chosen = selection.rows();
    const rows = chosen.length > 1 && chosen.includes(place) ? chosen.map((p) => model.shown[p]) : [row];
    const waiting = this.desk.waiting.get(`${row.id}/${column.key}`);
    const from = new Map(
      rows.map((r) => {
        const sent = this.desk.waiting.get(`${r.id}/${column.key}`);
        return [r.id, sent?.state === "sending" ? sent.text : column.text(r)];
      }),
    );
    table.reveal(place, active.col);
    table.render();
    const input = make("input", {
      class: `cell-input${column.right ? " right" : ""}`,
      type: "text",
      autocomplete: "off",
      spellcheck: "false",
      dir: "auto",
      enterkeyhint: "next",
      list: column.list ?? null,
      "aria-label": `${column.title} of ${rows.length > 1 ? counted(rows.length, "row") : called(row)}`,
      "data-test": "editor",
      inputmode: column.key === "count" || column.key === "needed" ? "numeric" : null,
    });
    input.value = typed ?? (waiting?.state === "refused" ? waiting.text : (from.get(row.id) ?? ""));
    const spot = table.spot(place, active.col);
    Object.assign(input.style, {
      left: `${spot.left}px`,
      top: `${spot.top}px`,
      width: `${Math.max(spot.width, 120)}px`,
      height: `${spot.height}px`,
    });
    this.open = { rows: [row, ...rows.filter((r) => r !== row)], column, col: active.col, from, input };
    input.addEventListener("keydown", (e) => this.#key(e));
    input.addEventListener("blur", () => setTimeout(() => this.#left(input), 0));
    table.sheet.append(input);
    input.focus({ preventScroll: true });
    if (typed === null) input.select();
    this.#sayWhatChanges();
    const refused = this.desk.refusals.get(`${row.id}/${column.key}`);
    if (refused) this.#showRefusal(refused);
  }

  /** An item at several places changes at all of them: that is said before, not found out after. */
  #sayWhatChanges() {
    const { open, desk } = this;
    if (!open) return;
    const places = open.column.ofItem ? (desk.model.placesOfItem.get(open.rows[0].item) ?? 1) : 1;
    const together = open.column.key === "stated" ? (open.rows[0].stated_mass?.number ?? 1) : 1;
    if (open.rows.length === 1 && together > 1) desk.say(`weighed ${together} together: the text is the mass of all ${together}`);
    else if (open.rows.length === 1 && open.column.key === "stated" && places === 1)
      desk.say("taken as assumed unless it ends with measured, derived, handbook or quoted");
    else if (open.rows.length > 1)
      desk.say(`typing fills ${open.column.title} of ${counted(open.rows.length, "chosen row")}, in one entry`);
    else if (places > 1) desk.say(`this item stands at ${counted(places, "place")}; its ${open.column.title} changes at each`);
  }

  /** @param {KeyboardEvent} e */
  #key(e) {
    e.stopPropagation();
    if (e.isComposing) return;
    if (e.key === "Escape") {
      e.preventDefault();
      this.giveUp();
    } else if (e.key === "Enter" || e.key === "Tab") {
      e.preventDefault();
      const step = e.key === "Enter" ? { down: e.shiftKey ? -1 : 1, right: 0 } : { down: 0, right: e.shiftKey ? -1 : 1 };
      this.commit(step);
    }
  }

  /** The field lost the focus to something that is not its own panel: what was typed counts. @param {HTMLInputElement} input */
  #left(input) {
    const { open } = this;
    if (open?.input !== input || document.activeElement === input || panelHasFocus() || !document.hasFocus()) return;
    if (open.refused === input.value) this.end();
    else this.commit(null);
  }

  /** Drops the text typed and what stood against it. */
  giveUp() {
    const { open, desk } = this;
    if (!open) return;
    for (const row of open.rows) desk.settle(`${row.id}/${open.column.key}`);
    this.end();
    desk.table.render(true);
    desk.table.focusActive();
  }

  /** Takes the field away. */
  end() {
    const { open } = this;
    this.open = null;
    closePanel();
    open?.input.remove();
  }

  /** @param {{down: number, right: number}|null} step where to go afterwards; null to stay where the focus went */
  commit(step) {
    const { open, desk } = this;
    if (!open) return;
    const text = written(open.column, open.input.value);
    if (open.column.key === "stated" && BARE_NUMBER.test(massAndEvidence(text).to)) {
      this.#askUnit(text, step);
      return;
    }
    const changes = open.rows.map((row) => ({ row, column: open.column, to: text, from: open.from.get(row.id) ?? "" }));
    this.end();
    for (const c of changes) desk.settle(`${c.row.id}/${c.column.key}`);
    if (step) desk.step(step.down, step.right);
    if (commandsOf(changes).length === 0) desk.table.render(true);
    else this.send(changes);
  }

  /**
   * Shows the text at once, greyed, and records it. A refusal brings it back into the field, nothing typed is lost.
   * @param {Change[]} changes
   * @param {string} [how]
   */
  async send(changes, how) {
    const { desk } = this;
    for (const c of changes) desk.waiting.set(`${c.row.id}/${c.column.key}`, { text: c.to, state: "sending" });
    desk.table.render(true);
    try {
      const recorded = await recordChanges(changes, desk.steps, how);
      for (const c of changes) desk.settle(`${c.row.id}/${c.column.key}`);
      if (recorded) {
        patch(desk.model.rows, changes);
        desk.recorded(recorded);
      }
    } catch (refused) {
      for (const c of changes) {
        const key = `${c.row.id}/${c.column.key}`;
        desk.waiting.set(key, { text: c.to, state: "refused" });
        desk.refusals.set(key, refused);
      }
      this.#refused(changes, refused);
    }
    desk.table.render(true);
    desk.status();
  }

  /** @param {Change[]} changes @param {unknown} refused */
  #refused(changes, refused) {
    const { desk } = this;
    const [first] = changes;
    const conflict = conflictOf(refused);
    const says = conflict
      ? `changed meanwhile: it is \`${conflict.found}\` by now`
      : problemsOf(refused)
          .map((p) => p.says)
          .join("; ");
    desk.say(`not recorded: ${first.column.title} of ${called(first.row)}: ${says}`, true);
    // whoever is typing elsewhere by now is not torn away; the cell stays marked and opens with its text
    if (this.open || panelHasFocus() || !desk.model.position.has(first.row.id)) return;
    const col = COLUMNS.indexOf(first.column);
    desk.selection.only({ id: first.row.id, col });
    for (const c of changes.slice(1))
      if (c.column === first.column && desk.model.position.has(c.row.id)) desk.selection.add({ id: c.row.id, col });
    desk.selection.active = { id: first.row.id, col };
    this.begin();
  }

  /** @param {unknown} refused */
  #showRefusal(refused) {
    const { open } = this;
    if (!open) return;
    const conflict = conflictOf(refused);
    const row = conflict ? (open.rows.find((r) => conflict.target.includes(r.id)) ?? open.rows[0]) : null;
    if (conflict && row)
      this.askWhich(
        row,
        conflict.found,
        open.rows.length > 1 ? `${called(row)} was changed while you wrote` : "it was changed while you wrote",
      );
    else this.#panel("message", "why it was not recorded", problemList(problemsOf(refused)));
    open.refused = open.input.value;
    open.input.setAttribute("aria-invalid", "true");
    open.input.addEventListener("input", () => open.input.removeAttribute("aria-invalid"), { once: true });
  }

  /**
   * Two values, two buttons.
   * @param {Row} row
   * @param {string} theirs
   * @param {string} why
   */
  askWhich(row, theirs, why) {
    const { open } = this;
    if (!open) return;
    const shown = (/** @type {string} */ t) => make("bdi", { class: "value" }, t === "" ? "(nothing)" : t);
    const mine = shown(open.input.value);
    open.input.addEventListener("input", () => {
      mine.textContent = open.input.value || "(nothing)";
    });
    this.#panel(
      "conflict",
      why,
      make("p", {}, `${why[0].toUpperCase()}${why.slice(1)}.`),
      make(
        "dl",
        {},
        make(
          "div",
          {},
          make("dt", {}, "theirs"),
          make("dd", {}, shown(theirs)),
          make("button", { type: "button", "data-test": "take-theirs", onclick: () => this.#keepTheirs() }, "keep theirs"),
        ),
        make(
          "div",
          {},
          make("dt", {}, "mine"),
          make("dd", {}, mine),
          make("button", { type: "button", "data-test": "take-mine", onclick: () => this.#insist(row, theirs) }, "record mine"),
        ),
      ),
      open.from.get(row.id) === theirs
        ? null
        : make("p", { class: "soft" }, "You began from ", shown(open.from.get(row.id) ?? ""), "."),
    );
  }

  /** Where the server told of the other value, no news may have brought it yet: the rows are read, or the old one would be shown. */
  #keepTheirs() {
    this.giveUp();
    this.desk.refresh();
  }

  /** Records one's own text over a value one has seen now. @param {Row} row @param {string} theirs */
  #insist(row, theirs) {
    const { open } = this;
    if (!open) return;
    open.from.set(row.id, theirs);
    this.commit({ down: 0, right: 0 });
  }

  /**
   * A number without a unit is no mass. The units this cell and its neighbours are written in are one key away.
   * @param {string} text
   * @param {{down: number, right: number}|null} step
   */
  #askUnit(text, step) {
    const { open, desk } = this;
    if (!open) return;
    const was = open.from.get(open.rows[0].id) ?? "";
    const { to: number, evidence } = massAndEvidence(text);
    const earlier = /[a-z]+/i.exec(was)?.[0];
    const units = [...new Set([earlier, ...(desk.choices?.units?.mass ?? ["g", "kg"])].filter(Boolean))];
    const take = (/** @type {string} */ unit) => {
      open.input.value = `${number} ${unit}${evidence ? ` ${evidence}` : ""}`;
      this.commit(step ?? { down: 0, right: 0 });
    };
    const panel = this.#panel(
      "unit",
      "which unit",
      make("p", {}, `${number} of what? `, earlier ? make("span", { class: "soft" }, `It was ${was}.`) : ""),
      make(
        "div",
        { class: "buttons" },
        ...units.map((u) =>
          make("button", { type: "button", "data-test": "unit", "data-unit": u, onclick: () => take(String(u)) }, `${number} ${u}`),
        ),
      ),
    );
    panel?.element.querySelector("button")?.focus();
  }

  /** @param {string} kind @param {string} label @param {...(Node|null)} inside */
  #panel(kind, label, ...inside) {
    const { open, desk } = this;
    if (!open) return null;
    return openPanel(
      desk.root,
      () => open.input.getBoundingClientRect(),
      { label, kind, back: () => open.input.isConnected && open.input.focus({ preventScroll: true }) },
      ...inside,
    );
  }

  /** Somebody else changed the cell that is being edited. @param {string} who */
  noticeChange(who) {
    const { open, desk } = this;
    if (!open) return;
    const gone = open.rows.find((r) => !desk.model.byId.has(r.id));
    if (gone) desk.say(`${who} removed ${called(gone)} while you wrote; your text: ${open.input.value}`, true);
    open.rows = open.rows.map((r) => desk.model.byId.get(r.id) ?? r);
    const changed = open.rows.find(
      (r) => open.column.text(r) !== open.from.get(r.id) && !desk.waiting.has(`${r.id}/${open.column.key}`),
    );
    if (changed)
      this.askWhich(
        changed,
        open.column.text(changed),
        `${who} changed ${open.rows.length > 1 ? called(changed) : "it"} while you wrote`,
      );
  }

  /** Rows moved: the field goes along with its cell. */
  follow() {
    const { open, desk } = this;
    if (!open) return;
    const place = desk.model.position.get(open.rows[0].id);
    if (place === undefined) return;
    open.input.style.top = `${desk.table.spot(place, open.col).top}px`;
  }
}
