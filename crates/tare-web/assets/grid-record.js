// Recording of entries from the grid, and taking them back. The page changes at once; the server has the last word.

import { counted, entry, get, post, problemsOf, Refused, set, study } from "./api.js";
import { COLUMN, targetOf, valueOf } from "./grid-columns.js";
import { massAndEvidence, whichOfSeveral } from "./grid-mass.js";

/** @typedef {import("./grid-model.js").Row} Row */
/** @typedef {import("./grid-columns.js").Column} Column */
/** @typedef {import("./api.js").Command} Command */
/** @typedef {{row: Row, column: Column, to: string, from: string}} Change `from` is what the page showed */

const KEPT = `tare-undo-${study.name}`;

/** Entries this page made, so that undo takes back one's own work and not a neighbour's. */
export class Steps {
  constructor() {
    /** @type {{done: number[], undone: number[]}} */
    this.kept = { done: [], undone: [] };
    try {
      const kept = JSON.parse(sessionStorage.getItem(KEPT) ?? "");
      if (Array.isArray(kept?.done) && Array.isArray(kept?.undone)) this.kept = kept;
    } catch {
      // nothing kept, or storage is switched off: undo then begins with what is done from now on
    }
    /** @type {Set<number>} numbers of entries made from here: their news needs no announcement */
    this.own = new Set(this.kept.done);
    /** @type {Promise<unknown>} */
    this.last = Promise.resolve();
  }

  /**
   * One after the other: an entry begins from what the one before left, and undo takes back what was sent last.
   * @template T
   * @param {() => Promise<T>} go
   * @returns {Promise<T>}
   */
  inTurn(go) {
    const mine = this.last.then(go, go);
    this.last = mine.catch(() => undefined);
    return mine;
  }

  #keep() {
    try {
      sessionStorage.setItem(KEPT, JSON.stringify({ done: this.kept.done.slice(-200), undone: this.kept.undone.slice(-200) }));
    } catch {
      // as above
    }
  }

  /** An entry was made from here. @param {number} number */
  did(number) {
    this.own.add(number);
    this.kept.done.push(number);
    this.kept.undone = [];
    this.#keep();
  }

  /** Takes back the newest own entry. @returns {Promise<import("./api.js").Recorded|null>} null where there is none */
  undo() {
    return this.inTurn(() => this.#undo());
  }

  /** @returns {Promise<import("./api.js").Recorded|null>} */
  redo() {
    return this.inTurn(() => this.#redo());
  }

  async #undo() {
    const number = this.kept.done[this.kept.done.length - 1] ?? (await ownNewest());
    if (number === undefined) return null;
    const recorded = await post("undo", { number });
    this.own.add(recorded.number);
    if (this.kept.done[this.kept.done.length - 1] === number) this.kept.done.pop();
    this.kept.undone.push(number);
    this.#keep();
    return recorded;
  }

  async #redo() {
    const number = this.kept.undone[this.kept.undone.length - 1];
    if (number === undefined) return null;
    const recorded = await post("redo", { number });
    this.own.add(recorded.number);
    this.kept.undone.pop();
    this.kept.done.push(number);
    this.#keep();
    return recorded;
  }
}

/** The newest entry of the same author that stands, for a page that was opened just now. @returns {Promise<number|undefined>} */
async function ownNewest() {
  const { rows } = await get("history");
  const mine = rows.filter((/** @type {any} */ r) => r.author === study.author && !r.undone && !r.undoes);
  return mine.length > 0 ? Math.max(...mine.map((/** @type {any} */ r) => r.number)) : undefined;
}

/**
 * One command per value that really changes: rows of one item are one value.
 * @param {Change[]} changes
 * @param {Map<string, string>} [numbers] of readings that stand beside others, by the value's id
 */
