// Parts to choose from for a call-out, and the two versions of call-outs where somebody else was quicker.

import { get, make } from "./api.js";

/** @typedef {import("./callout-text.js").Callout} Callout */
/** @typedef {{id: string, label: string, name: string}} Part */

/** A list of ten thousand proposals is no help and slow; these are the first that fit what was typed. */
const PROPOSALS = 40;

/** @param {Part} part */
const called = (part) => [part.label, part.name].filter(Boolean).join(" ");

export class Parts {
  constructor() {
    /** @type {Part[]} */
    this.all = [];
    this.read = false;
    this.proposals = make("datalist", { id: "callout-parts" });
  }

  async fetch() {
    const { rows } = await get("parts");
    this.all = rows.map((/** @type {Part} */ r) => ({ id: r.id, label: r.label ?? "", name: r.name ?? "" }));
    this.read = true;
  }

  /** What a reference is called; itself where nothing is known of it. @param {string} reference */
  text(reference) {
    const part = this.all.find((p) => `@${p.id}` === reference);
    return part ? called(part) : reference;
  }

  /** @param {string} text */
  propose(text) {
    const wanted = text.trim().toLowerCase();
    const found = this.all.filter((p) => called(p).toLowerCase().includes(wanted)).slice(0, PROPOSALS);
    this.proposals.replaceChildren(...found.map((p) => make("option", { value: called(p) })));
  }

  /** The parts a text may mean. @param {string} text */
  meant(text) {
    const low = text.toLowerCase();
    return this.all.filter((p) => [p.label, p.name, called(p), `@${p.id}`].some((t) => t.toLowerCase() === low));
  }
}

/**
 * @param {string} who
 * @param {Callout[]} theirs
 * @param {Callout[]} mine
 * @param {(part: string) => string} partText
 * @param {() => void} keep
 * @param {() => void} insist
 */
export function bothVersions(who, theirs, mine, partText, keep, insist) {
  const words = (/** @type {Callout} */ c) =>
    make("li", {}, `${c.number} `, make("bdi", {}, c.text), c.part ? ` (${partText(c.part)})` : "");
  const side = (
    /** @type {string} */ title,
    /** @type {Callout[]} */ all,
    /** @type {string} */ test,
    /** @type {string} */ deed,
    /** @type {() => void} */ go,
  ) =>
    make(
      "div",
      {},
      make("h3", {}, title),
      make("ul", {}, ...all.map(words)),
      make("button", { type: "button", "data-test": test, onclick: go }, deed),
    );
  return make(
    "div",
    { class: "callout-conflict", "data-test": "conflict" },
    make("p", {}, make("bdi", {}, who), " changed the call-outs meanwhile."),
    side("theirs", theirs, "take-theirs", "keep theirs", keep),
    side("mine", mine, "take-mine", "record mine", insist),
  );
}
