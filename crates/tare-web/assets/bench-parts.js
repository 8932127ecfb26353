// The assembly at hand: what it is, what it holds, and the next part.

import { counted, fill, h, memory, newId, own } from "./dom.js";
import { countField, keys, textField } from "./bench-values.js";
import { massField } from "./bench-mass.js";
import { cameraKey, photoField, pictures } from "./bench-photo.js";
import { noteUnknown, unknowns } from "./bench-record.js";
import { partPanes } from "./bench-part-panes.js";

/** @param {import("./bench.js").App} app */
export function partsView(app) {
  const { bench } = app;
  const crumbs = h("nav", { class: "crumbs", "aria-label": "Where you are in the product" });
  const facts = h("section", { class: "at-hand", "aria-label": "The assembly at hand" });
  const work = h("section", { class: "work", "aria-label": "What you are recording", hidden: true });
  const list = h("ol", { class: "rows", data: { test: "parts" } });
  const heading = h("h2", {});
  const next = h("button", { type: "button", class: "main-key", data: { test: "next-part" }, onclick: openForm }, "Next part");
  const act = h("div", { class: "act" }, next);
  const element = h("div", { class: "panes" }, h("div", { class: "pane-head" }, crumbs, facts), work, h("section", { class: "pane-list" }, heading, list), act);
  const panes = partPanes(app, close);
  /** @type {ReturnType<typeof nextPartForm> | null} */
  let form = null;

  function openForm() {
    form ??= nextPartForm(app, close);
    show(form.element);
    form.focus();
  }
  /** @param {Element} content */
  function show(content) {
    if (work.firstChild !== content) work.replaceChildren(content);
    work.hidden = false;
    element.classList.add("working");
    form?.at();
  }
  function close() {
    work.hidden = true;
    element.classList.remove("working");
    next.focus();
  }

  function update() {
    const here = bench.part(app.at);
    const children = bench.children(app.at);
    const step = (/** @type {string | null} */ id, /** @type {any} */ name, /** @type {boolean} */ last) =>
      h("li", {}, h("button", { type: "button", "aria-current": last ? "page" : null, data: { key: `crumb-${id}` }, onclick: () => app.go(id) }, name));
    const path = bench.path(app.at);
    fill(crumbs, h("ol", {}, step(null, app.study, !path.length), path.map((r, i) => step(r.id, own(r.name), i === path.length - 1))));
    fill(facts, here ? factsOf(app, here, (pane) => show(panes(pane, here))) : null);
    facts.hidden = !here;
    heading.textContent = here ? (children.length ? `${counted(children.length, "part")} in it` : "No parts in it yet") : children.length ? "Top of the product" : "Nothing recorded yet";
    fill(list, children.map((r) => h("li", {}, rowOf(app, r))));
    form?.update();
  }
  return { element, update, close, massInput: () => /** @type {any} */ (work.hidden ? null : work.querySelector('[data-wedge="mass"]')) };
}

/** One part as a large row that leads into it. @param {import("./bench.js").App} app @param {import("./bench-record.js").Row} row */
export function rowOf(app, row) {
  const inside = app.bench.children(row.id).length;
  const photos = app.bench.photos(row.id).count;
  const open = unknowns(row.says);
  const tell = (/** @type {any} */ text, /** @type {string} */ name) => h("span", { class: name }, text);
  return h(
    "button",
    { type: "button", class: row.unsaved ? "row unsaved" : "row", data: { key: `row-${row.id}`, part: row.id }, onclick: () => app.go(row.id) },
    h("b", { class: "tag" }, row.label || "no label"),
    own(row.name, "name"),
    h("span", { class: "count" }, "× ", row.count),
    h(
      "span",
      { class: "tells" },
      row.stated_mass ? tell([row.stated_mass.text, row.stated_mass.state && h("span", { class: "soft" }, ` ${row.stated_mass.state}`)], "mass") : tell("no mass", "owed"),
      photos ? tell(counted(photos, "photo"), "soft") : tell("no photo", "owed"),
      tell(row.removed ? "removed" : "in place", "soft"),
      inside > 0 && tell(counted(inside, "part"), "soft"),
      open.length > 0 && tell(`unknown yet: ${open.join(", ")}`, "owed"),
      row.unsaved && tell("not saved yet", "waits"),
    ),
  );
}

