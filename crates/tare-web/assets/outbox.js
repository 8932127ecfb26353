// Entries wait here until the server has heard them: kept in the browser, sent in order, each once.
//
// The id of an entry is made here and the server records an id only once, so sending again is harmless. An entry is struck off when an
// answer is heard, never when it is sent. What was refused stays until a person decides.

import { device, me, newId } from "./api.js";
import { openKeep } from "./outbox-keep.js";

/**
 * @typedef {object} Entry
 * @property {string} id 32 hex digits
 * @property {string} study
 * @property {number} order
 * @property {"edit" | "photo"} kind
 * @property {any[]} commands
 * @property {string} says
 * @property {string} [author] who made it, by the name taken then
 * @property {any[]} shows what the page shows meanwhile
 * @property {"waiting" | "refused"} state
 * @property {any} [answer] problems and conflict of a refusal
 * @property {string} [name] of a photo
 * @property {string} [part] of a photo
 * @property {Blob} [blob] of a photo
 */

const PATIENCE = 20_000;
const PHOTO_PATIENCE = 120_000;
const LONGEST_PAUSE = 30_000;

export class Outbox extends EventTarget {
  /** @param {string} study @param {string} api */
  constructor(study, api) {
    super();
    this.study = study;
    this.api = api;
    /** @type {Entry[]} */
    this.entries = [];
    /** @type {(Entry & {done: number})[]} heard by the server, not yet in what was read from it */
    this.recent = [];
    /** What keeps the queue from moving: "" | "offline" | "unpaired" | "busy". */
    this.trouble = "";
    this.pause = 1000;
    this.sending = false;
    /** @type {any} */
    this.timer = 0;
    /** @type {import("./outbox-keep.js").Keep} */
    this.keep = null;
  }

