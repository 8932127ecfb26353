// Keys and pointer of the grid.

import { COLUMNS, partPage } from "./grid-columns.js";
import { copied, paste } from "./grid-paste.js";

/** @typedef {import("./grid.js").Desk} Desk */

const NAME = COLUMNS.findIndex((c) => c.key === "name");

/** @param {Desk} desk */
export function listen(desk) {
  const { table, selection, model } = desk;
  const { box } = table;
  let dragging = false;

  box.addEventListener("keydown", (e) => {
    if (e.target instanceof HTMLInputElement || e.isComposing) return;
    const heading = headingOf(e.target);
    if (heading !== null ? onHeading(desk, e, heading) : onCell(desk, e)) {
      e.preventDefault();
      e.stopPropagation();
    }
  });

  box.addEventListener("pointerdown", (e) => {
    if (e.button !== 0 || !(e.target instanceof Element)) return;
    const found = spotOf(desk, e.target);
    if (!found || e.target.closest("button, a[href], input")) {
      // a link in a cell opens, but the choice goes along, so that the keys go on from there
      if (found && !e.target.closest(".grid-fold, input")) selection.only(found);
      return;
    }
    const wasHere = selection.active?.id === found.id && selection.active.col === found.col;
    if (e.shiftKey && selection.active) selection.stretch(found);
    else if (e.ctrlKey || e.metaKey) selection.add(found);
    else selection.only(found);
    dragging = e.pointerType === "mouse";
    desk.chosen(found, !e.shiftKey);
    if (e.shiftKey) e.preventDefault();
    if (e.pointerType !== "mouse" && wasHere) desk.editor.begin();
  });
  box.addEventListener("pointerover", (e) => {
    if (!dragging || !(e.buttons & 1) || !(e.target instanceof Element)) return;
    const found = spotOf(desk, e.target);
    if (!found) return;
    getSelection()?.removeAllRanges();
    selection.stretch(found);
    desk.chosen(found, false);
  });
  addEventListener("pointerup", () => {
    dragging = false;
  });
  box.addEventListener("dblclick", (e) => {
    if (e.target instanceof Element && spotOf(desk, e.target) && !e.target.closest("button, a[href], input")) desk.editor.begin();
  });
  box.addEventListener("click", (e) => {
    if (!(e.target instanceof Element)) return;
    const heading = headingOf(e.target.closest("thead button"));
    if (heading !== null) desk.sortBy(heading);
    const fold = e.target.closest(".grid-fold");
    const id = fold?.closest("tr")?.dataset.row;
    if (id) desk.fold(id);
  });
  box.addEventListener("contextmenu", (e) => {
    if (!(e.target instanceof Element) || e.target.closest("input")) return;
    const found = spotOf(desk, e.target);
    if (found && !selection.rows().includes(model.position.get(found.id) ?? -1)) selection.only(found);
    if (!selection.active) return;
    e.preventDefault();
    desk.menu();
  });
  box.addEventListener("focus", () => {
    // reached with Tab while nothing was chosen yet, or while the chosen row is out of sight
    if (!selection.active && model.shown.length > 0) selection.only({ id: model.shown[0].id, col: 0 });
    table.render();
  });

  document.addEventListener("copy", (e) => {
    if (!desk.holdsFocus() || String(getSelection() ?? "") !== "") return;
    const text = copied(desk);
    if (text === "") return;
    e.clipboardData?.setData("text/plain", text);
    e.preventDefault();
    desk.say("copied");
  });
  document.addEventListener("paste", (e) => {
    if (!desk.holdsFocus()) return;
    const text = e.clipboardData?.getData("text/plain") ?? "";
    e.preventDefault();
    if (text !== "") paste(desk, text);
  });
  document.addEventListener("keydown", (e) => {
    if (!(e.ctrlKey || e.metaKey) || e.altKey) return;
    const key = e.key.toLowerCase();
    const writing =
      e.target instanceof HTMLInputElement || e.target instanceof HTMLTextAreaElement || e.target instanceof HTMLSelectElement;
    if (key === "f" && !e.shiftKey && document.activeElement !== desk.bar.filterField) desk.bar.filterField.select();
    else if (writing) return;
    else if (key === "z" && !e.shiftKey) desk.undo();
    else if (key === "y" || (key === "z" && e.shiftKey)) desk.redo();
    else return;
    e.preventDefault();
  });
}

/** @param {EventTarget|null} target @returns {number|null} column of a heading's button */
function headingOf(target) {
  const th = target instanceof Element ? target.closest("thead th") : null;
  return th instanceof HTMLTableCellElement ? th.cellIndex : null;
}

/** @param {Desk} desk @param {Element} target */
function spotOf(desk, target) {
  const cell = target.closest("tbody [data-test=cell]");
  return cell instanceof HTMLTableCellElement && cell.dataset.row && desk.model.byId.has(cell.dataset.row)
    ? { id: cell.dataset.row, col: cell.cellIndex }
    : null;
}

