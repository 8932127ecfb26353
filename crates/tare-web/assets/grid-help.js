// The short help of the parts grid.

import { make } from "./api.js";
import { openPanel } from "./grid-panel.js";

/** @type {[string, string][]} */
const FILTER = [
  ["bracket left", "both words in label or name"],
  ["mass > 1 kg", "also <, <=, >=, =, != ; with its unit"],
  ["cost >= 5", "in the study's currency"],
  ["material = al", "holds these letters"],
  ["name ~ bracket", "the same, for any text column"],
  ["no mass", "nothing there; has mass: something there"],
  ["no photo", ""],
  ["make = buy", ""],
  ["evidence = assumed", "of the stated mass"],
  ["due = photo", "readings due; removed = yes: taken off"],
  ["under P12", "inside this part, itself too"],
  ["no mass and under P12", "both hold"],
];
/** @type {[string, string][]} */
const KEYS = [
  ["arrows, Page, Home, End", "go; with Ctrl to the very end"],
  ["Shift arrows", "choose more; Shift Space: whole rows; Ctrl A: all"],
  ["type, Enter, F2", "edit; into all chosen rows at once"],
  ["7.5 kg measured", "a mass with its evidence; else assumed"],
  ["Enter, Tab", "record and go on"],
  ["Escape", "give up"],
  ["Delete", "empty the chosen cells"],
  ["\u2190 \u2192 on a name", "fold, unfold an assembly"],
  ["Ctrl C, Ctrl V", "to and from a spreadsheet"],
  ["Ctrl Z, Ctrl Y", "take back, bring back"],
  ["Alt arrows", "move up, down, out, in"],
  ["Shift F10", "what can be done with a row"],
  ["Ctrl F", "filter; once more: the browser's own search"],
];

/** @param {HTMLElement} root @param {HTMLButtonElement} button */
export function help(root, button) {
  const list = (/** @type {[string, string][]} */ lines, /** @type {"code"|"kbd"} */ as) =>
    make("dl", { class: "help" }, ...lines.flatMap(([what, says]) => [make("dt", {}, make(as, {}, what)), make("dd", {}, says)]));
  button.setAttribute("aria-expanded", "true");
  const panel = openPanel(
    root,
    () => button.getBoundingClientRect(),
    {
      label: "help",
      kind: "help",
      wide: true,
      loose: true,
      back: () => button.focus(),
      closed: () => button.setAttribute("aria-expanded", "false"),
    },
    make(
      "div",
      { class: "two" },
      make("section", {}, make("h2", {}, "Filter"), list(FILTER, "code")),
      make("section", {}, make("h2", {}, "Keys"), list(KEYS, "kbd")),
    ),
    make("div", { class: "buttons" }, make("button", { type: "button", onclick: () => panel.close(true) }, "close")),
  );
  panel.element.focus();
}
