// Copying to a spreadsheet and pasting from one. A pasted block is shown first and recorded as one entry, or not at all.

import { closePanel, openPanel } from "./grid-panel.js";
import { COLUMNS, called, written } from "./grid-columns.js";
import { cellOf, commandsOf, conflictOf, located, patch, recordChanges } from "./grid-record.js";
import { counted, make } from "./api.js";

/** @typedef {import("./grid.js").Desk} Desk */
/** @typedef {import("./grid-record.js").Change} Change */

/** Reads a block as spreadsheets put it on the clipboard: tabs, line ends, doubled quotation marks. @param {string} text */
export function readBlock(text) {
  /** @type {string[][]} */
  const rows = [[]];
  let at = 0;
  while (at <= text.length) {
    let cell = "";
    if (text[at] === '"') {
      const quoted = /"((?:[^"]|"")*)"(?=\t|\r?\n|$)/y;
      quoted.lastIndex = at;
      const found = quoted.exec(text);
      if (found) {
        cell = found[1].replaceAll('""', '"');
        at = quoted.lastIndex;
      }
    }
    if (cell === "") {
      const end = /[\t\r\n]|$/g;
      end.lastIndex = at;
      const stop = end.exec(text)?.index ?? text.length;
      cell = text.slice(at, stop);
      at = stop;
    }
    rows[rows.length - 1].push(cell);
    if (text.startsWith("\r\n", at)) at += 1;
    if (at >= text.length) break;
    if (text[at] !== "\t") rows.push([]);
    at += 1;
  }
  // the line end behind the last row is no row
  if (rows.length > 1 && rows[rows.length - 1].length === 1 && rows[rows.length - 1][0] === "") rows.pop();
  return rows;
}

