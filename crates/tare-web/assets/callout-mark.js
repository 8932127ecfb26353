// One numbered mark on the picture: dragged, or moved with the arrow keys.

import { clamp } from "./callout-text.js";
import { make } from "./api.js";

/** @typedef {import("./callout-text.js").Callout} Callout */

/** Arrow keys come in bursts; one entry for a burst. */
const AFTER_LAST_KEY = 800;

/**
 * @param {Callout} c
 * @param {HTMLImageElement} image
 * @param {{moved: () => void, remove: () => void, words: () => void}} deeds
 */
export function makeMark(c, image, deeds) {
  let timer = 0;
  const mark = make(
    "button",
    {
      type: "button",
      class: "callout-mark",
      "data-key": `mark ${c.number}`,
      "data-test": "mark",
      "data-number": c.number,
      "aria-label": `call-out ${c.number}: ${c.text || "no words yet"}`,
    },
    String(c.number),
  );
  const put = () => {
    mark.style.left = `${(c.x ?? 0.5) * 100}%`;
    mark.style.top = `${(c.y ?? 0.5) * 100}%`;
  };
  put();
  mark.addEventListener("regain", () => mark.focus({ preventScroll: true }));
  mark.addEventListener("keydown", (e) => {
    const step = e.shiftKey ? 0.05 : 0.005;
    const way = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[e.key];
    if (way) {
      c.x = clamp((c.x ?? 0.5) + way[0]);
      c.y = clamp((c.y ?? 0.5) + way[1]);
      put();
      clearTimeout(timer);
      timer = setTimeout(deeds.moved, AFTER_LAST_KEY);
    } else if (e.key === "Delete") deeds.remove();
    else if (e.key === "Enter") deeds.words();
    else return;
    e.preventDefault();
  });
  mark.addEventListener("pointerdown", (e) => {
    if (e.button !== 0) return;
    const box = image.getBoundingClientRect();
    const from = { x: e.clientX, y: e.clientY };
    let moved = false;
    mark.setPointerCapture(e.pointerId);
    const move = (/** @type {PointerEvent} */ m) => {
      if (!moved && Math.hypot(m.clientX - from.x, m.clientY - from.y) < 4) return;
      moved = true;
      c.x = clamp((m.clientX - box.left) / box.width);
      c.y = clamp((m.clientY - box.top) / box.height);
      put();
    };
    const end = () => {
      mark.removeEventListener("pointermove", move);
      if (moved) deeds.moved();
      else deeds.words();
    };
    mark.addEventListener("pointermove", move);
    mark.addEventListener("pointerup", end, { once: true });
    mark.addEventListener("pointercancel", end, { once: true });
  });
  return mark;
}
