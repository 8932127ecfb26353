// What the bench knows of the study: what was read from the server, with everything on top that the server has not heard yet.

import { device, me, setMe } from "./api.js";
import { memory } from "./dom.js";

/**
 * @typedef {object} Row a part, as the list of parts gives it
 * @property {string} id
 * @property {string | null} parent
 * @property {string} label
 * @property {string} name
 * @property {number} count
 * @property {number} [pieces]
 * @property {number} [level]
 * @property {string} [says]
 * @property {number} photos
 * @property {boolean} removed
 * @property {{id?: string, text: string, evidence?: string, state?: string} | null} stated_mass
 * @property {{text: string, line: string} | null} [mass]
 * @property {string} [item]
 * @property {boolean} [unsaved]
 */
/** @typedef {{id: string, kind: string, address?: string, parent?: string | null, fields: Record<string, string>, refs: Record<string, string[]>, unsaved?: boolean}} Listed */

const KINDS = ["joint", "removal", "hold", "photo", "sample", "feature"];
const LEASE = 50;
const LOW = 15;
const NOTHING = { joint_methods: [], processes: [], mass_states: [], instruments: [], units: {} };

export class Bench extends EventTarget {
  /** @param {string} study @param {string} api @param {import("./outbox.js").Outbox} outbox @param {string} author */
  constructor(study, api, outbox, author) {
    super();
    this.study = study;
    this.api = api;
    this.outbox = outbox;
    this.author = author;
    // What was read last is shown at once, also where the network is down just now.
    const last = memory.get(`read:${study}`, null);
    /** @type {Row[]} */
    this.read = last?.rows ?? [];
    /** @type {Record<string, Listed[]>} */
    this.lists = last?.lists ?? {};
    /** @type {any} */
    this.choices = { ...NOTHING, ...last?.choices };
    this.reached = false;
    this.reading = null;
    outbox.addEventListener("change", () => this.changed());
    outbox.addEventListener("saved", () => this.soon());
  }

  /** Who is at work; stands beside every reading. */
  get who() {
    return me();
  }

  set who(name) {
    setMe(name);
    memory.set("people", [name, ...this.people.filter((n) => n !== name)].slice(0, 6));
    this.changed();
  }

  /** @returns {string[]} */
  get people() {
    const known = memory.get("people", []);
    return known.length ? known : [this.author].filter(Boolean);
  }

  /** @param {string} path */
  async get(path) {
    const answer = await fetch(`${this.api}/${path}`, { signal: AbortSignal.timeout(20_000) });
    if (!answer.ok) throw new Error(`answer ${answer.status}`);
    return answer.json();
  }

  /** Reads again in a moment: many entries in a row are read once. */
  soon() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.refresh(), 400);
  }

  async refresh() {
    if (this.reading) return (this.again = true);
    const begun = Date.now();
    this.reading = (async () => {
      try {
        const [parts, choices, ...lists] = await Promise.all([
          this.get("parts"),
          this.get("choices"),
          ...KINDS.map((kind) => this.get(`list?kind=${kind}`)),
        ]);
        this.read = parts.rows;
        this.choices = { ...NOTHING, ...choices };
        this.lists = Object.fromEntries(KINDS.map((kind, i) => [kind, lists[i].rows.map(withValues)]));
        this.outbox.seen(begun);
        this.reached = true;
        memory.set(`read:${this.study}`, { rows: this.read, lists: this.lists, choices: this.choices });
      } catch {
        this.reached = false;
      }
    })();
    await this.reading;
    this.reading = null;
    this.made = null;
    this.dispatchEvent(new Event("change"));
    if (this.reached) this.lease();
    if (this.again) {
      this.again = false;
      this.soon();
    }
  }

  changed() {
    this.made = null;
    this.dispatchEvent(new Event("change"));
  }

  /** Everything with the queue laid over it. */
  get now() {
    this.made ??= overlay(this.read, this.lists, this.outbox.shown, new Set(this.outbox.entries.map((e) => e.id)));
    return this.made;
  }

  /** @returns {Row[]} */
  get rows() {
    return this.now.rows;
  }

  /** @param {string} kind @returns {Listed[]} */
  list(kind) {
    return this.now.lists[kind] ?? [];
  }

  /** @param {string | null} id @returns {Row | undefined} */
  part(id) {
    return this.now.byId.get(id);
  }

  /** @param {string | null} id @returns {Row[]} */
  children(id) {
    return this.rows.filter((r) => (r.parent ?? null) === id);
  }

  /** From the top down to a part. @param {string | null} id @returns {Row[]} */
  path(id) {
    const path = [];
    for (let row = this.part(id); row && path.length < 100; row = this.part(row.parent)) path.unshift(row);
    return path;
  }

  /** Photos of a part: those of the server with their digest, those in the queue with their blob. @param {string} id */
  photos(id) {
    const heard = this.list("photo").filter((p) => (p.refs.parts ?? []).includes(id));
    const queued = this.now.photos.filter((p) => p.part === id);
    return { heard, queued, count: Math.max(heard.length, this.part(id)?.photos ?? 0) + queued.length };
  }

  /** Names in use, without repeats. */
  get names() {
    return [...new Set(this.rows.map((r) => r.name))].sort((a, b) => a.localeCompare(b));
  }

  /** Keeps enough numbers for labels that bags can be labelled without a network. */
  async lease() {
    const blocks = memory.get(`labels:${this.study}`, []);
    if (left(blocks) > LOW) return;
    try {
      const { from, to } = await this.get(`labels?device=${encodeURIComponent(device)}&count=${LEASE}`);
      const now = memory.get(`labels:${this.study}`, []);
      if (!now.some((/** @type {any} */ b) => b.to === to)) memory.set(`labels:${this.study}`, [...now, { next: from, to }]);
    } catch {
      // asked again with the next reading
    }
  }

  /** The next label of this device's own numbers, "" where none is left. */
  takeLabel() {
    const blocks = memory.get(`labels:${this.study}`, []).filter((/** @type {any} */ b) => b.next < b.to);
    const taken = new Set(this.rows.map((r) => r.label));
    while (blocks.length) {
      const label = `P${blocks[0].next++}`;
      if (blocks[0].next >= blocks[0].to) blocks.shift();
      memory.set(`labels:${this.study}`, blocks);
      if (!taken.has(label)) {
        if (left(blocks) <= LOW) this.lease();
        return label;
      }
    }
    return "";
  }
}