  /** Opens what was kept and starts sending. */
  async open() {
    this.keep = await openKeep(this.study);
    const kept = await this.keep.all();
    const known = new Set(this.entries.map((e) => e.id));
    this.entries = [...kept.filter((e) => !known.has(e.id)), ...this.entries].sort((a, b) => a.order - b.order);
    for (const event of ["online", "tare:online", "focus"]) window.addEventListener(event, () => this.hurry());
    document.addEventListener("tare:online", () => this.hurry());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.hurry());
    window.addEventListener("beforeunload", (event) => {
      // Where the browser keeps the queue nothing is lost by leaving; a question would only train people to click it away.
      if (this.entries.length && !this.keep.lasts) event.preventDefault();
    });
    this.changed();
    this.hurry();
  }

  /**
   * Puts an edit into the queue.
   *
   * @param {any[]} commands
   * @param {string} says
   * @param {any[]} [shows]
   */
  edit(commands, says, shows = []) {
    return this.put({ kind: "edit", commands, says, shows });
  }

  /**
   * Puts a photo into the queue.
   *
   * @param {Blob} blob
   * @param {string} name
   * @param {string} part id
   */
  photo(blob, name, part) {
    return this.put({ kind: "photo", commands: [], says: `photo: ${name}`, shows: [{ photo: { part, name, blob } }], blob, name, part });
  }

  /** @param {any} content */
  async put(content) {
    const last = this.entries.length ? this.entries[this.entries.length - 1].order : 0;
    /** @type {Entry} */
    const entry = { id: newId(), study: this.study, order: Math.max(Date.now(), last + 1), state: "waiting", author: me(), ...content };
    this.entries.push(entry);
    this.changed();
    const kept = this.keep ? this.keep.put(entry) : Promise.resolve();
    await kept;
    this.hurry();
    return entry;
  }

  get waiting() {
    return this.entries.filter((e) => e.state === "waiting");
  }

  get refused() {
    return this.entries.filter((e) => e.state === "refused");
  }

  /** Everything the server's lists do not show yet, oldest first. */
  get shown() {
    return [...this.recent, ...this.entries];
  }

  /** Forgets what a reading begun at a moment has shown. @param {number} begun */
  seen(begun) {
    this.recent = this.recent.filter((e) => e.done >= begun);
  }

  /** @param {string} id */
  async drop(id) {
    const entry = this.entries.find((e) => e.id === id);
    if (!entry) return;
    this.entries = this.entries.filter((e) => e.id !== id);
    await this.keep.remove(id);
    this.changed();
    this.hurry();
  }

  /**
   * Sends a refused entry once more without saying what the page showed before, so that the person's own value stands. It is another
   * entry: the server has answered the old id.
   *
   * @param {string} id
   */
  async keepMine(id) {
    const entry = this.entries.find((e) => e.id === id);
    if (!entry) return;
    // Where several values stand there is none to take the place of: mine is recorded beside them.
    const many = (entry.answer?.problems ?? []).some((/** @type {any} */ p) => p.code === "value-many");
    const commands = entry.commands.map((c) => {
      const { from: _, ...rest } = c.set ?? {};
      if (!c.set) return c;
      return { set: many && /\/mass$/.test(rest.target) ? { ...rest, beside: true } : rest };
    });
    const again = { ...entry, id: newId(), commands, state: /** @type {const} */ ("waiting"), answer: undefined };
    await this.keep.put(again);
    await this.keep.remove(id);
    this.entries = this.entries.map((e) => (e.id === id ? again : e));
    this.changed();
    this.hurry();
  }

  /** Entries that build on one that was refused wait with it: what they refer to is not there. */
  standingBack() {
    const behind = new Set();
    /** @type {Set<string>} */
    const missing = new Set();
    for (const entry of this.entries) {
      const text = JSON.stringify(entry.commands) + (entry.part ? `@${entry.part}` : "");
      const held = entry.state === "refused" || [...missing].some((word) => text.includes(word));
      if (!held) continue;
      behind.add(entry.id);
      for (const command of entry.commands) {
        if (command.add?.id) missing.add(`@${command.add.id}`);
        if (command.set?.target) missing.add(`"${command.set.target}"`);
      }
    }
    return behind;
  }

  /** Tries now. */
  hurry() {
    clearTimeout(this.timer);
    this.pause = 1000;
    this.run();
  }

  later(pause = this.pause) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.run(), pause);
    this.pause = Math.min(this.pause * 2, LONGEST_PAUSE);
  }

  async run() {
    if (this.sending || !this.keep) return;
    this.sending = true;
    try {
      for (;;) {
        const behind = this.standingBack();
        const next = this.entries.find((e) => e.state === "waiting" && !behind.has(e.id));
        if (!next || !(await this.send(next))) break;
      }
    } finally {
      this.sending = false;
    }
  }

  /** Sends one entry and tells whether the next may follow. @param {Entry} entry */
  async send(entry) {
    const quiet = AbortSignal.timeout(entry.kind === "photo" ? PHOTO_PATIENCE : PATIENCE);
    let answer;
    let body = {};
    try {
      answer = await fetch(this.address(entry), { ...request(entry), signal: quiet });
      body = await answer.json().catch(() => ({}));
    } catch {
      return this.stop("offline");
    }
    if (answer.ok) {
      this.recent.push({ ...entry, done: Date.now() });
      this.entries = this.entries.filter((e) => e.id !== entry.id);
      await this.keep.remove(entry.id);
      this.trouble = "";
      this.pause = 1000;
      this.changed();
      this.dispatchEvent(new CustomEvent("saved", { detail: { entry, answer: body } }));
      return true;
    }
    if (answer.status === 401) return this.stop("unpaired");
    if (answer.status === 408 || answer.status === 429 || answer.status >= 500) {
      return this.stop("busy", Number(answer.headers.get("retry-after")) * 1000 || undefined);
    }
    entry.state = "refused";
    entry.answer = { status: answer.status, ...body };
    await this.keep.put(entry);
    this.trouble = "";
    this.changed();
    this.dispatchEvent(new CustomEvent("refused", { detail: { entry } }));
    return true;
  }

  /** @param {string} trouble @param {number} [pause] */
  stop(trouble, pause) {
    this.trouble = trouble;
    this.changed();
    this.later(pause);
    return false;
  }

  /** @param {Entry} entry */
  address(entry) {
    if (entry.kind === "edit") return `${this.api}/entries`;
    const of = new URLSearchParams({ name: entry.name ?? "photo", part: `@${entry.part}`, entry: entry.id });
    return `${this.api}/photos?${of}`;
  }

  changed() {
    this.dispatchEvent(new Event("change"));
  }
}

/** @param {Entry} entry @returns {RequestInit} */
function request(entry) {
  const who = { "x-tare-author": encodeURIComponent(entry.author ?? me()), "x-tare-device": device };
  if (entry.kind === "photo") {
    return { method: "POST", body: entry.blob, headers: { ...who, "content-type": entry.blob?.type || "image/jpeg" } };
  }
  const body = JSON.stringify({ id: entry.id, commands: entry.commands, says: entry.says });
  return { method: "POST", body, headers: { ...who, "content-type": "application/json" } };
}
