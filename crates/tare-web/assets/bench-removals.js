// What comes off in which order: parts, joints, tool, who, how long, and what has to be read or recorded before.

import { counted, fill, h, memory, newId, own, stamp } from "./dom.js";
import { keys, textField, valueField } from "./bench-values.js";
import { jointsFor, partsInPlace, picker, referring } from "./bench-pick.js";
import { caution, holdsBefore } from "./bench-holds.js";
import { isRecorded } from "./bench-record.js";
import { dueGate } from "./bench-due.js";
import { stopwatch } from "./bench-watch.js";

/** @param {import("./bench.js").App} app */
export function removalsView(app) {
  const { bench, outbox } = app;
  /** @type {import("./bench-record.js").Listed | null} a planned removal that is being done */
  let planned = null;
  let named = false;
  /** the gate shows once somebody wants to begin, or it would be in the way of choosing */
  let wanted = false;

  const parts = picker({ label: "Parts that come off", what: "part", all: () => partsInPlace(app), change: changed, test: "removal-parts" });
  const joints = picker({ label: "Joints that are opened", what: "joint", all: () => jointsFor(app), change: changed, test: "removal-joints" });
  const name = textField({ label: "What is done", test: "removal-name" });
  const tools = h("datalist", {});
  const tool = textField({ label: "Tool, bit", test: "removal-tool", list: tools });
  const who = textField({ label: "Who does it", test: "removal-who", value: bench.who });
  const destructive = keys({ label: "Is something destroyed by it?", keys: [{ key: "no", title: "no" }, { key: "yes", title: "yes" }], value: "", test: "removal-destructive" });
  const time = valueField({ label: "Time taken", quantity: "duration", units: ["s", "min"], test: "removal-time", hint: "filled by the watch; without interruptions" });
  const note = textField({ label: "Note", test: "removal-note", long: true, hint: "which part was in the way of which, what broke, how many tries" });
  const due = textField({ label: "Readings due before", test: "removal-due-words", hint: "such as: mass; photograph; torque" });
  const gate = dueGate(app, changed);
  const shut = h("section", { class: "shut", hidden: true, role: "alert", data: { test: "removal-shut" } });
  const wrong = h("p", { class: "wrong", role: "alert", data: { test: "removal-wrong" } });
  const watch = stopwatch({ name: `watch:${app.study}`, mayStart, stopped: (seconds) => time.take({ number: String(seconds), unit: "s", settled: true }) });
  const save = h("button", { class: "main-key", data: { test: "removal-save" } }, "Save removal");
  const plan = h("button", { type: "button", class: "key-button", data: { test: "removal-plan" }, onclick: () => put(true) }, "Save as planned");
  const title = h("h2", {}, "Take something off");
  const away = h("button", { type: "button", class: "key-button", hidden: true, onclick: clear }, "Put back to planned");
  const form = h(
    "form",
    { class: "stack", novalidate: true, onsubmit: (/** @type {Event} */ e) => (e.preventDefault(), put(false)) },
    title,
    away,
    parts.element,
    joints.element,
    shut,
    gate.element,
    watch.element,
    name.element,
    tool.element,
    who.element,
    destructive.element,
    time.element,
    h("details", { class: "bench-fold" }, h("summary", {}, "Note, readings due before"), note.element, due.element),
    wrong,
    h("div", { class: "act" }, plan, save),
  );
  const waiting = h("ol", { class: "rows" });
  const done = h("ol", { class: "rows", data: { test: "removals" } });
  const waitingHead = h("h2", {}, "Planned");
  const doneHead = h("h2", {});
  const list = h("section", { class: "pane-list" }, waitingHead, waiting, doneHead, done);
  const work = h("section", { class: "work", "aria-label": "Removal" }, form);
  const element = h("div", { class: "panes working" }, h("div", { class: "pane-head" }, h("h1", {}, "Removals")), work, list);
  name.input.addEventListener("input", () => (named = Boolean(name.text)));
  due.input.addEventListener("input", changed);

  const draft = `removal:${app.study}`;
  let restored = false;
  /** What was begun before the page was left: a running watch without its parts would time nothing. */
  function restore() {
    if (restored || !bench.rows.length) return;
    restored = true;
    const kept = memory.get(draft, null);
    if (!kept) return;
    planned = bench.list("removal").find((r) => r.id === kept.planned && !isRecorded(r)) ?? null;
    if (planned) entitle(planned);
    named = kept.named;
    wanted = watch.used;
    name.input.value = kept.name;
    tool.input.value = kept.tool;
    due.input.value = kept.due;
    note.input.value = kept.note;
    destructive.value = kept.destructive;
    joints.value = kept.joints;
    parts.value = kept.parts.filter((/** @type {string} */ id) => bench.part(id));
  }
  const keepDraft = () => restored && memory.set(draft, { planned: planned?.id, named, name: name.text, tool: tool.text, due: due.text, note: note.text, destructive: destructive.value, parts: parts.value, joints: joints.value });
  form.addEventListener("input", keepDraft);

  const about = () => ({ removal: planned?.id, parts: parts.value, joints: joints.value });

  /** Draws what hangs on the choice: the name, holds in the way, readings due. */
  function changed() {
    const chosen = parts.value.map((id) => bench.part(id)?.name).filter(Boolean);
    if (!named && !planned) name.input.value = chosen.length ? `Take off ${chosen.slice(0, 3).join(", ")}${chosen.length > 3 ? " ..." : ""}` : "";
    const holds = holdsBefore(bench, about());
    const blocked = holds.length > 0;
    shut.hidden = !blocked;
    if (shut.dataset.of !== holds.map((hold) => hold.id).join()) {
      shut.dataset.of = holds.map((hold) => hold.id).join();
      fill(
        shut,
        h("h3", {}, `Shut: ${counted(holds.length, "hold stands", "holds stand")} before this`),
        h("ul", {}, holds.map((hold) => h("li", {}, h("b", {}, own(hold.fields.name)), hold.fields.says && h("p", { dir: "auto" }, hold.fields.says)))),
        h("p", {}, "This removal cannot be recorded here until a named person has recorded the hold."),
        caution(),
        h("button", { type: "button", class: "key-button", onclick: () => app.open("holds") }, "To the holds"),
      );
    }
    save.disabled = blocked;
    watch.start.disabled = blocked;
    keepDraft();
    gate.update(wanted && !blocked ? parts.value : [], wanted && !blocked ? due.text : "");
  }

  /** What stands in the way of beginning; readings come before the first turn of a tool. */
  function mayStart() {
    wanted = true;
    changed();
    if (holdsBefore(bench, about()).length) return false;
    wrong.textContent = parts.value.length || joints.value.length ? "" : "choose what comes off first";
    if (wrong.textContent) return false;
    if (gate.open) {
      wrong.textContent = `${counted(gate.open, "reading is", "readings are")} due before it comes off: read it, or say why not`;
      gate.focus();
      return false;
    }
    return true;
  }

  /** @param {boolean} later whether it is only planned */
  function put(later) {
    wrong.textContent = "";
    if (!later) {
      if (watch.runs) watch.halt();
      if (!mayStart()) return;
    }
    const missing = [
      name.text ? "" : "say what is done",
      later || who.text ? "" : "say who does it",
      later || destructive.value ? "" : "say whether something is destroyed by it",
      time.wrong,
    ].filter(Boolean);
    wrong.textContent = missing.join("; ");
    if (missing.length) return;
    const says = [later ? planned?.fields.says : note.text, later ? note.text : "", later ? "" : gate.says, later ? "" : watch.says].filter(Boolean).join("; ");
    const when = stamp(watch.began ?? new Date());
    /** @type {Record<string, string>} */
    const fields = { name: name.text };
    if (tool.text) fields.tool = tool.text;
    if (destructive.value) fields.destructive = destructive.value;
    if (due.text) fields.due = due.text;
    if (says) fields.says = says;
    if (!later) Object.assign(fields, { who: who.text, when });
    const refs = { parts: parts.value, joints: joints.value };
    const referred = Object.fromEntries(Object.entries(refs).filter(([, ids]) => ids.length).map(([word, ids]) => [word, referring(ids)]));
    const read = { evidence: "measured", source: watch.used ? "stop watch" : "time noted by hand", who: who.text };
    const id = planned?.id ?? newId();
    const commands = planned ? changes(planned, { ...fields, ...referred }, read) : [{ add: { kind: "removal", under: null, id, fields: { ...fields, ...referred, ...(!later && time.text ? { duration: time.text } : {}) }, ...(!later && time.text ? read : {}) } }];
    const shown = { ...fields, ...(!later && time.text ? { duration: time.text } : {}) };
    outbox.edit(commands, later ? `removal planned: ${name.text}` : `removal: ${name.text}`, [{ listed: "removal", record: { id, fields: shown, refs } }]);
    app.say(later ? `planned: ${name.text}` : `recorded: ${name.text}${time.text ? `, ${time.text}` : ""}`);
    clear();
  }
  /** @param {import("./bench-record.js").Listed} was @param {Record<string, string>} to @param {Record<string, string>} read */
  function changes(was, to, read) {
    const had = /** @type {Record<string, string>} */ ({ ...was.fields, parts: referring(was.refs.parts ?? []), joints: referring(was.refs.joints ?? []) });
    const set = Object.entries(to)
      .filter(([field, text]) => had[field] !== text)
      // what the page showed goes with it, so that a removal two people record at once is not recorded over
      .map(([field, text]) => ({ set: { target: `@${was.id}/${field}`, to: text, ...(field in was.refs ? {} : { from: was.fields[field] ?? "" }) } }));
    return time.text && to.when ? [...set, { set: { target: `@${was.id}/duration`, to: time.text, ...read } }] : set;
  }
  function clear() {
    planned = null;
    named = wanted = false;
    for (const field of [name, note, due, time, gate]) field.clear();
    destructive.value = "";
    watch.clear();
    joints.clear();
    parts.clear();
    wrong.textContent = "";
    title.textContent = "Take something off";
    away.hidden = true;
    plan.hidden = false;
    changed();
    update();
  }
  /** @param {import("./bench-record.js").Listed} removal */
  function entitle(removal) {
    title.replaceChildren("As planned: ", own(removal.fields.name));
    away.hidden = false;
    plan.hidden = true;
  }
  /** @param {import("./bench-record.js").Listed} removal */
  function take(removal) {
    clear();
    planned = removal;
    name.input.value = removal.fields.name ?? "";
    tool.input.value = removal.fields.tool ?? "";
    due.input.value = removal.fields.due ?? "";
    note.input.value = removal.fields.says ?? "";
    destructive.value = removal.fields.destructive === "true" ? "yes" : removal.fields.destructive === "false" ? "no" : (removal.fields.destructive ?? "");
    if (removal.fields.who) who.input.value = removal.fields.who;
    parts.value = removal.refs.parts ?? [];
    joints.value = removal.refs.joints ?? [];
    entitle(removal);
    changed();
    element.scrollIntoView({ block: "start" });
  }

  /** @param {import("./bench-record.js").Listed} removal @param {number} i */
  function row(removal, i) {
    const names = (removal.refs.parts ?? []).map((id) => bench.part(id)).filter(Boolean);
    const f = removal.fields;
    const held = !isRecorded(removal) && holdsBefore(bench, { removal: removal.id, parts: removal.refs.parts ?? [], joints: removal.refs.joints ?? [] });
    const content = [
      h("b", { class: "tag" }, isRecorded(removal) ? String(i + 1) : "planned"),
      own(f.name, "name"),
      h("span", { class: "count" }, f.duration ?? ""),
      h(
        "span",
        { class: "tells" },
        f.when && h("span", { class: "soft" }, f.when),
        f.who && h("span", { class: "soft" }, own(f.who)),
        f.tool && h("span", { class: "soft" }, own(f.tool)),
        /yes|true/.test(f.destructive ?? "") && h("span", {}, "destructive"),
        names.length > 0 && h("span", { class: "soft" }, own(names.map((r) => r.label || r.name).join(", "))),
        held && held.length > 0 && h("span", { class: "owed" }, `shut: ${held.map((hold) => hold.fields.name).join(", ")}`),
        isRecorded(removal) && !f.duration && h("span", { class: "owed" }, "no time"),
        removal.unsaved && h("span", { class: "waits" }, "not saved yet"),
      ),
    ];
    const style = removal.unsaved ? "row unsaved" : "row";
    return h("li", {}, isRecorded(removal) ? h("div", { class: style }, content) : h("button", { type: "button", class: style, data: { key: `plan-${removal.id}`, test: "removal-planned" }, onclick: () => take(removal) }, content));
  }
  function update() {
    restore();
    const all = bench.list("removal");
    const recorded = all.filter(isRecorded);
    const open = all.filter((r) => !isRecorded(r));
    waitingHead.hidden = !open.length;
    fill(waiting, open.map(row));
    doneHead.textContent = recorded.length ? `In order of removal: ${recorded.length}` : "Nothing has come off yet";
    // the last one first: that is what was just done, and what a look back is for
    fill(done, recorded.map(row).reverse());
    fill(tools, [...new Set(all.map((r) => r.fields.tool).filter(Boolean))].map((t) => h("option", { value: t })));
    if (!who.text && document.activeElement !== who.input) who.input.value = bench.who;
    for (const picks of [parts, joints]) if (!picks.element.contains(document.activeElement)) picks.update();
    changed();
  }
  return {
    element,
    update,
    /** @param {string[]} ids */
    begin(ids) {
      const plan = bench.list("removal").find((r) => !isRecorded(r) && ids.length > 0 && ids.every((id) => (r.refs.parts ?? []).includes(id)));
      if (plan) return take(plan);
      if (watch.runs) return app.say("a removal is being timed: stop and save it first");
      clear();
      parts.value = ids;
    },
  };
}
