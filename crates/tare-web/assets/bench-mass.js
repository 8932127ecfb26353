// A mass as it was read: with container, state, scale, pieces weighed together.

import { h, memory, newId } from "./dom.js";
import { countField, keys, valueField } from "./bench-values.js";

/**
 * @param {import("./bench-record.js").Bench} bench
 * @param {object} given
 * @param {string} given.test
 * @param {boolean} [given.unknown]
 * @param {boolean} [given.open]
 */
export function massField(bench, { test, unknown = true, open = false }) {
  // finer units than a bench scale shows would only take the place of larger keys
  const units = (bench.choices.units.mass ?? ["g", "kg"]).filter((/** @type {string} */ unit) => unit !== "mg");
  const value = valueField({ label: "Mass", quantity: "mass", units, test, unknown, change: told, hint: "of one piece, unless several are weighed together" });
  const tare = valueField({ label: "Container (tare)", quantity: "mass", units, test: `${test}-tare`, change: told });
  const together = countField({ label: "Pieces weighed together", test: `${test}-number` });
  const states = bench.choices.mass_states.length ? bench.choices.mass_states : ["as removed", "cleaned"];
  const remembered = memory.get("mass-state", states[0]);
  const state = keys({
    label: "State",
    keys: states.map((/** @type {string} */ s) => ({ key: s, title: s })),
    value: states.includes(remembered) ? remembered : states[0],
    change: (key) => (memory.set("mass-state", key), told()),
  });
  const instruments = bench.choices.instruments.map((/** @type {any} */ i) => i.title ?? i.name);
  const scale = memory.get("scale", "");
  const how = keys({
    label: "How it is known",
    keys: [...instruments.map((/** @type {string} */ name) => ({ key: `scale:${name}`, title: name })), { key: "weighed", title: "other scale" }, { key: "guess", title: "estimate" }],
    value: instruments.includes(scale) ? `scale:${scale}` : "weighed",
    // an estimate is never remembered: the next part would be called one without anybody having said so
    change: (key) => (key !== "guess" && memory.set("scale", key.replace(/^(scale:|weighed)/, "")), told()),
  });
  const summary = h("summary", { data: { test: `${test}-how` } });
  const result = h("p", { class: "reads", "aria-live": "polite" });
  const more = h("details", { class: "bench-fold", open }, summary, h("div", { class: "stack" }, how.element, state.element, tare.element, together.element, result));
  together.element.addEventListener("input", told);

  function instrument() {
    return how.value.startsWith("scale:") ? how.value.slice(6) : "";
  }
  function told() {
    // a container is weighed on the scale that shows the whole, in its unit
    if (!tare.input.value) tare.unit = value.unit;
    const known = how.value === "guess" ? "estimate" : instrument() || "scale not named";
    const bunch = (together.number ?? 1) > 1 ? `, ${together.number} together` : "";
    summary.textContent = `${known}, ${state.value}${tare.text ? `, in a container of ${tare.text}` : ""}${bunch}`;
    result.textContent = each();
  }
  /** What the parts of the reading come to, for the eye only: the record keeps what was read. */
  function each() {
    const pieces = together.number ?? 1;
    if (value.number === null || (tare.number === null && pieces <= 1)) return "";
    const grams = (/** @type {typeof value} */ f) => (f.number ?? 0) * (f.unit === "kg" ? 1000 : 1);
    if (![value.unit, tare.unit].every((u) => u === "g" || u === "kg")) return "";
    const net = (grams(value) - grams(tare)) / pieces;
    const text = net >= 1000 ? `${Number((net / 1000).toPrecision(5))} kg` : `${Number(net.toPrecision(5))} g`;
    return net > 0 ? `about ${text} a piece; gross and container are both recorded` : "the container is not lighter than the whole: look again";
  }
  told();

  const field = {
    element: h("div", { class: "mass-field" }, value.element, more),
    value,
    input: value.input,
    get unknown() {
      return value.unknown;
    },
    get text() {
      return value.text;
    },
    get wrong() {
      return value.wrong || tare.wrong || (value.text ? together.wrong : "");
    },
    get state() {
      return state.value;
    },
    /** What is said beside the reading. @returns {Record<string, any>} */
    about() {
      const guess = how.value === "guess";
      /** @type {Record<string, any>} */
      const about = { evidence: guess ? "assumed" : "measured", state: state.value, who: bench.who };
      if (instrument()) about.instrument = instrument();
      else about.source = guess ? "estimate at the bench" : "weighed at the bench, scale not named";
      if ((together.number ?? 1) > 1) about.number = together.number;
      if (tare.text) about.set = field.set ??= `bench ${newId().slice(0, 6)}`;
      return about;
    },
    /** @type {string | undefined} readings of one weighing share it, so that the container is taken off */
    set: undefined,
    /** The container as a second reading of the same set: read on the same scale, its zero error cancels. @param {string} target */
    tareCommands(target) {
      if (!tare.text) return [];
      const { number: _, ...about } = field.about();
      return [{ set: { target, to: tare.text, beside: true, method: "tare", ...about } }];
    },
    clear() {
      value.clear();
      tare.clear();
      together.clear();
      field.set = undefined;
      if (how.value === "guess") how.value = "weighed";
      told();
    },
  };
  return field;
}