/**
 * A record with what is stated of it among its fields: a time, a count, a torque. Where several values stand, the last.
 *
 * @param {Listed & {values?: {quantity: string, text: string}[]}} record
 * @returns {Listed}
 */
function withValues({ values = [], ...record }) {
  return { ...record, refs: record.refs ?? {}, fields: { ...Object.fromEntries(values.map((v) => [v.quantity, v.text])), ...record.fields } };
}

/** Whether a removal has been recorded: it says when it was done or how long it took. @param {Listed} removal */
export const isRecorded = (removal) => Boolean(removal.fields.when || removal.fields.duration);

/** @param {{next: number, to: number}[]} blocks */
const left = (blocks) => blocks.reduce((sum, b) => sum + Math.max(0, b.to - b.next), 0);

/**
 * Lays what is queued over what was read.
 *
 * @param {Row[]} read
 * @param {Record<string, Listed[]>} lists
 * @param {import("./outbox.js").Entry[]} entries
 * @param {Set<string>} unsaved ids of entries the server has not heard
 */
function overlay(read, lists, entries, unsaved) {
  const rows = read.map((r) => ({ ...r }));
  const byId = new Map(rows.map((r) => [r.id, r]));
  const out = Object.fromEntries(KINDS.map((kind) => [kind, (lists[kind] ?? []).map((r) => ({ ...r }))]));
  /** @type {{part: string, name: string, blob: Blob, entry: string}[]} */
  const photos = [];
  for (const entry of entries) {
    const waits = unsaved.has(entry.id);
    for (const show of entry.shows ?? []) {
      if (show.row && !byId.has(show.row.id)) {
        const above = byId.get(show.row.parent);
        const row = { photos: 0, removed: false, stated_mass: null, ...show.row, unsaved: waits };
        row.pieces = (above?.pieces ?? 1) * row.count;
        byId.set(row.id, row);
        rows.splice(endOf(rows, row.parent), 0, row);
      }
      if (show.patch) {
        const row = byId.get(show.patch);
        if (row) Object.assign(row, show.fields, { unsaved: row.unsaved || waits });
      }
      if (show.listed) {
        const list = out[show.listed];
        const known = list.find((r) => r.id === show.record.id);
        if (known) {
          Object.assign(known, { fields: { ...known.fields, ...show.record.fields }, unsaved: known.unsaved || waits });
          Object.assign(known, { refs: { ...known.refs, ...show.record.refs } });
        } else list.push({ fields: {}, refs: {}, kind: show.listed, ...show.record, unsaved: waits });
      }
      if (show.photo) photos.push({ ...show.photo, entry: entry.id });
    }
  }
  // What is only planned has not come off; what sits in something that came off has come off with it.
  const off = new Set(out.removal.filter(isRecorded).flatMap((r) => r.refs.parts ?? []));
  for (const row of rows) row.removed = off.has(row.id) || Boolean(byId.get(row.parent)?.removed);
  return { rows, byId, lists: out, photos };
}

/** Where the next part under a parent goes: behind all that stands under it. @param {Row[]} rows @param {string | null} parent */
function endOf(rows, parent) {
  if (!parent) return rows.length;
  const inside = new Set([parent]);
  let end = rows.findIndex((r) => r.id === parent) + 1;
  for (; end > 0 && end < rows.length && inside.has(rows[end].parent); end++) inside.add(rows[end].id);
  return end || rows.length;
}

/** What is noted as not known yet in the words beside a record. @param {string | undefined} says @returns {string[]} */
export const unknowns = (says) => [...(says ?? "").matchAll(/([\w ,]+): unknown yet/g)].map((found) => found[1].trim());

/** The words beside a record with a note more or less. @param {string | undefined} says @param {string} what @param {boolean} unknown */
export function noteUnknown(says, what, unknown) {
  const notes = (says ?? "").split(/;\s*/).filter((n) => n && n !== `${what}: unknown yet`);
  if (unknown) notes.push(`${what}: unknown yet`);
  return notes.join("; ");
}
