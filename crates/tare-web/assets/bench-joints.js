// What holds parts together: method, how many or how long, size, drive, torque, and the parts it holds by tapping them.

import { fill, h, memory, newId, own } from "./dom.js";
import { countField, keys, textField, valueField } from "./bench-values.js";
import { partsFor, picker, referring } from "./bench-pick.js";

/** Methods whose extent is a length. */
const LONG = /bead|seam|tape|weld-seam/;
/** Methods with a bit that goes into something. */
const DRIVEN = /screw|bolt/;
/** Methods whose size is a diameter; that of the others is the largest dimension. */
const ROUND = /screw|bolt|rivet|stake|nut/;

/** @param {import("./bench.js").App} app */
export function jointsView(app) {
  const { bench, outbox } = app;
  const methodId = newId();
  const method = h("select", { id: methodId, data: { test: "joint-method" }, onchange: changed });
  const recent = h("div", { class: "key-row" });
  const parts = picker({ label: "Parts it holds", what: "part", all: () => partsFor(app), change: changed, test: "joint-parts" });
  const name = textField({ label: "Name", test: "joint-name" });
  const extent = keys({ label: "Counted or measured", keys: [{ key: "count", title: "a count" }, { key: "length", title: "a length" }], value: "count", change: shown, test: "joint-extent" });
  const units = (/** @type {string} */ of, /** @type {string[]} */ otherwise) => bench.choices.units[of] ?? otherwise;
  const count = countField({ label: "How many", test: "joint-count" });
  const length = valueField({ label: "Length in all", quantity: "joint-length", units: units("length", ["mm", "cm", "m"]), test: "joint-length", unknown: true });
  const size = valueField({ label: "Size", quantity: "joint-size", units: ["mm"], test: "joint-size", unknown: true });
  const drive = keys({ label: "Drive", keys: ["hexalobular", "hexagon", "cross", "slot", ""].map((d) => ({ key: d, title: d || "not seen" })), value: "", test: "joint-drive" });
  const torque = valueField({ label: "Torque read on loosening", quantity: "torque", units: units("torque", ["N m"]), test: "joint-torque", unknown: true, hint: "shows a region, not a specification" });
  const note = textField({ label: "Note", test: "joint-note", long: true, hint: "hidden, one-way, narrow gap, high voltage beside it" });
  const wrong = h("p", { class: "wrong", role: "alert" });
  const add = h("button", { class: "main-key", data: { test: "joint-add" } }, "Add joint");
  const form = h(
    "form",
    { class: "stack", novalidate: true, onsubmit: save },
    h("h2", {}, "Add a joint"),
    parts.element,
    h("div", { class: "field" }, h("label", { for: methodId }, "How it holds"), recent, method),
    name.element,
    extent.element,
    count.element,
    length.element,
    size.element,
    drive.element,
    torque.element,
    note.element,
    wrong,
    h("div", { class: "act" }, add),
  );
  const list = h("ol", { class: "rows", data: { test: "joints" } });
  const head = h("h2", {});
  const element = h("div", { class: "panes working" }, h("div", { class: "pane-head" }, h("h1", {}, "Joints")), h("section", { class: "work", "aria-label": "Joint" }, form), h("section", { class: "pane-list" }, head, list));
  let named = false;
  name.input.addEventListener("input", () => (named = Boolean(name.text)));

  const titleOf = (/** @type {string} */ key) => bench.choices.joint_methods.find((/** @type {any} */ m) => m.key === key)?.title ?? key;

  function changed() {
    if (LONG.test(method.value) !== LONG.test(form.dataset.method ?? "")) extent.value = LONG.test(method.value) ? "length" : "count";
    form.dataset.method = method.value;
    if (!named) name.input.value = method.value ? [titleOf(method.value), parts.value.map((id) => bench.part(id)?.name).filter(Boolean).join(" to ")].filter(Boolean).join(": ") : "";
    shown();
  }
  function shown() {
    count.element.hidden = extent.value !== "count";
    length.element.hidden = extent.value !== "length";
    drive.element.hidden = torque.element.hidden = !DRIVEN.test(method.value);
  }
  /** @param {Event} event */
  function save(event) {
    event.preventDefault();
    const driven = DRIVEN.test(method.value);
    const asked = [extent.value === "length" ? length : null, size, driven ? torque : null].filter(Boolean);
    const missing = [method.value ? "" : "say how it holds", name.text ? "" : "a joint needs a name", extent.value === "count" ? count.wrong : "", ...asked.map((f) => f?.wrong ?? "")].filter(Boolean);
    wrong.textContent = missing.join("; ");
    if (missing.length) return;
    const id = newId();
    /** @type {Record<string, string>} */
    const fields = { name: name.text, calculation: method.value };
    const open = [];
    if (extent.value === "count") fields.count = String(count.number);
    const take = (/** @type {typeof size} */ field, /** @type {string} */ quantity, /** @type {string} */ word) => {
      // a torque is written as a product, so that it cannot be read as a length
      if (field.text) fields[quantity] = field.text.replace(/N m$/, "N*m").replace(/N m /, "N*m ");
      else if (field.unknown) open.push(`${word}: unknown yet`);
    };
    if (extent.value === "length") take(length, "length", "length");
    take(size, ROUND.test(method.value) ? "diameter" : "size", "size");
    if (driven) take(torque, "torque", "torque");
    if (driven && drive.value) fields.drive = drive.value;
    const says = [note.text, ...open].filter(Boolean).join("; ");
    if (says) fields.says = says;
    const refs = parts.value.length ? { parts: referring(parts.value) } : {};
    outbox.edit([{ add: { kind: "joint", under: null, id, fields: { ...fields, ...refs }, evidence: "measured", source: "read at the bench", who: bench.who } }], `joint ${name.text}`, [{ listed: "joint", record: { id, fields, refs: { parts: parts.value } } }]);
    memory.set("joint-methods", [method.value, ...memory.get("joint-methods", []).filter((/** @type {string} */ m) => m !== method.value)].slice(0, 4));
    app.say(`${name.text} is in the list`);
    for (const field of [name, length, size, torque, note]) field.clear();
    count.clear();
    named = false;
    parts.clear();
    update();
  }
  /** @param {import("./bench-record.js").Listed} joint */
  function row(joint) {
    const f = joint.fields;
    const held = (joint.refs.parts ?? []).map((id) => bench.part(id)).filter(Boolean);
    return h(
      "li",
      {},
      h(
        "div",
        { class: joint.unsaved ? "row unsaved" : "row" },
        h("b", { class: "tag" }, f.label || "joint"),
        own(f.name, "name"),
        h("span", { class: "count" }, f.count ? `× ${f.count}` : (f.length ?? "")),
        h(
          "span",
          { class: "tells" },
          h("span", { class: "soft" }, titleOf(f.calculation ?? "")),
          [f.diameter ?? f.size, f.drive, f.torque].map((text) => text && h("span", {}, text)),
          held.length ? h("span", { class: "soft" }, own(held.map((r) => [r.label, r.name].filter(Boolean).join(" ")).join(", "))) : h("span", { class: "owed" }, "holds no part"),
          f.says && h("span", { class: /unknown yet/.test(f.says) ? "owed" : "soft", dir: "auto" }, f.says),
          joint.unsaved && h("span", { class: "waits" }, "not saved yet"),
        ),
      ),
    );
  }
  function update() {
    const methods = bench.choices.joint_methods;
    if (method.options.length !== methods.length + 1) {
      const was = method.value;
      fill(method, h("option", { value: "" }, "choose ..."), methods.map((/** @type {any} */ m) => h("option", { value: m.key }, m.title)));
      method.value = was;
    }
    const last = memory.get("joint-methods", []).filter((/** @type {string} */ m) => methods.some((/** @type {any} */ o) => o.key === m));
    fill(
      recent,
      last.map((/** @type {string} */ key) => h("button", { type: "button", class: "key-button", data: { key: `method-${key}` }, "aria-pressed": String(method.value === key), onclick: () => ((method.value = key), changed(), update()) }, titleOf(key))),
    );
    recent.style.marginBottom = last.length ? "8px" : "";
    const all = bench.list("joint");
    head.textContent = all.length ? `In the list: ${all.length}` : "No joint recorded yet";
    fill(list, [...all].reverse().map(row));
    if (!parts.element.contains(document.activeElement)) parts.update();
    shown();
  }
  return { element, update };
}