/** The chosen block as text for a spreadsheet. @param {Desk} desk */
export function copied(desk) {
  const box = desk.selection.around();
  if (!box) return "";
  const quote = (/** @type {string} */ t) => (/[\t\n\r"]/.test(t) ? `"${t.replaceAll('"', '""')}"` : t);
  const lines = [];
  for (const place of desk.selection.rows()) {
    const row = desk.model.shown[place];
    const cells = [];
    for (let c = box.c1; c <= box.c2; c += 1) cells.push(desk.selection.has(place, c) ? quote(COLUMNS[c].text(row)) : "");
    lines.push(cells.join("\t"));
  }
  return lines.join("\n");
}

/**
 * Lays a block over the grid, beginning at the chosen cell.
 * @param {Desk} desk
 * @param {string[][]} block
 * @returns {{changes: Change[], notes: string[]}}
 */
function lay(desk, block) {
  const { model, selection } = desk;
  const box = selection.around();
  /** @type {Change[]} */
  const changes = [];
  /** @type {Map<string, number>} */
  const leftOut = new Map();
  let tooFar = 0;
  if (!box) return { changes, notes: ["choose the cell where the block begins"] };
  const chosen = selection.rows();
  // one row copied onto several chosen rows goes into each of them
  const lines =
    block.length === 1 && chosen.length > 1
      ? chosen.map((place) => ({ place, cells: block[0] }))
      : block.map((cells, i) => ({ place: box.r1 + i, cells }));
  for (const { place, cells } of lines) {
    const row = model.shown[place];
    cells.forEach((cell, i) => {
      const column = COLUMNS[box.c1 + i];
      const to = column ? written(column, cell) : cell.trim();
      if (!row || !column) {
        if (to !== "") tooFar += 1;
      } else if (column.text(row) !== to) {
        if (column.field) changes.push({ row, column, to, from: column.text(row) });
        else leftOut.set(column.title, (leftOut.get(column.title) ?? 0) + 1);
      }
    });
  }
  const notes = [...leftOut].map(([title, n]) => `${title} is not written here: ${counted(n, "cell")} left out`);
  if (tooFar > 0)
    notes.push(
      `${counted(tooFar, "cell")} would lie outside the rows and columns shown, and ${tooFar === 1 ? "is" : "are"} left out`,
    );
  return { changes, notes };
}

/** @param {Desk} desk @param {string} text */
export function paste(desk, text) {
  const block = readBlock(text);
  const single = block.length === 1 && block[0].length === 1;
  if (single && desk.selection.rows().length <= 1) {
    desk.editor.begin(block[0][0].trim());
    return;
  }
  showBox(desk, text);
}

/** The box with the pasted text: what would change, and what stands against it. @param {Desk} desk @param {string} text */
function showBox(desk, text) {
  const field = make("textarea", {
    rows: 5,
    wrap: "off",
    spellcheck: "false",
    dir: "auto",
    "aria-label": "pasted text",
    "data-test": "paste-text",
  });
  field.value = text;
  const found = make("div", { class: "found", "aria-live": "polite" });
  const against = make("div", { class: "against", role: "alert" });
  const go = make("button", { type: "button", class: "main", "data-test": "paste-record" });
  /** @type {Change[]} */
  let changes = [];
  const look = () => {
    const laid = lay(desk, readBlock(field.value));
    changes = laid.changes;
    const cells = commandsOf(changes).length;
    found.replaceChildren(
      make(
        "p",
        { "data-test": "paste-count" },
        cells === 0 ? "Nothing would change." : `${counted(cells, "cell")} would change, all in one entry.`,
      ),
    );
    if (laid.notes.length > 0) found.append(make("ul", { class: "soft" }, ...laid.notes.map((n) => make("li", {}, n))));
    if (changes.length > 0) found.append(sample(changes));
    go.textContent = cells === 0 ? "nothing to record" : `record ${counted(cells, "change")}`;
    go.disabled = cells === 0;
    against.replaceChildren();
  };
  field.addEventListener("input", look);
  go.addEventListener("click", async () => {
    go.disabled = true;
    const commands = commandsOf(changes);
    try {
      const recorded = await recordChanges(changes, desk.steps, "pasted");
      closePanel();
      patch(desk.model.rows, changes);
      if (recorded) desk.recorded(recorded);
      desk.table.render(true);
      desk.table.focusActive();
    } catch (refused) {
      go.disabled = false;
      against.replaceChildren(make("p", {}, "Nothing was recorded; the text stays here."), complaints(desk, refused, commands));
      panel.place();
    }
  });
  const panel = openPanel(
    desk.root,
    () => desk.anchor(),
    { label: "paste", kind: "paste", wide: true, back: () => desk.table.focusActive() },
    make("h2", {}, "Paste"),
    found,
    field,
    against,
    make("div", { class: "buttons" }, go, make("button", { type: "button", onclick: () => panel.close(true) }, "leave it")),
  );
  look();
  panel.place();
  (go.disabled ? field : go).focus();
}

const SHOWN_AT_MOST = 60;

/** Old and new value of the first changes. @param {Change[]} changes */
function sample(changes) {
  const body = make("tbody");
  for (const c of changes.slice(0, SHOWN_AT_MOST)) {
    body.append(
      make(
        "tr",
        {},
        make("th", { scope: "row" }, make("bdi", {}, called(c.row))),
        make("td", {}, c.column.title),
        make("td", {}, make("bdi", {}, c.from || "(nothing)")),
        make("td", {}, make("bdi", {}, c.to || "(nothing)")),
      ),
    );
  }
  const head = make("thead", {}, make("tr", {}, ...["part", "column", "now", "then"].map((t) => make("th", { scope: "col" }, t))));
  const table = make(
    "div",
    { class: "sample", tabindex: 0, role: "group", "aria-label": "changes" },
    make("table", {}, head, body),
  );
  return changes.length <= SHOWN_AT_MOST
    ? table
    : make("div", {}, table, make("p", { class: "soft" }, `and ${counted(changes.length - SHOWN_AT_MOST, "more cell")}`));
}

/** @param {Desk} desk @param {unknown} refused @param {import("./api.js").Command[]} commands */
function complaints(desk, refused, commands) {
  const list = make("ul", { class: "problems", "data-test": "paste-problems" });
  const conflict = conflictOf(refused);
  for (const { problem, target } of located(refused, commands)) {
    const cell = target ? cellOf(target) : null;
    const row = cell ? desk.model.byId.get(cell.id) : undefined;
    const place = row ? desk.model.position.get(row.id) : undefined;
    const line = make(
      "li",
      {},
      row
        ? make("b", {}, `${place === undefined ? "" : `row ${place + 1}, `}${called(row)}, ${cell?.column?.title ?? "?"}: `)
        : null,
      problem.says,
    );
    for (const hint of problem.hints ?? []) line.append(make("small", {}, hint));
    list.append(line);
  }
  if (conflict)
    list.append(
      make(
        "li",
        {},
        `It is \`${conflict.found}\` by now (shown here: \`${conflict.expected}\`, pasted: \`${conflict.wanted}\`). The rows are read again; look and record once more.`,
      ),
    );
  if (conflict) desk.reading.soon(0, true);
  return list;
}