export function commandsOf(changes, numbers) {
  const seen = new Set();
  /** @type {Command[]} */
  const commands = [];
  for (const { row, column, to, from } of changes) {
    const value = valueOf(row, column);
    if (to === from || seen.has(value)) continue;
    seen.add(value);
    const stated = column.key === "stated" ? row.stated_mass : null;
    const target = targetOf(row, column) + (stated ? (numbers?.get(stated.id) ?? "") : "");
    if (to === "") commands.push({ clear: from === undefined ? { target } : { target, from } });
    else if (column.key !== "stated") commands.push(set(target, to, from));
    else {
      const { to: mass, evidence } = massAndEvidence(to);
      const command = set(target, mass, from);
      if (evidence) command.set.evidence = evidence;
      // pieces weighed together stay together: the text is the mass of all of them
      if ((stated?.number ?? 1) > 1) command.set.number = stated?.number;
      commands.push(command);
    }
  }
  return commands;
}

/** What an entry of these changes is called in the history. @param {Change[]} changes @param {string} [how] */
export function saysOf(changes, how) {
  const [first] = changes;
  const columns = new Set(changes.map((c) => c.column.title));
  const where = changes.length === 1 ? first.row.label || first.row.name : counted(changes.length, "cell");
  return `${how ? `${how}: ` : ""}${[...columns].join(", ")} of ${where}`;
}

/**
 * Puts a recorded change into the rows on the page, in every row that shows the same value.
 * @param {Row[]} rows
 * @param {Change[]} changes
 */
export function patch(rows, changes) {
  const values = new Map(changes.map((c) => [valueOf(c.row, c.column), c]));
  const columns = new Set(changes.map((c) => c.column));
  for (const row of rows) {
    for (const column of columns) {
      const change = values.get(valueOf(row, column));
      if (change) put(row, column, change.to);
    }
  }
}

/** @param {Row} row @param {Column} column @param {string} to */
function put(row, column, to) {
  if (column.key === "stated") {
    const { to: text, evidence } = massAndEvidence(to);
    row.stated_mass = text === "" ? null : { ...(row.stated_mass ?? { id: "" }), text, evidence: evidence ?? "assumed" };
  } else if (column.key === "count") row.count = Number(to);
  else if (column.key === "needed") row.needed = to === "" ? null : Number(to);
  else /** @type {any} */ (row)[column.field ?? column.key] = to;
}

/**
 * Sends changes as one entry.
 * @param {Change[]} changes
 * @param {Steps} steps
 * @param {string} [how]
 */
export async function recordChanges(changes, steps, how) {
  if (commandsOf(changes).length === 0) return null;
  return steps.inTurn(async () => {
    const commands = commandsOf(changes, await whichOfSeveral(changes));
    const recorded = await entry(commands, saysOf(changes, how));
    steps.did(recorded.number);
    return recorded;
  });
}

/**
 * Ties the server's complaints to cells, by the target they name or by their place in the list of commands.
 * @param {unknown} refused
 * @param {Command[]} commands
 * @returns {{problem: import("./api.js").Problem, target: string|null}[]}
 */
export function located(refused, commands) {
  const targets = commands.map((c) => String(Object.values(c)[0]?.target ?? ""));
  return problemsOf(refused).map((problem) => {
    const place = problem.place ?? "";
    const named = targets.find((t) => t !== "" && (place.includes(t) || problem.says.includes(t)));
    const number = /(?:^|\b)commands?[ [/.]*(\d+)/.exec(place);
    return { problem, target: named ?? (number ? (targets[Number(number[1]) - 1] ?? null) : null) };
  });
}

/** @param {string} target @returns {{id: string, column: Column|undefined}} */
export function cellOf(target) {
  const [id, field] = target.replace(/^@/, "").split("/");
  return { id, column: [...COLUMN.values()].find((c) => c.field === field?.replace(/#\d+$/, "")) };
}

/** @param {unknown} refused */
export const conflictOf = (refused) => (refused instanceof Refused && refused.status === 409 ? refused.conflict : null);
