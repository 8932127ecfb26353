// What waits in the queue and what was refused, with both values and the way out.

import { fill, h, own } from "./dom.js";

/** @param {import("./bench.js").App} app */
export function unsavedView(app) {
  const { outbox } = app;
  const head = h("p", {});
  const list = h("ol", { class: "queue", data: { test: "queue" } });
  const element = h("div", { class: "panes single" }, h("h1", {}, "Not saved yet"), head, list);

  /** Names in place of identifiers. @param {string} text */
  function named(text) {
    const name = (/** @type {string} */ id) => {
      const part = app.bench.part(id);
      if (part) return [part.label, part.name].filter(Boolean).join(" ");
      return ["joint", "removal", "hold", "sample", "feature", "photo"].map((kind) => app.bench.list(kind).find((r) => r.id === id)?.fields.name).find(Boolean);
    };
    return text.replace(/@([0-9a-f]{32})(?:\/(\w+))?/g, (whole, id, field) => (name(id) ? `${name(id)}${field ? `, ${field}` : ""}` : whole));
  }
  /** @param {import("./outbox.js").Entry} entry */
  function refusal(entry) {
    const { conflict, problems = [], status } = entry.answer ?? {};
    const both =
      conflict &&
      h(
        "table",
        {},
        h("caption", {}, own(named(conflict.target)), ": somebody changed it meanwhile"),
        h("tbody", {}, row("shown when you typed", conflict.expected), row("in the record now", conflict.found), row("yours", conflict.wanted)),
      );
    // both values say all there is to say
    const said = (conflict ? [] : problems).map((/** @type {any} */ p) => h("li", {}, own(named(p.says)), p.place && h("span", { class: "soft" }, ` (${named(place(p.place))})`), (p.hints ?? []).map((/** @type {string} */ hint) => h("p", { class: "soft" }, hint))));
    return h(
      "div",
      { class: "refusal" },
      both,
      said.length > 0 ? h("ul", {}, said) : !conflict && h("p", {}, `refused by the server (answer ${status})`),
      h(
        "div",
        { class: "doing" },
        entry.kind === "edit" && h("button", { type: "button", class: "key-button", data: { key: `mine-${entry.id}`, test: "keep-mine" }, onclick: () => outbox.keepMine(entry.id) }, conflict ? "Keep mine, send again" : "Send again"),
        h("button", { type: "button", class: "key-button", data: { key: `drop-${entry.id}`, test: "drop-entry" }, onclick: () => drop(entry) }, asked === entry.id ? "Really drop it: tap again" : "Drop mine"),
      ),
    );
  }
  let asked = "";
  /** @param {import("./outbox.js").Entry} entry */
  function drop(entry) {
    if (asked === entry.id) return outbox.drop(entry.id);
    asked = entry.id;
    update();
  }

  function update() {
    const behind = outbox.standingBack();
    head.textContent = outbox.entries.length
      ? "Entries are sent in this order, each once. They stay in this browser until the server has answered, also when the page is closed."
      : "Nothing waits. What was recorded here is in the study.";
    fill(
      list,
      outbox.entries.map((entry) =>
        h(
          "li",
          { class: entry.state === "refused" ? "refused" : null },
          h("p", {}, h("b", {}, own(entry.says)), " ", h("span", { class: "waits" }, entry.state === "refused" ? "refused" : behind.has(entry.id) ? "waits for the refused one above" : "waits")),
          entry.state === "refused" && refusal(entry),
        ),
      ),
    );
  }
  return { element, update };
}

/** @param {string} what @param {any} value */
const row = (what, value) => h("tr", {}, h("th", { scope: "row" }, what), h("td", {}, value === null || value === undefined ? h("span", { class: "soft" }, "nothing") : own(value)));

/** @param {any} at */
const place = (at) => (typeof at === "string" ? at : (at.address ?? at.target ?? JSON.stringify(at)));