/** @param {Desk} desk @param {KeyboardEvent} e @param {number} col @returns {boolean} whether the key was ours */
function onHeading(desk, e, col) {
  const { headings } = desk.table;
  const to = { ArrowLeft: col - 1, ArrowRight: col + 1, Home: 0, End: headings.length - 1 }[e.key];
  if (to !== undefined) headings[Math.max(0, Math.min(headings.length - 1, to))].querySelector("button")?.focus();
  else if (e.key === "ArrowDown" && desk.model.shown.length > 0) {
    const scrolled = Math.ceil(desk.table.box.scrollTop / desk.table.rowHeight);
    desk.selection.only({ id: desk.model.shown[Math.min(scrolled, desk.model.shown.length - 1)].id, col });
    desk.table.focusActive();
  } else return false;
  return true;
}

/** @param {Desk} desk @param {KeyboardEvent} e @returns {boolean} whether the key was ours */
function onCell(desk, e) {
  const { selection, model, table } = desk;
  const ctrl = e.ctrlKey || e.metaKey;
  const active = selection.active;
  const place = active ? model.position.get(active.id) : undefined;
  if (!active || place === undefined) return false;
  const row = model.shown[place];
  const column = COLUMNS[active.col];
  if (e.altKey && !ctrl) {
    /** @type {Record<string, "up"|"down"|"out"|"in">} */
    const moves = { ArrowUp: "up", ArrowDown: "down", ArrowLeft: "out", ArrowRight: "in" };
    if (!(e.key in moves)) return false;
    desk.move(moves[e.key]);
    return true;
  }
  const page = Math.max(1, Math.floor(table.box.clientHeight / table.rowHeight) - 2);
  // the end from which Shift stretches is the far end of the last range, not the cell it began at
  const tip = e.shiftKey ? (selection.ranges[selection.ranges.length - 1]?.b ?? active) : active;
  const tipPlace = model.position.get(tip.id) ?? place;
  const go = (/** @type {number} */ r, /** @type {number} */ c) => {
    const to = {
      id: model.shown[Math.max(0, Math.min(model.shown.length - 1, r))].id,
      col: Math.max(0, Math.min(COLUMNS.length - 1, c)),
    };
    if (e.shiftKey) selection.stretch(to);
    else selection.only(to);
    desk.chosen(to, !e.shiftKey);
    return true;
  };
  switch (e.key) {
    case "ArrowDown":
      return go(ctrl ? model.shown.length : tipPlace + 1, tip.col);
    case "ArrowUp":
      if (place === 0 && !e.shiftKey && !ctrl) {
        table.headings[active.col].querySelector("button")?.focus();
        return true;
      }
      return go(ctrl ? 0 : tipPlace - 1, tip.col);
    case "ArrowLeft":
      if (
        active.col === NAME &&
        !e.shiftKey &&
        !ctrl &&
        model.inTreeOrder() &&
        model.isAssembly(row.id) &&
        !model.folded.has(row.id)
      )
        return (desk.fold(row.id), true);
      return go(tipPlace, ctrl ? 0 : tip.col - 1);
    case "ArrowRight":
      if (active.col === NAME && !e.shiftKey && !ctrl && model.inTreeOrder() && model.folded.has(row.id))
        return (desk.fold(row.id), true);
      return go(tipPlace, ctrl ? COLUMNS.length : tip.col + 1);
    case "Home":
      return go(ctrl ? 0 : tipPlace, 0);
    case "End":
      return go(ctrl ? model.shown.length : tipPlace, COLUMNS.length);
    case "PageDown":
      return go(tipPlace + page, tip.col);
    case "PageUp":
      return go(tipPlace - page, tip.col);
    case "Enter":
      if (e.shiftKey || ctrl) return ((location.href = partPage(row)), true);
      if (column.link) {
        table.cell(place, active.col)?.querySelector("a")?.click();
        return true;
      }
      return (desk.editor.begin(), true);
    case "F2":
      return (desk.editor.begin(), true);
    case "Delete":
    case "Backspace":
      return (desk.clear(), true);
    case "ContextMenu":
      return (desk.menu(), true);
    case "F10":
      return e.shiftKey ? (desk.menu(), true) : false;
    case "Escape":
      return (selection.only(active), desk.chosen(active, true), true);
    case " ":
      if (e.shiftKey) return (selection.wholeRows(), desk.chosen(active, false), true);
      break;
  }
  if (ctrl && e.key.toLowerCase() === "a") return (selection.all(), desk.chosen(active, false), true);
  if (!ctrl && e.key.length === 1 && e.key !== " ") return (desk.editor.begin(column.field ? e.key : null), true);
  return false;
}