/**
 * What the part at hand is, with what can be done to it.
 *
 * @param {import("./bench.js").App} app
 * @param {import("./bench-record.js").Row} row
 * @param {(pane: string) => void} open
 */
function factsOf(app, row, open) {
  const { bench } = app;
  const open_ = unknowns(row.says);
  const mass = row.stated_mass;
  const features = bench.list("feature").filter((f) => f.parent && (f.parent === row.item || f.parent === row.id));
  const doing = (/** @type {string} */ pane, /** @type {string} */ title) =>
    h("button", { type: "button", class: "key-button", data: { key: `do-${pane}`, test: `do-${pane}` }, onclick: () => open(pane) }, title);
  return [
    h("h1", {}, h("b", { class: "tag" }, row.label || "no label"), " ", own(row.name)),
    h(
      "dl",
      { class: "fact-list" },
      h("div", {}, h("dt", {}, "count"), h("dd", {}, row.count)),
      h("div", {}, h("dt", {}, "mass"), h("dd", { class: mass ? null : "owed" }, mass ? mass.text : "not yet", mass?.state && h("span", { class: "soft" }, ` ${mass.state}`))),
      row.mass && row.mass.text !== mass?.text && h("div", {}, h("dt", {}, "reckoned"), h("dd", {}, h("a", { href: app.reason(row.mass.line) }, row.mass.text))),
      h("div", {}, h("dt", {}, "state"), h("dd", {}, row.removed ? "removed" : "in place")),
      open_.length > 0 && h("div", {}, h("dt", {}, "unknown yet"), h("dd", { class: "owed" }, open_.join(", "))),
      row.unsaved && h("div", {}, h("dt", {}, "record"), h("dd", { class: "waits" }, "not saved yet")),
    ),
    row.says && h("p", { class: "says", dir: "auto" }, row.says),
    features.length > 0 && h("ul", { class: "features" }, features.map((f) => h("li", {}, own(f.fields.name), " ", h("b", {}, f.fields.count ? `× ${f.fields.count}` : ""), f.unsaved && h("span", { class: "waits" }, " not saved yet")))),
    pictures(bench, row.id),
    h(
      "div",
      { class: "doing" },
      cameraKey({ label: "Photo", test: "do-photo", take: (file) => app.outbox.photo(file, row.name, row.id) }),
      doing("weigh", mass ? "Weigh again" : "Weigh"),
      doing("change", "Change"),
      doing("feature", "Holes, threads ..."),
      h("button", { type: "button", class: "key-button", data: { key: "do-remove", test: "do-remove" }, onclick: () => app.takeOff([row.id]) }, "Take off"),
      h("a", { class: "key-button", href: app.page(`labels?of=@${row.id}`) }, "Label"),
    ),
  ];
}

