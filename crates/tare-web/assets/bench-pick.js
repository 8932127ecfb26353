// Choosing parts or joints by tapping them: what lies at hand is on keys, the rest is found by typing.

import { fill, freshName, h, own } from "./dom.js";

const AT_HAND = 24;

/**
 * @param {object} given
 * @param {string} given.label
 * @param {string} given.what the word for one of them
 * @param {() => {id: string, title: string, tag?: string, near: boolean}[]} given.all those at hand are `near`
 * @param {(ids: string[]) => void} [given.change]
 * @param {string} [given.test]
 */
export function picker({ label, what, all, change, test }) {
  /** @type {string[]} */
  let chosen = [];
  const id = freshName();
  const search = h("input", { id, type: "search", autocomplete: "off", placeholder: "label or name", dir: "auto", data: { test: test && `${test}-find` }, oninput: () => update() });
  const place = h("div", { class: "key-row picked" });
  const none = h("p", { class: "reads" });
  const element = h("fieldset", { class: "keys pick", data: { test } }, h("legend", {}, label), place, none, h("label", { class: "unseen", for: id }, `Find another ${what}`), search);

  /** @param {string} one @param {boolean} on */
  function toggle(one, on) {
    chosen = chosen.filter((c) => c !== one);
    if (on) chosen.push(one);
    change?.(chosen);
    update();
  }
  function update() {
    const known = all();
    const words = search.value.trim().toLowerCase();
    const found = (/** @type {typeof known[0]} */ o) => (words ? `${o.tag ?? ""} ${o.title}`.toLowerCase().includes(words) : o.near);
    // what is chosen keeps its place, so that no key moves under the finger that taps the next one
    const far = known.filter((o) => chosen.includes(o.id) && !found(o));
    const shown = [...far, ...known.filter(found)];
    const cut = shown.slice(0, AT_HAND + chosen.length);
    fill(
      place,
      cut.map((o) =>
        h(
          "label",
          { class: "key" },
          h("input", { type: "checkbox", checked: chosen.includes(o.id), data: { key: `${id}-${o.id}`, of: o.id }, onchange: (/** @type {any} */ e) => toggle(o.id, e.target.checked) }),
          h("span", {}, o.tag && h("b", { class: "tag" }, o.tag), " ", own(o.title)),
        ),
      ),
    );
    const more = shown.length - cut.length;
    none.textContent = more > 0 ? `${more} more: type part of a name` : shown.length ? "" : words ? `no ${what} has that in its name` : `no ${what} here: type to find one`;
    none.hidden = !none.textContent;
  }
  update();
  return {
    element,
    update,
    get value() {
      return chosen;
    },
    set value(ids) {
      chosen = [...ids];
      change?.(chosen);
      update();
    },
    clear() {
      search.value = "";
      this.value = [];
    },
  };
}

/** Parts for a picker; those of the assembly at hand and itself are near. @param {import("./bench.js").App} app */
export function partsFor(app) {
  return app.bench.rows.map((r) => ({ id: r.id, title: r.name, tag: r.label, near: (r.parent ?? null) === app.at || r.id === app.at }));
}

/** Parts that can still come off; what has is found by typing. @param {import("./bench.js").App} app */
export function partsInPlace(app) {
  return app.bench.rows.map((r) => ({ id: r.id, title: r.name, tag: r.label, near: !r.removed && (r.parent ?? null) === app.at }));
}

/** Joints for a picker; those that hold a part at hand are near. @param {import("./bench.js").App} app */
export function jointsFor(app) {
  const near = new Set(app.bench.children(app.at).map((r) => r.id));
  if (app.at) near.add(app.at);
  return app.bench.list("joint").map((j) => ({
    id: j.id,
    title: j.fields.name ?? "joint",
    tag: j.fields.label,
    near: (j.refs.parts ?? []).some((p) => near.has(p)),
  }));
}

/** References as a command writes them. @param {string[]} ids */
export const referring = (ids) => ids.map((id) => `@${id}`).join(", ");
