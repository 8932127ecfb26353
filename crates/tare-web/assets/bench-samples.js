// What was cut for a laboratory, sent and returned. Nothing leaves the table before it is counted, weighed and photographed.

import { fill, h, newId, own, stamp } from "./dom.js";
import { textField } from "./bench-values.js";
import { partsFor, picker, referring } from "./bench-pick.js";

const STEPS = { taken: "sent", sent: "returned" };

/** @param {import("./bench.js").App} app */
export function samplesView(app) {
  const { bench, outbox } = app;
  const parts = picker({ label: "Taken from", what: "part", all: () => partsFor(app), change: () => warn(), test: "sample-parts" });
  const name = textField({ label: "Name, with the mark on the bag", test: "sample-name" });
  const says = textField({ label: "What for, where to", test: "sample-says", long: true });
  const owed = h("p", { class: "wrong", role: "status" });
  const wrong = h("p", { class: "wrong", role: "alert" });
  const form = h("form", { class: "stack", novalidate: true, onsubmit: save }, h("h2", {}, "Take a sample"), parts.element, owed, name.element, says.element, wrong, h("div", { class: "act" }, h("button", { class: "main-key", data: { test: "sample-add" } }, "Save sample")));
  const list = h("ol", { class: "rows", data: { test: "samples" } });
  const head = h("h2", {});
  const element = h("div", { class: "panes working" }, h("div", { class: "pane-head" }, h("h1", {}, "Samples")), h("section", { class: "work", "aria-label": "Sample" }, form), h("section", { class: "pane-list" }, head, list));
  /** Where a step is written down: open for one sample at a time. */
  let asked = "";
  const told = textField({ label: "To whom, by what; or what came back", test: "sample-step-says" });

  /** What is not on record yet of parts a sample is taken from. @param {string[]} ids */
  function owing(ids) {
    return ids
      .map((id) => bench.part(id))
      .filter((row) => row !== undefined)
      .map((row) => [row, [row.stated_mass ? "" : "weighed", bench.photos(row.id).count ? "" : "photographed"].filter(Boolean).join(" nor ")])
      .filter(([, what]) => what)
      .map(([row, what]) => `${/** @type {any} */ (row).label || /** @type {any} */ (row).name} is not ${what}`);
  }
  function warn() {
    const open = owing(parts.value);
    owed.textContent = open.length ? `${open.join("; ")}: do that before anything leaves the table` : "";
  }
  /** @param {Event} event */
  function save(event) {
    event.preventDefault();
    wrong.textContent = name.text ? "" : "a sample needs a name";
    if (!name.text) return name.input.focus();
    const id = newId();
    const fields = { name: name.text, state: "taken", says: [`taken ${stamp()} by ${bench.who}`, says.text].filter(Boolean).join("; ") };
    const refs = parts.value.length ? { parts: referring(parts.value) } : {};
    outbox.edit([{ add: { kind: "sample", under: null, id, fields: { ...fields, ...refs } } }], `sample ${name.text}`, [{ listed: "sample", record: { id, fields, refs: { parts: parts.value } } }]);
    for (const field of [name, says, parts]) field.clear();
  }
  /** @param {import("./bench-record.js").Listed} sample @param {string} to */
  function step(sample, to) {
    const says = [sample.fields.says, `${to} ${stamp()} by ${bench.who}${told.text ? `: ${told.text}` : ""}`].filter(Boolean).join("; ");
    const set = (/** @type {string} */ field, /** @type {string} */ text) => ({ set: { target: `@${sample.id}/${field}`, to: text, from: sample.fields[field] ?? "" } });
    outbox.edit([set("state", to), set("says", says)], `sample ${sample.fields.name} ${to}`, [{ listed: "sample", record: { id: sample.id, fields: { state: to, says } } }]);
    asked = "";
    told.clear();
    update();
  }
  /** @param {import("./bench-record.js").Listed} sample */
  function row(sample) {
    const state = sample.fields.state ?? "taken";
    const to = /** @type {Record<string, string>} */ (STEPS)[state];
    const owes = to === "sent" ? owing(sample.refs.parts ?? []) : [];
    const from = (sample.refs.parts ?? []).map((id) => bench.part(id)).filter(Boolean);
    const stepping =
      to &&
      (asked === sample.id
        ? h(
            "div",
            { class: "stack" },
            owes.length > 0 && h("p", { class: "wrong" }, `${owes.join("; ")}. Say below why it leaves without.`),
            told.element,
            h("div", { class: "key-row" }, h("button", { type: "button", class: "main-key", data: { test: `sample-${to}` }, onclick: () => (owes.length && !told.text ? told.input.focus() : step(sample, to)) }, `Note it as ${to}`), h("button", { type: "button", class: "key-button", onclick: () => ((asked = ""), update()) }, "Leave it")),
          )
        : h("button", { type: "button", class: "key-button", data: { key: `step-${sample.id}`, test: "sample-step" }, onclick: () => ((asked = sample.id), update(), told.input.focus()) }, `Is ${to}`));
    return h(
      "li",
      {},
      h(
        "div",
        { class: sample.unsaved ? "row unsaved" : "row" },
        h("b", { class: "tag" }, state),
        own(sample.fields.name, "name"),
        h("span", {}),
        h("span", { class: "tells" }, from.length > 0 && h("span", { class: "soft" }, own(from.map((r) => r.label || r.name).join(", "))), sample.fields.says && h("span", { class: "soft", dir: "auto" }, sample.fields.says), sample.unsaved && h("span", { class: "waits" }, "not saved yet")),
        stepping && h("div", { class: "tells" }, stepping),
      ),
    );
  }
  function update() {
    const all = bench.list("sample");
    const out = all.filter((s) => s.fields.state === "sent").length;
    head.textContent = all.length ? `In the list: ${all.length}, away: ${out}` : "No sample taken yet";
    if (!list.contains(document.activeElement) || document.activeElement?.tagName === "BUTTON") fill(list, all.map(row));
    if (!parts.element.contains(document.activeElement)) parts.update();
    warn();
  }
  return { element, update };
}
