// What is still open when the tools are put down.

import { counted, fill, h, newId, own, stamp } from "./dom.js";
import { countField } from "./bench-values.js";
import { rowOf } from "./bench-parts.js";
import { isRecorded, unknowns } from "./bench-record.js";
import { isOpen } from "./bench-holds.js";

/** Longer lists are cut: the rest is on the desk. */
const SHOWN = 12;

/** @param {import("./bench.js").App} app */
export function dayView(app) {
  const { bench, outbox } = app;
  const lists = h("div", { data: { test: "end-of-day" } });
  const counting = pieces();
  const element = h("div", { class: "panes single" }, h("h1", {}, "Day's end"), lists, counting.element);
  /** @type {Set<string>} */
  const opened = new Set();

  /** One question with what answers it badly. @param {string} key @param {string} title @param {any[]} rows @param {(row: any) => any} draw */
  function group(key, title, rows, draw) {
    const head = h("span", { class: "day-head" }, title, ": ", h("span", { class: rows.length ? "number owed" : "number" }, rows.length || "none"));
    if (!rows.length) return h("p", { class: "soft", data: { test: `day-${key}`, count: 0 } }, head);
    const more = rows.length - SHOWN;
    return h(
      "details",
      { class: "bench-fold", data: { test: `day-${key}`, count: rows.length }, open: opened.has(key), ontoggle: (/** @type {any} */ e) => (e.target.open ? opened.add(key) : opened.delete(key)) },
      h("summary", { data: { key: `day-${key}` } }, head),
      h("ul", { class: "rows" }, rows.slice(0, SHOWN).map((r) => h("li", {}, draw(r)))),
      more > 0 && h("p", { class: "soft" }, `and ${more} more`),
    );
  }

  function update() {
    const rows = bench.rows;
    const removals = bench.list("removal");
    const recorded = removals.filter(isRecorded);
    const known = new Set(rows.map((r) => r.id));
    const part = (/** @type {any} */ row) => rowOf(app, row);
    const words = (/** @type {string} */ tab, /** @type {string} */ field) => (/** @type {any} */ record) =>
      h("button", { type: "button", class: "row", data: { key: `day-row-${record.id}` }, onclick: () => app.open(tab) }, h("b", { class: "tag" }, record.kind), own(record.fields.name ?? "no name", "name"), h("span", { class: "soft" }, record.fields[field] ?? ""));
    const photo = (/** @type {any} */ p) => h("a", { class: "row", href: app.page(`photo?of=@${p.id}`) }, h("b", { class: "tag" }, "photo"), own(p.fields.name ?? "no name", "name"), h("span", { class: "soft" }, p.fields.when ?? ""));
    fill(
      lists,
      group("unsaved", "entries not saved yet", outbox.entries, (e) => h("button", { type: "button", class: "row unsaved", data: { key: `day-entry-${e.id}` }, onclick: () => app.open("unsaved") }, h("b", { class: "tag" }, e.state), own(e.says, "name"), h("span", {}))),
      group("holds", "holds that are shut", bench.list("hold").filter(isOpen), words("holds", "who")),
      group("loose-photos", "photos without a part", bench.list("photo").filter((p) => !(p.refs.parts ?? []).some((id) => known.has(id))), photo),
      group("no-photo", "parts without a photo", rows.filter((r) => !bench.photos(r.id).count), part),
      group("no-mass", "parts removed and not weighed", rows.filter((r) => r.removed && !r.stated_mass), part),
      group("planned", "removals planned and not recorded", removals.filter((r) => !isRecorded(r)), words("removals", "tool")),
      group("no-time", "removals recorded without a time", recorded.filter((r) => !r.fields.duration), words("removals", "when")),
      group("no-removal", "parts in the list that no removal names", rows.filter((r) => r.parent && !r.removed && !removals.some((m) => (m.refs.parts ?? []).includes(r.id))), part),
      group("unknown", "parts with something unknown yet", rows.filter((r) => unknowns(r.says).length), part),
      group("unknown-joints", "joints with something unknown yet, or that hold no part", bench.list("joint").filter((j) => /unknown yet/.test(j.fields.says ?? "") || !(j.refs.parts ?? []).length), words("joints", "says")),
      group("samples", "samples that are away", bench.list("sample").filter((s) => s.fields.state === "sent"), words("samples", "state")),
    );
    counting.update();
  }

  /** Pieces on the table against the list. */
  function pieces() {
    const sum = h("dl", { class: "fact-list" });
    const table = countField({ label: "Pieces counted on the table and in bags", test: "day-count" });
    table.input.value = "";
    const told = h("p", { class: "reads", "aria-live": "polite", data: { test: "day-difference" } });
    const note = h("button", { type: "button", class: "main-key", disabled: true, data: { test: "day-note" }, onclick: record }, "Note the count");
    table.input.addEventListener("input", compare);
    let removed = 0;

    function compare() {
      const found = table.number;
      note.disabled = found === null;
      const gap = (found ?? 0) - removed;
      told.textContent = found === null ? "" : gap === 0 ? `as many as the list has removed` : gap > 0 ? `${counted(gap, "piece")} more on the table than the list has removed` : `${counted(-gap, "piece")} fewer on the table than the list has removed`;
    }
    function record() {
      const says = `${table.number} counted on the table, ${removed} removed by the list; ${told.textContent}; counted by ${bench.who}`;
      const fields = { name: `Pieces counted ${stamp()}`, group: "record", severity: table.number === removed ? "note" : "look", says };
      outbox.edit([{ add: { kind: "finding", under: null, id: newId(), fields } }], `pieces counted: ${table.number} of ${removed}`);
      app.say("the count is noted as a finding");
      table.input.value = "";
      compare();
    }
    return {
      element: h("section", { class: "stack" }, h("h2", {}, "Pieces against the list"), sum, table.element, told, h("div", {}, note)),
      update() {
        const above = new Set(bench.rows.map((r) => r.parent));
        const ends = bench.rows.filter((r) => !above.has(r.id));
        const gone = ends.filter((r) => r.removed);
        const all = (/** @type {typeof ends} */ rows) => rows.reduce((n, r) => n + bench.path(r.id).reduce((p, up) => p * up.count, 1), 0);
        removed = all(gone);
        const fact = (/** @type {string} */ what, /** @type {number} */ n) => h("div", {}, h("dt", {}, what), h("dd", {}, n));
        fill(sum, fact("pieces in the list", all(ends)), fact("removed by the list", removed), fact("in place by the list", all(ends) - removed));
        compare();
      },
    };
  }
  return { element, update };
}
