// Holds: points that stay shut until a named person records them. Nothing here says that work may go on.

import { fill, h, newId, own, stamp } from "./dom.js";
import { textField } from "./bench-values.js";
import { picker, referring } from "./bench-pick.js";
import { isRecorded } from "./bench-record.js";

export const CAUTION =
  "High voltage, stored energy, thermal runaway, lifting: work only by persons qualified for it, under the local codes and the rules of the house. They decide; this record does not. A battery cannot be switched off: parts inside may be live at any time. Where something is unclear, stop and ask who is responsible.";

/** A box with the usual cautions. */
export const caution = () => h("p", { class: "caution" }, h("b", {}, "Caution. "), CAUTION);

/** @param {import("./bench-record.js").Listed} hold */
export const isOpen = (hold) => hold.fields.state !== "recorded" || !hold.fields.who;

/**
 * Open holds that a removal stands behind. One that is not planned yet stands behind the holds of planned removals that take the same
 * parts or joints, or something these parts are in. A hold that names no removal stands before every one.
 *
 * @param {import("./bench-record.js").Bench} bench
 * @param {{removal?: string, parts: string[], joints: string[]}} of
 */
export function holdsBefore(bench, { removal, parts, joints }) {
  const inside = new Set(parts.flatMap((id) => bench.path(id).map((r) => r.id)));
  const removals = new Map(bench.list("removal").map((r) => [r.id, r]));
  return bench.list("hold").filter((hold) => {
    if (!isOpen(hold)) return false;
    const before = hold.refs.removals ?? [];
    if (!before.length || (removal && before.includes(removal))) return true;
    return before.some((id) => {
      const other = removals.get(id);
      if (!other || isRecorded(other)) return false;
      return (other.refs.parts ?? []).some((p) => inside.has(p)) || (other.refs.joints ?? []).some((j) => joints.includes(j));
    });
  });
}

