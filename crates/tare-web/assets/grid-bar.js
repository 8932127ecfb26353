// What stands around the table: filter and buttons above it, the line with counts and sums below.

import { counted, make, plain } from "./api.js";
import { massText, statedKilograms } from "./grid-model.js";
import { help } from "./grid-help.js";
import { menu } from "./grid-rows.js";

/** @typedef {import("./grid.js").Desk} Desk */

/** @param {Desk} desk */
export function makeBar(desk) {
  const button = (
    /** @type {string} */ test,
    /** @type {string} */ text,
    /** @type {string} */ title,
    /** @type {(e: Event) => void} */ go,
    more = {},
  ) => make("button", { type: "button", "data-test": test, title, onclick: go, ...more }, text);
  const filterField = make("input", {
    type: "search",
    "data-test": "filter",
    "aria-label": "filter",
    "aria-describedby": "grid-complaint",
    placeholder: "filter: words, or mass > 1 kg and no photo",
    autocomplete: "off",
    spellcheck: "false",
    dir: "auto",
  });
  const complaint = make("p", { class: "complaint", id: "grid-complaint", "data-test": "complaint", hidden: true });
  const foldButton = button("fold-all", "fold all", "show the top rows only, or all", () => desk.foldAll());
  const numbers = make("span", { class: "numbers", "data-test": "numbers" });
  const message = make("span", { class: "grid-said", role: "status", "data-test": "message" });
  const shared = { "aria-haspopup": "dialog", "aria-expanded": "false" };
  const above = [
    make(
      "div",
      { class: "grid-tools", role: "group", "aria-label": "filter and deeds" },
      make(
        "div",
        { class: "grid-filter" },
        filterField,
        button(
          "help",
          "help",
          "filter and keys",
          (e) => help(desk.root, /** @type {HTMLButtonElement} */ (e.currentTarget)),
          shared,
        ),
      ),
      make(
        "div",
        { class: "grid-deeds" },
        button("undo", "undo", "take the last entry made here back (Ctrl Z)", () => desk.undo()),
        button("redo", "redo", "bring it back (Ctrl Y)", () => desk.redo()),
        foldButton,
        button(
          "row-menu",
          "row \u2026",
          "add, move, remove, open (Shift F10)",
          (e) => menu(desk, /** @type {HTMLElement} */ (e.currentTarget)),
          { ...shared, "aria-haspopup": "menu" },
        ),
      ),
      complaint,
    ),
  ];
  const below = [
    make("div", { class: "grid-status", "data-test": "status" }, numbers, message),
    ...["grid-makes", "grid-materials", "grid-functions"].map((id) => make("datalist", { id })),
  ];
  filterField.addEventListener("input", () => desk.applyFilter());
  filterField.addEventListener("keydown", (e) => {
    if (e.key === "Escape" && filterField.value !== "") desk.setFilter("");
    else if ((e.key === "Enter" || e.key === "ArrowDown") && desk.model.shown.length > 0) {
      if (!desk.selection.active) desk.selection.only({ id: desk.model.shown[0].id, col: 0 });
      desk.table.focusActive();
    } else return;
    e.preventDefault();
  });
  return { above, below, filterField, complaint, foldButton, numbers, message };
}

/** Counts and sums of what is shown. @param {Desk} desk */
export function addUp(desk) {
  const { model, selection, waiting } = desk;
  const { numbers } = desk.bar;
  const without = (/** @type {number} */ n) => (n > 0 ? ` (${counted(n, "row")} without)` : "");
  const facts = [
    model.shown.length === model.rows.length
      ? counted(model.rows.length, "row")
      : `${plain(model.shown.length)} of ${counted(model.rows.length, "row")}`,
    counted(model.pieces(), "piece"),
  ];
  const stated = model.sum(statedKilograms);
  if (stated.rows > 0) facts.push(`stated masses ${massText(stated.total)}${without(stated.without)}`);
  if (model.computed < model.head) facts.push(`computing (figures are of entry ${model.computed})`);
  else {
    const cost = model.sum((r) => r.cost_number);
    if (cost.rows > 0) facts.push(`cost ${cost.total.toFixed(2)} ${desk.currency}${without(cost.without)}`);
  }
  const refused = [...waiting.values()].filter((w) => w.state === "refused").length;
  if (refused > 0) facts.push(`${counted(refused, "cell")} not recorded`);
  const cells = selection.cells();
  if (cells > 1) facts.push(`chosen: ${counted(cells, "cell")} in ${counted(selection.rows().length, "row")}`);
  numbers.replaceChildren(...facts.map((f) => make("span", {}, f)));
  numbers.title = "Masses and costs are times pieces. A row inside another shown row that has its own figure is not added again.";
}
