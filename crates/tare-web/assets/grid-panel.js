// A small panel at a cell or a button: messages, two values side by side, a form. One is open at a time.

import { make } from "./api.js";

/** @typedef {{close: (back?: boolean) => void, element: HTMLElement, place: () => void}} Panel */

/** @type {Panel|null} */
let open = null;

/** Closes what is open. @param {boolean} [back] give the focus back */
export const closePanel = (back = false) => open?.close(back);

/** Whether a panel is open that holds the focus. */
export const panelHasFocus = () => open !== null && open.element.contains(document.activeElement);

/**
 * @param {HTMLElement} into
 * @param {() => DOMRect} anchor where the panel belongs, asked again when things scroll
 * @param {{label: string, kind?: string, back?: () => void, closed?: () => void, wide?: boolean, loose?: boolean}} how
 *   `back` gets the focus on Escape; a `loose` panel closes when something else is pressed
 * @param {...(Node|string|null|false)} inside
 * @returns {Panel}
 */
export function openPanel(into, anchor, how, ...inside) {
  closePanel();
  const element = make(
    "div",
    {
      class: `grid-panel ${how.kind ?? ""} ${how.wide ? "wide" : ""}`,
      role: how.kind === "menu" ? "presentation" : "dialog",
      "aria-label": how.kind === "menu" ? null : how.label,
      "data-test": `panel-${how.kind ?? "plain"}`,
      tabindex: -1,
    },
    ...inside,
  );
  into.append(element);
  const place = () => {
    const at = anchor();
    const { offsetWidth: w, offsetHeight: h } = element;
    const below = at.bottom + 4 + h <= innerHeight || at.top < innerHeight - at.bottom;
    element.style.left = `${Math.max(8, Math.min(at.left, innerWidth - w - 8))}px`;
    element.style.top = `${Math.max(8, Math.min(below ? at.bottom + 4 : at.top - h - 4, innerHeight - h - 8))}px`;
  };
  const outside = (/** @type {Event} */ e) => {
    if (how.loose && e.target instanceof Node && !element.contains(e.target)) panel.close();
  };
  const keys = (/** @type {KeyboardEvent} */ e) => {
    if (e.key !== "Escape") return;
    e.preventDefault();
    e.stopPropagation();
    panel.close(true);
  };
  element.addEventListener("keydown", keys);
  addEventListener("resize", place);
  document.addEventListener("scroll", place, { capture: true, passive: true });
  document.addEventListener("pointerdown", outside, true);
  /** @type {Panel} */
  const panel = {
    element,
    place,
    close(back = false) {
      if (open !== panel) return;
      open = null;
      const had = element.contains(document.activeElement);
      removeEventListener("resize", place);
      document.removeEventListener("scroll", place, { capture: true });
      document.removeEventListener("pointerdown", outside, true);
      element.remove();
      if (back || had) how.back?.();
      how.closed?.();
    },
  };
  open = panel;
  place();
  return panel;
}
