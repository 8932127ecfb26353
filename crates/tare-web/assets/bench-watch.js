// A stopwatch that outlives the page: interruptions are counted apart, as a time says nothing without them.

import { counted, h, memory } from "./dom.js";

/** @typedef {{run: number | null, pause: number | null, done: number, idle: number, breaks: number, began: number | null}} Times */

/** @type {Times} */
const NEW = { run: null, pause: null, done: 0, idle: 0, breaks: 0, began: null };

/**
 * @param {object} given
 * @param {string} given.name what is kept under it
 * @param {() => boolean} given.mayStart
 * @param {(seconds: number) => void} given.stopped
 */
export function stopwatch({ name, mayStart, stopped }) {
  /** @type {Times} */
  let times = { ...NEW, ...memory.get(name, NEW) };
  const shown = h("output", { "aria-label": "Time", role: "timer", "aria-live": "off" });
  const told = h("span", { class: "soft" });
  const key = (/** @type {string} */ test, /** @type {string} */ title, /** @type {() => void} */ act, /** @type {string} */ style) =>
    h("button", { type: "button", class: style, data: { test }, onclick: act }, title);
  const start = key("removal-start", "Start", () => mayStart() && go(), "main-key");
  const pause = key("removal-pause", "Interrupted", interrupt, "key-button");
  const on = key("removal-go-on", "Go on", go, "main-key");
  const stop = key("removal-stop", "Stop", halt, "main-key");
  const again = key("removal-reset", "Time again", () => set(NEW), "key-button");
  const element = h("div", { class: "watch" }, shown, h("div", { class: "key-row" }, start, on, stop, pause, again), told);

  /** @param {Times} to */
  function set(to) {
    times = { ...to };
    memory.set(name, times);
    show();
  }
  function go() {
    const now = Date.now();
    const idle = times.idle + (times.pause ? now - times.pause : 0);
    set({ ...times, run: now, pause: null, idle, began: times.began ?? now });
  }
  function interrupt() {
    const now = Date.now();
    set({ ...times, done: times.done + (now - (times.run ?? now)), run: null, pause: now, breaks: times.breaks + 1 });
  }
  function halt() {
    const now = Date.now();
    const idle = times.idle + (times.pause ? now - times.pause : 0);
    set({ ...times, done: times.done + (times.run ? now - times.run : 0), run: null, pause: null, idle });
    stopped(seconds());
  }
  function seconds() {
    // a time below a second is none: what is recorded is at least one
    return Math.max(1, Math.round((times.done + (times.run ? Date.now() - times.run : 0)) / 1000));
  }
  function show() {
    const going = Boolean(times.run);
    const halted = !going && Boolean(times.pause);
    const fresh = !times.began;
    const s = fresh ? 0 : Math.floor((times.done + (times.run ? Date.now() - times.run : 0)) / 1000);
    shown.textContent = `${Math.floor(s / 60)}:${String(s % 60).padStart(2, "0")}`;
    shown.classList.toggle("runs", going);
    start.hidden = !fresh;
    pause.hidden = !going;
    on.hidden = !halted;
    stop.hidden = fresh || (!going && !halted);
    again.hidden = fresh || going || halted;
    told.textContent = halted ? "interrupted" : times.breaks ? watch.says : "";
  }
  // drawn four times a second only while it runs
  setInterval(() => times.run && show(), 250);
  const watch = {
    element,
    start,
    get runs() {
      return Boolean(times.run || times.pause);
    },
    get used() {
      return Boolean(times.began);
    },
    get began() {
      return times.began ? new Date(times.began) : null;
    },
    get says() {
      return times.breaks ? `${counted(times.breaks, "interruption")}, ${Math.round(times.idle / 1000)} s, not counted` : "";
    },
    halt,
    clear: () => set(NEW),
  };
  show();
  return watch;
}
