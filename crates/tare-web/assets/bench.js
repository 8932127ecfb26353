// The bench page: one screen for two people, gloves and a scale. Tabs at the thumb, one assembly at hand, a queue that loses nothing.

import { counted, fill, freshName, h, memory, own } from "./dom.js";
import { Outbox } from "./outbox.js";
import { listen } from "./wedge.js";
import { Bench } from "./bench-record.js";
import { partsView } from "./bench-parts.js";
import { removalsView } from "./bench-removals.js";
import { jointsView } from "./bench-joints.js";
import { holdsView } from "./bench-holds.js";
import { samplesView } from "./bench-samples.js";
import { dayView } from "./bench-day.js";
import { unsavedView } from "./bench-unsaved.js";

/**
 * @typedef {object} App
 * @property {string} study
 * @property {Bench} bench
 * @property {Outbox} outbox
 * @property {string | null} at the assembly at hand
 * @property {(id: string | null) => void} go
 * @property {(tab: string) => void} open
 * @property {(text: string) => void} say
 * @property {(parts: string[], removal?: string) => void} takeOff
 * @property {(path: string) => string} page
 * @property {(line: string) => string} reason
 */

const TABS = [
  ["parts", "Parts"],
  ["removals", "Removals"],
  ["joints", "Joints"],
  ["holds", "Holds"],
  ["samples", "Samples"],
  ["day", "Day's end"],
];

const main = document.getElementById("bench");
const study = document.body.dataset.study ?? "";
const api = document.body.dataset.api ?? `/api/studies/${encodeURIComponent(study)}`;
const base = document.body.dataset.base ?? `/s/${encodeURIComponent(study)}`;
const outbox = new Outbox(study, api);
const bench = new Bench(study, api, outbox, document.body.dataset.author ?? "");

/** @type {App} */
const app = {
  study,
  bench,
  outbox,
  at: memory.get(`at:${study}`, null),
  go(id) {
    app.at = id;
    memory.set(`at:${study}`, id);
    views.parts.close();
    open("parts");
    update();
    window.scrollTo(0, 0);
  },
  open: (tab) => open(tab),
  say,
  takeOff(parts, removal) {
    open("removals");
    views.removals.begin(parts, removal);
  },
  page: (path) => `${base}/${path}`,
  reason: (line) => `${base}/reason?line=${encodeURIComponent(line)}`,
};

// What is on the screen

const state = h("button", { type: "button", class: "state", data: { test: "unsaved" }, onclick: () => open("unsaved") });
const heard = h("p", { class: "unseen", role: "status" });
const who = h("button", { type: "button", class: "who", "aria-expanded": "false", data: { test: "who" }, onclick: () => askWho(who.getAttribute("aria-expanded") !== "true") });
const people = h("div", { class: "people", hidden: true });
const said = h("p", { class: "announced", role: "status", hidden: true });
const holder = h("div", { class: "views" });
const tabs = h(
  "nav",
  { class: "tabs", "aria-label": "Bench" },
  TABS.map(([key, title]) => h("button", { type: "button", data: { tab: key, test: `tab-${key}`, ...(key === "day" ? { also: "end-of-day" } : {}) }, onclick: () => open(key) }, h("span", {}, title), h("small", { class: "badge" }))),
);

/** @type {Record<string, any>} */
const views = {
  parts: partsView(app),
  removals: removalsView(app),
  joints: jointsView(app),
  holds: holdsView(app),
  samples: samplesView(app),
  day: dayView(app),
  unsaved: unsavedView(app),
};
let shownTab = "";

/** @param {string} tab */
function open(tab) {
  const known = views[tab] ? tab : "parts";
  if (known !== shownTab) {
    shownTab = known;
    holder.replaceChildren(views[known].element);
    for (const button of tabs.querySelectorAll("button")) {
      if (button.dataset.tab === known) button.setAttribute("aria-current", "page");
      else button.removeAttribute("aria-current");
    }
    if (location.hash.slice(1) !== known) history.replaceState(null, "", `#${known}`);
    window.scrollTo(0, 0);
  }
  views[known].update();
}