/** The form for parts one after the other. @param {import("./bench.js").App} app @param {() => void} close */
function nextPartForm(app, close) {
  const { bench, outbox } = app;
  const names = h("datalist", {});
  const name = textField({ label: "Name", test: "part-name", list: names });
  const count = countField({ label: "Count", test: "part-count", unknown: true });
  const mass = massField(bench, { test: "part-mass" });
  const photo = photoField({ test: "part-photo" });
  const note = textField({ label: "Note", test: "part-note", long: true });
  const twin = h("div", { class: "twin", hidden: true });
  const where = h("p", { class: "where" });
  const wrong = h("p", { class: "wrong", role: "alert" });
  const element = h(
    "form",
    { class: "stack", novalidate: true, onsubmit: save },
    h("h2", {}, "Next part"),
    where,
    name.element,
    twin,
    count.element,
    mass.element,
    photo.element,
    h("details", { class: "bench-fold" }, h("summary", {}, "Note"), note.element),
    wrong,
    h("div", { class: "act" }, h("button", { type: "button", class: "key-button", data: { test: "part-close" }, onclick: close }, "Close"), h("button", { class: "main-key", data: { test: "save-part" } }, "Save, next")),
  );
  const fields = [name.input, count.input, mass.input];
  /** @type {ReturnType<typeof keys> | null} */
  let same = null;

  // Words typed so far outlive the page; a photo is kept once the part is saved.
  const draft = `part:${app.study}`;
  const typed = { name: name.input, count: count.input, mass: mass.input, note: note.input };
  for (const [key, input] of Object.entries(typed)) input.value = memory.get(draft, {})[key] ?? input.value;
  element.addEventListener("input", () => memory.set(draft, Object.fromEntries(Object.entries(typed).map(([key, input]) => [key, input.value]))));

  // Enter leads on, so that a name with a trailing Enter does not save half a part
  element.addEventListener("keydown", (/** @type {KeyboardEvent} */ event) => {
    const at = fields.indexOf(event.target);
    if (event.key !== "Enter" || at < 0) return;
    event.preventDefault();
    if (at < fields.length - 1) fields[at + 1].focus();
    else /** @type {HTMLElement} */ (element.querySelector('[data-test="part-photo"]')).focus();
  });
  name.input.addEventListener("input", offerTwin);

  /** One name may stand for several things, so the same item is offered and never assumed. */
  function offerTwin() {
    const like = bench.rows.find((r) => r.item && r.name.toLowerCase() === name.text.toLowerCase());
    twin.hidden = !like;
    if (!like) return (same = null);
    if (same && twin.dataset.of === like.id) return;
    twin.dataset.of = like.id;
    same = keys({ label: `"${like.name}" is in the list as ${like.label || "a part"}`, keys: [{ key: "", title: "another item" }, { key: like.item, title: `same item as ${like.label || like.name}` }], value: "", test: "part-twin" });
    twin.replaceChildren(same.element);
  }

  /** @param {Event} event */
  function save(event) {
    event.preventDefault();
    const problems = [name.text ? "" : "a part needs a name, even a rough one", count.wrong, mass.wrong].filter(Boolean);
    wrong.textContent = problems.join("; ");
    if (problems.length) return (name.text ? (count.wrong ? count.input : mass.input) : name.input).focus();
    const id = newId();
    const label = bench.takeLabel();
    let says = note.text;
    if (mass.unknown) says = noteUnknown(says, "mass", true);
    if (count.unknown) says = noteUnknown(says, "count", true);
    /** @type {Record<string, string>} */
    const fields = same?.value ? { item: /^[0-9a-f]{32}$/.test(same.value) ? `@${same.value}` : same.value } : { name: name.text };
    fields.count = String(count.number);
    if (label) fields.label = label;
    if (says) fields.says = says;
    if (mass.text) fields.mass = mass.text;
    const add = { kind: "part", under: app.at ? `@${app.at}` : null, id, fields, ...(mass.text ? mass.about() : {}) };
    const row = { id, parent: app.at, label, name: name.text, count: count.number, says, item: same?.value || undefined };
    const stated = mass.text ? { text: mass.text, state: mass.state } : null;
    outbox.edit([{ add }, ...mass.tareCommands(`@${id}/mass`)], `part ${label ? `${label} ` : ""}${name.text}`, [{ row: { ...row, stated_mass: stated } }]);
    for (const file of photo.files) outbox.photo(file, name.text, id);
    app.say(`${label || "part"} ${name.text} is in the list`);
    for (const field of [name, count, mass, photo, note]) field.clear();
    memory.set(draft, {});
    offerTwin();
    name.input.focus();
  }
  const form = {
    element,
    focus: () => name.input.focus(),
    at() {
      where.replaceChildren("into ", own(bench.part(app.at)?.name ?? "the top of the product"));
    },
    update() {
      form.at();
      names.replaceChildren(...bench.names.map((n) => h("option", { value: n })));
    },
  };
  form.update();
  return form;
}
