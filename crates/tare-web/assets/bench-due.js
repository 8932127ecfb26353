// Readings that are due before something comes off. Going on without one takes a reason, which stays in the record.

import { fill, h, own } from "./dom.js";
import { keys, textField } from "./bench-values.js";
import { massField } from "./bench-mass.js";
import { cameraKey } from "./bench-photo.js";

const REASONS = ["weighed once it is off", "cannot be reached", "taken from its assembly"];
const OTHER = "another reason";

/** @typedef {{key: string, what: string, of: string, part?: string, kind: "mass" | "photo" | "word"}} Due */

/** @param {import("./bench.js").App} app @param {() => void} changed */
export function dueGate(app, changed) {
  const { bench, outbox } = app;
  const list = h("ul", {});
  const element = h("section", { class: "gate", hidden: true, tabindex: "-1", "aria-label": "Due before it comes off", data: { test: "removal-due" } }, h("h3", {}, "Due before it comes off"), h("p", {}, "Read it now, or say why it is not read: the reason stays beside the removal."), list);
  /** @type {Map<string, {element: HTMLElement, settled: () => string | null}>} */
  const kept = new Map();
  /** @type {Due[]} */
  let all = [];

  /** @param {Due} due */
  function line(due) {
    const other = textField({ label: "Reason", test: "due-other" });
    other.element.hidden = true;
    other.input.addEventListener("input", changed);
    const reason = keys({
      label: `Why not: ${due.what} of ${due.of}`,
      bare: true,
      keys: [...(due.kind === "word" ? [{ key: "done", title: "done, or read" }] : []), ...REASONS.filter((r, i) => i !== 0 || due.kind === "mass").map((r) => ({ key: r, title: r })), { key: OTHER, title: OTHER }],
      value: "",
      change: (key) => {
        other.element.hidden = key !== OTHER;
        if (key === OTHER) other.input.focus();
        changed();
      },
      test: `due-${due.kind}`,
    });
    const now = h("div", { class: "stack" });
    const act =
      due.kind === "photo"
        ? cameraKey({ label: "Take photo", test: "due-photo", take: (file) => outbox.photo(file, due.of, due.part ?? "") })
        : due.kind === "mass" && h("button", { type: "button", class: "key-button", data: { test: "due-weigh" }, onclick: () => weigh(due, now) }, "Weigh now");
    const element = h("li", {}, h("p", {}, h("b", {}, due.what), due.kind === "word" ? "" : " of ", due.kind === "word" ? "" : own(due.of)), act && h("div", { class: "key-row" }, act), now, reason.element, other.element);
    return {
      element,
      /** `null` while it is open; "" once it is there; else the reason. */
      settled: () => (reason.value === "done" ? "" : reason.value === OTHER ? other.text || null : reason.value || null),
    };
  }
  /** @param {Due} due @param {HTMLElement} place */
  function weigh(due, place) {
    const mass = massField(bench, { test: "due-mass", unknown: false });
    const wrong = h("p", { class: "wrong", role: "alert" });
    const save = () => {
      wrong.textContent = mass.wrong || (mass.text ? "" : "no mass was read yet");
      if (wrong.textContent) return;
      const target = `@${due.part}/mass`;
      outbox.edit([{ set: { target, to: mass.text, ...mass.about() } }, ...mass.tareCommands(target)], `mass of ${due.of}`, [{ patch: due.part, fields: { stated_mass: { text: mass.text, state: mass.state } } }]);
    };
    place.replaceChildren(mass.element, wrong, h("button", { type: "button", class: "key-button", data: { test: "due-save" }, onclick: save }, "Record the mass"));
    mass.input.focus();
  }

  /** @param {string[]} parts @param {string} words what the plan asks for */
  function dueOf(parts, words) {
    /** @type {Due[]} */
    const due = [];
    for (const id of parts) {
      const row = bench.part(id);
      if (!row) continue;
      const of = [row.label, row.name].filter(Boolean).join(" ");
      if (!row.stated_mass) due.push({ key: `mass ${id}`, kind: "mass", what: "mass", of, part: id });
      if (!bench.photos(id).count) due.push({ key: `photo ${id}`, kind: "photo", what: "photo", of, part: id });
    }
    for (const word of words.split(/[;,]/).map((w) => w.trim()).filter(Boolean)) {
      if (/^(mass|photo(graph)?)$/i.test(word) && parts.length) continue;
      due.push({ key: `word ${word}`, kind: "word", what: word, of: "" });
    }
    return due;
  }
  return {
    element,
    /** @param {string[]} parts @param {string} words */
    update(parts, words) {
      all = dueOf(parts, words);
      const same = all.length === list.children.length && all.every((d, i) => list.children[i] === kept.get(d.key)?.element);
      if (!same) {
        for (const due of all) if (!kept.has(due.key)) kept.set(due.key, line(due));
        fill(list, all.map((d) => kept.get(d.key)?.element));
      }
      element.hidden = !all.length;
    },
    /** How many are neither read nor explained. */
    get open() {
      return all.filter((d) => kept.get(d.key)?.settled() === null).length;
    },
    /** What was not read, with the reasons, for the words beside the removal. */
    get says() {
      return all
        .map((d) => [d, kept.get(d.key)?.settled()])
        .filter(([, reason]) => reason)
        .map(([d, reason]) => `${/** @type {Due} */ (d).what}${/** @type {Due} */ (d).of ? ` of ${/** @type {Due} */ (d).of}` : ""} not read before: ${reason}`)
        .join("; ");
    },
    focus: () => element.focus(),
    clear: () => kept.clear(),
  };
}