function update() {
  views[shownTab]?.update();
  tellState();
  const openHolds = bench.list("hold").filter((hold) => hold.fields.state !== "recorded").length;
  const badge = tabs.querySelector('[data-tab="holds"] .badge');
  badge.textContent = openHolds ? String(openHolds) : "";
  badge.setAttribute("aria-label", openHolds ? `${openHolds} open` : "");
  if (document.activeElement !== who) who.replaceChildren(h("span", { class: "soft" }, "at the bench "), own(bench.who || "who?"));
}

let lastState = "";
/** Says plainly what is kept where. */
function tellState() {
  const waiting = outbox.entries.length;
  const refused = outbox.refused.length;
  const place = outbox.keep?.lasts === false ? "kept only while this page is open" : "kept in this browser";
  const parts = [];
  if (waiting) parts.push(`${waiting} not saved yet - ${place}`);
  if (refused) parts.push(`${counted(refused, "was", "were")} refused: look`);
  if (waiting && outbox.trouble === "unpaired") parts.push("this device is not paired");
  else if (outbox.trouble === "busy" && waiting) parts.push("the server is busy, tried again");
  else if (!bench.reached || (waiting && outbox.trouble === "offline")) parts.push("no connection");
  const text = parts.join(" · ") || "everything saved";
  if (text === lastState) return;
  lastState = text;
  state.textContent = text;
  state.classList.toggle("open", Boolean(parts.length));
  heard.textContent = text;
}

let sayTimer = 0;
/** @param {string} text */
function say(text) {
  said.textContent = text;
  said.hidden = false;
  clearTimeout(sayTimer);
  sayTimer = window.setTimeout(() => (said.hidden = true), 6000);
}

/** @param {boolean} show */
function askWho(show) {
  who.setAttribute("aria-expanded", String(show));
  people.hidden = !show;
  if (!show) return;
  const id = freshName();
  const input = h("input", { id, type: "text", dir: "auto", autocomplete: "off", data: { test: "who-name" } });
  const take = (/** @type {string} */ name) => {
    if (name.trim()) bench.who = name.trim();
    askWho(false);
    update();
    who.focus();
  };
  fill(
    people,
    h("p", {}, "Who reads and who works? The name stands beside every reading."),
    h("div", { class: "key-row" }, bench.people.map((name) => h("button", { type: "button", class: "key-button", "aria-pressed": String(name === bench.who), onclick: () => take(name) }, own(name)))),
    h("form", { class: "value-row", onsubmit: (/** @type {Event} */ e) => (e.preventDefault(), take(input.value)) }, h("label", { for: id }, "Another name"), input, h("button", { class: "key-button" }, "Take")),
  );
  input.focus();
}

/** Where a reading of a scale goes: the value field in use, else the mass that is being asked for; never a name. */
listen((shown, focused) => {
  const using = /** @type {any} */ (focused)?.valueField;
  const free = [...holder.querySelectorAll('[data-wedge="mass"]')].find((e) => /** @type {HTMLElement} */ (e).offsetParent !== null);
  const wanted = /** @type {any} */ (free)?.valueField;
  const wrong = (using ?? wanted)?.take(shown);
  if (wrong === undefined) say(`the scale sent ${shown.number} ${shown.unit}: open Next part or Weigh first`);
  else if (wrong && using && wanted && using !== wanted && shown.settled) say(wanted.take(shown) || `the scale sent ${shown.number} ${shown.unit} into the mass`);
  else say(wrong || `the scale sent ${shown.number} ${shown.unit}`);
});

main.replaceChildren(h("header", { class: "bench-top" }, h("h2", { class: "unseen" }, "Bench"), state, who), people, heard, holder, said, tabs);
bench.addEventListener("change", update);
document.addEventListener("tare:entry", () => bench.soon());
document.addEventListener("tare:online", () => bench.soon());
window.addEventListener("online", () => bench.soon());
window.addEventListener("hashchange", () => open(location.hash.slice(1)));
// While there is no connection the lists are asked for now and then: not every network says when it is back.
setInterval(() => !bench.reached && document.visibilityState === "visible" && bench.refresh(), 15_000);

open(location.hash.slice(1) || "parts");
await outbox.open();
await bench.refresh();
// A part that somebody removed meanwhile is not where anything can be put.
if (app.at && bench.reached && !bench.part(app.at)) app.at = null;
if (!app.at && bench.children(null).length === 1) app.at = bench.children(null)[0].id;
update();