/** @param {import("./bench.js").App} app */
export function holdsView(app) {
  const { bench, outbox } = app;
  const open = h("ul", { class: "holds", data: { test: "holds-open" } });
  const recorded = h("ul", { class: "holds" });
  const openHead = h("h2", {}, "Shut");
  const recordedHead = h("h2", {}, "Recorded by a named person");
  const none = h("p", { class: "soft" });
  const adding = addForm();
  const element = h("div", { class: "panes single" }, h("h1", {}, "Holds"), caution(), openHead, none, open, adding.element, recordedHead, recorded);
  /** Forms live on while lists are drawn anew, with what was typed. @type {Map<string, HTMLElement>} */
  const forms = new Map();

  /** @param {import("./bench-record.js").Listed} hold */
  function recordForm(hold) {
    const name = textField({ label: "Your full name and function", test: "hold-name", hint: "the person who answers for it, typed by that person" });
    const note = textField({ label: "What was done and read", test: "hold-note", long: true });
    const wrong = h("p", { class: "wrong", role: "alert" });
    return h(
      "form",
      {
        class: "stack",
        novalidate: true,
        onsubmit: (/** @type {Event} */ event) => {
          event.preventDefault();
          if (name.text.length < 3) {
            wrong.textContent = "a hold is recorded by a named person: type the name";
            return name.input.focus();
          }
          const target = (/** @type {string} */ field) => `@${hold.id}/${field}`;
          const when = stamp();
          const says = [hold.fields.says, note.text].filter(Boolean).join("; ");
          // The name goes first: a hold that is recorded names its person at every moment.
          const set = (/** @type {string} */ field, /** @type {string} */ to) => ({ set: { target: target(field), to, from: hold.fields[field] ?? "" } });
          const commands = [set("who", name.text), set("when", when), ...(note.text ? [set("says", says)] : []), set("state", "recorded")];
          outbox.edit(commands, `hold ${hold.fields.name} recorded by ${name.text}`, [{ listed: "hold", record: { id: hold.id, fields: { who: name.text, when, says, state: "recorded" } } }]);
          forms.delete(hold.id);
          app.say(`${hold.fields.name}: recorded by ${name.text}`);
        },
      },
      name.element,
      note.element,
      wrong,
      h("button", { class: "main-key", data: { test: "hold-record" } }, "Record this hold"),
    );
  }
  /** @param {import("./bench-record.js").Listed} hold */
  function before(hold) {
    const names = new Map(bench.list("removal").map((r) => [r.id, r.fields.name]));
    const all = (hold.refs.removals ?? []).map((id) => names.get(id)).filter(Boolean);
    return all.length ? h("p", {}, h("span", { class: "soft" }, "before: "), own(all.join(", "))) : h("p", { class: "soft" }, "names no removal: stands before every one");
  }
  /** @param {import("./bench-record.js").Listed} hold */
  function openHold(hold) {
    if (!forms.has(hold.id)) forms.set(hold.id, recordForm(hold));
    return h("li", { class: "hold open" }, h("h3", {}, own(hold.fields.name), hold.unsaved && h("span", { class: "waits" }, " not saved yet")), hold.fields.says && h("p", { dir: "auto" }, hold.fields.says), before(hold), h("details", { class: "bench-fold", data: { test: "hold-open" }, open: opened.has(hold.id), ontoggle: (/** @type {any} */ e) => (e.target.open ? opened.add(hold.id) : opened.delete(hold.id)) }, h("summary", {}, "A named person records it"), forms.get(hold.id)));
  }
  /** @type {Set<string>} */
  const opened = new Set();

  function addForm() {
    const name = textField({ label: "Name", test: "new-hold-name", hint: "such as: absence of voltage at the terminals" });
    const says = textField({ label: "What has to be done before", test: "new-hold-says", long: true });
    const removals = picker({
      label: "Removals it stands before (none: every one)",
      what: "planned removal",
      all: () => bench.list("removal").filter((r) => !isRecorded(r)).map((r) => ({ id: r.id, title: r.fields.name ?? "removal", near: true })),
      test: "new-hold-removals",
    });
    const wrong = h("p", { class: "wrong", role: "alert" });
    const save = (/** @type {Event} */ event) => {
      event.preventDefault();
      wrong.textContent = name.text ? "" : "a hold needs a name";
      if (!name.text) return name.input.focus();
      const id = newId();
      const fields = { name: name.text, state: "open", ...(says.text ? { says: says.text } : {}) };
      const refs = removals.value.length ? { removals: referring(removals.value) } : {};
      outbox.edit([{ add: { kind: "hold", under: null, id, fields: { ...fields, ...refs } } }], `hold ${name.text}`, [{ listed: "hold", record: { id, fields, refs: { removals: removals.value } } }]);
      for (const field of [name, says, removals]) field.clear();
    };
    const form = h("form", { class: "stack", novalidate: true, onsubmit: save }, name.element, says.element, removals.element, wrong, h("button", { class: "main-key", data: { test: "new-hold-save" } }, "Put up the hold"));
    return { element: h("details", { class: "bench-fold", data: { test: "new-hold" } }, h("summary", {}, "Put up a hold"), form), update: removals.update };
  }

  function update() {
    const all = bench.list("hold");
    const shut = all.filter(isOpen);
    const done = all.filter((hold) => !isOpen(hold));
    none.textContent = all.length ? "No hold is shut. That says nothing about the work: local codes and qualified persons decide." : "No hold is in this record. That says nothing about the work: local codes and qualified persons decide.";
    none.hidden = shut.length > 0;
    // drawn anew only if nobody is typing in it: the form keeps its words either way, the keyboard of a tablet would not
    if (!open.contains(document.activeElement) || open.children.length !== shut.length) fill(open, shut.map(openHold));
    recordedHead.hidden = !done.length;
    fill(
      recorded,
      done.map((hold) => h("li", { class: "hold" }, h("h3", {}, own(hold.fields.name), hold.unsaved && h("span", { class: "waits" }, " not saved yet")), h("p", {}, h("b", {}, own(hold.fields.who)), ", ", hold.fields.when ?? "no time said"), hold.fields.says && h("p", { dir: "auto" }, hold.fields.says), before(hold))),
    );
    if (!adding.element.contains(document.activeElement)) adding.update();
  }
  return { element, update };
}
