// What is recorded on a part that is in the list already: another weighing, changed words, features by count.

import { h, newId, own } from "./dom.js";
import { countField, keys, textField } from "./bench-values.js";
import { massField } from "./bench-mass.js";
import { noteUnknown, unknowns } from "./bench-record.js";

/**
 * @param {import("./bench.js").App} app
 * @param {() => void} close
 * @returns {(pane: string, row: import("./bench-record.js").Row) => HTMLElement}
 */
export function partPanes(app, close) {
  const { outbox } = app;
  /** @type {Record<string, (row: import("./bench-record.js").Row) => HTMLElement>} */
  const panes = { weigh, change, feature };

  /** @param {string} title @param {any} row @param {any[]} content @param {(event: Event) => void} save @param {string} test */
  function pane(title, row, content, save, test) {
    const form = h(
      "form",
      { class: "stack", novalidate: true },
      h("h2", {}, title),
      h("p", { class: "where" }, row.label && h("b", { class: "tag" }, row.label), " ", own(row.name)),
      content,
      h("div", { class: "act" }, h("button", { type: "button", class: "key-button", data: { test: "pane-close" }, onclick: close }, "Close"), h("button", { class: "main-key", data: { test } }, "Save")),
    );
    form.addEventListener("submit", (/** @type {Event} */ event) => (event.preventDefault(), save(event)));
    setTimeout(() => form.querySelector("input")?.focus());
    return form;
  }

  /** @param {import("./bench-record.js").Row} row */
  function weigh(row) {
    const mass = massField(app.bench, { test: "weigh-mass", open: true });
    const had = row.stated_mass;
    const how = keys({
      label: "The earlier reading",
      keys: [
        { key: "beside", title: "stays; the new one stands beside it" },
        { key: "instead", title: "was wrong; the new one takes its place" },
      ],
      value: "beside",
      test: "weigh",
    });
    const wrong = h("p", { class: "wrong", role: "alert" });
    const content = [had && h("p", {}, "Recorded: ", h("b", {}, had.text), had.state && ` ${had.state}`), mass.element, had && how.element, wrong];
    return pane(had ? "Weigh again" : "Weigh", row, content, () => {
      wrong.textContent = mass.wrong || (mass.text || mass.unknown ? "" : "no mass was read yet");
      if (wrong.textContent) return mass.input.focus();
      const target = `@${row.id}/mass`;
      const says = noteUnknown(row.says, "mass", mass.unknown);
      const commands = [];
      if (mass.text) {
        const where = had && how.value === "beside" ? { beside: true } : { from: had?.text ?? "" };
        commands.push({ set: { target, to: mass.text, ...where, ...mass.about() } }, ...mass.tareCommands(target));
      }
      if (says !== (row.says ?? "")) commands.push(says ? { set: { target: `@${row.id}/says`, to: says, from: row.says ?? "" } } : { clear: { target: `@${row.id}/says` } });
      const shown = mass.text ? { stated_mass: { text: mass.text, state: mass.state } } : {};
      outbox.edit(commands, `mass of ${row.label || row.name}`, [{ patch: row.id, fields: { says, ...shown } }]);
      close();
    }, "weigh-save");
  }

  /** @param {import("./bench-record.js").Row} row */
  function change(row) {
    const name = textField({ label: "Name", value: row.name, test: "change-name" });
    const count = countField({ label: "Count", value: row.count, test: "change-count" });
    const says = textField({ label: "Note", value: row.says ?? "", long: true, test: "change-note" });
    const counting = h("input", { type: "checkbox", checked: unknowns(row.says).includes("count") });
    const wrong = h("p", { class: "wrong", role: "alert" });
    const content = [name.element, count.element, h("label", { class: "key wide" }, counting, h("span", {}, "count unknown yet")), says.element, wrong];
    return pane("Change", row, content, () => {
      wrong.textContent = (name.text ? "" : "a part needs a name") || count.wrong;
      if (wrong.textContent) return;
      const noted = noteUnknown(says.text, "count", counting.checked);
      const commands = [];
      const set = (/** @type {string} */ field, /** @type {string} */ to, /** @type {string} */ from) => {
        if (to === from) return;
        const target = `@${row.id}/${field}`;
        commands.push(to ? { set: { target, to, from } } : { clear: { target } });
      };
      set("name", name.text, row.name);
      set("count", String(count.number), String(row.count));
      set("says", noted, row.says ?? "");
      if (commands.length) outbox.edit(commands, `${row.label || row.name} changed`, [{ patch: row.id, fields: { name: name.text, count: count.number, says: noted } }]);
      close();
    }, "change-save");
  }

  /** @param {import("./bench-record.js").Row} row */
  function feature(row) {
    const kinds = app.bench.choices.processes;
    const of = h("select", { id: newId(), data: { test: "feature-kind" } }, h("option", { value: "" }, "kind not decided"), kinds.map((/** @type {any} */ k) => h("option", { value: k.key }, k.title)));
    const name = textField({ label: "Name", test: "feature-name", hint: "such as: tapped holes M8" });
    const count = countField({ label: "How many on one piece", test: "feature-count" });
    const wrong = h("p", { class: "wrong", role: "alert" });
    const content = [name.element, h("div", { class: "field" }, h("label", { for: of.id }, "Kind of work"), of), count.element, wrong];
    return pane("Holes, threads, windows, beads", row, content, () => {
      wrong.textContent = (name.text ? "" : "say what it is, such as tapped holes M8") || count.wrong;
      if (wrong.textContent) return;
      const fields = { name: name.text, count: String(count.number), ...(of.value ? { calculation: of.value } : {}) };
      const id = newId();
      const add = { kind: "feature", under: `@${row.id}`, id, fields, evidence: "measured", source: "counted at the bench" };
      outbox.edit([{ add }], `${count.number} ${name.text} on ${row.label || row.name}`, [{ listed: "feature", record: { id, parent: row.id, fields, refs: {} } }]);
      name.clear();
      count.clear();
      name.input.focus();
      app.say(`${fields.name}, ${fields.count} noted`);
    }, "feature-save");
  }
  return (which, row) => panes[which](row);
}
