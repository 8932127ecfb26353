// Requests to the study's own server, and the few helpers every page of the desk shares.

/**
 * @typedef {{severity: string, code: string, says: string, place?: string|null, hints?: string[]}} Problem
 * @typedef {{target: string, expected: string, found: string, wanted: string}} Conflict
 * @typedef {{number: number, says: string, records: {id: string, kind: string, address: string}[]}} Recorded
 * @typedef {Record<string, Record<string, unknown>>} Command
 */

/** An answer that is no success. `status` is 0 where no answer came at all. */
export class Refused extends Error {
  /**
   * @param {number} status
   * @param {Problem[]} problems
   * @param {Conflict|null} conflict
   */
  constructor(status, problems, conflict = null) {
    super(problems.map((p) => p.says).join("; "));
    this.status = status;
    this.problems = problems;
    this.conflict = conflict;
  }
}

/** What the page was made for: its study, who writes, and at which entry it stands. */
export const study = {
  name: document.body.dataset.study ?? "",
  api: document.body.dataset.api ?? "",
  base: document.body.dataset.base ?? `/s/${encodeURIComponent(document.body.dataset.study ?? "")}`,
  author: document.body.dataset.author ?? "",
};

/** Who records here: the name taken on this page or at the bench, else the one the program was started with. */
export function me() {
  try {
    return localStorage.getItem("tare-name") || study.author;
  } catch {
    return study.author;
  }
}

/** @param {string} name */
export function setMe(name) {
  try {
    localStorage.setItem("tare-name", name);
  } catch {
    // a browser that keeps nothing goes on with the program's name
  }
}

/** A mark of this browser, so that news can tell where an entry came from; a new one where nothing may be kept. */
export const device = keptMark("tare-desk-device");

/** @param {string} name */
function keptMark(name) {
  const fresh = `desk-${newId().slice(0, 12)}`;
  try {
    const mark = localStorage.getItem(name) ?? fresh;
    localStorage.setItem(name, mark);
    return mark;
  } catch {
    return fresh;
  }
}

/** 32 hex digits nobody else draws: the mark by which a repeated request is known. */
export function newId() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, "0")).join("");
}

const SAID_BY_STATUS = new Map([
  [0, "no answer from the server; nothing was recorded"],
  [401, "this device is not paired with the server (any more)"],
  [403, "this device may look but not write"],
  [413, "that is more than the server takes at once"],
  [429, "too many requests in a short time; wait a little and try again"],
  [503, "the server is busy; nothing was recorded"],
]);

/**
 * @param {string} path
 * @param {RequestInit} [how]
 * @returns {Promise<any>}
 */
async function request(path, how) {
  let answer;
  try {
    const headers = { accept: "application/json", "x-tare-device": device, "x-tare-author": encodeURIComponent(me()), ...how?.headers };
    answer = await fetch(path, { ...how, headers });
  } catch {
    throw new Refused(0, [problem("no-answer", SAID_BY_STATUS.get(0) ?? "")]);
  }
  let body = null;
  try {
    body = await answer.json();
  } catch {
    // a proxy or a crash answers with something else than JSON: the status says enough
  }
  if (answer.ok && body !== null) return body;
  const said = Array.isArray(body?.problems) && body.problems.length > 0 ? body.problems : null;
  const plain = SAID_BY_STATUS.get(answer.status) ?? `the server answered ${answer.status} and gave no reason`;
  throw new Refused(answer.ok ? 0 : answer.status, said ?? [problem("no-reason", plain)], body?.conflict ?? null);
}

/** @param {string} code @param {string} says @returns {Problem} */
export function problem(code, says) {
  return { severity: "error", code, says, place: null, hints: [] };
}

/** @param {string} path below the study's address @returns {Promise<any>} */
export const get = (path) => request(`${study.api}/${path}`);

/** @param {string} path below the study's address @param {unknown} body @returns {Promise<any>} */
export const post = (path, body) =>
  request(`${study.api}/${path}`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
  });

const PAUSES_BEFORE_ANOTHER_TRY = [400, 1500];

/**
 * Records one entry. Where no answer came it asks again with the same id, so that an entry that did arrive is not recorded twice.
 * @param {Command[]} commands
 * @param {string} [says] what the entry is for
 * @param {string} [id] the id of an earlier try of the same entry
 * @returns {Promise<Recorded>}
 */
export async function entry(commands, says, id = newId()) {
  for (let round = 0; ; round += 1) {
    try {
      return await post("entries", says ? { id, commands, says } : { id, commands });
    } catch (refused) {
      const again = refused instanceof Refused && (refused.status === 0 || refused.status === 503 || refused.status === 429);
      if (!again || round >= PAUSES_BEFORE_ANOTHER_TRY.length) throw refused;
      await new Promise((go) => setTimeout(go, PAUSES_BEFORE_ANOTHER_TRY[round]));
    }
  }
}

/**
 * Sets one field or quantity. `from` is what the page showed, so that a change made meanwhile by somebody else is noticed.
 * @param {string} target
 * @param {string} to
 * @param {string} [from]
 * @returns {Command}
 */
export const set = (target, to, from) => ({ set: from === undefined ? { target, to } : { target, to, from } });

/** @param {unknown} refused @returns {Problem[]} */
export const problemsOf = (refused) =>
  refused instanceof Refused ? refused.problems : [problem("page-fault", `the page itself failed: ${String(refused)}`)];

/**
 * Makes an element. Texts become text nodes, whatever they hold.
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} name
 * @param {Record<string, string|number|boolean|null|undefined|((e: any) => void)>} [with_] attributes; `on...` with a function listens
 * @param {...(Node|string|null|undefined|false)} inside
 * @returns {HTMLElementTagNameMap[K]}
 */
export function make(name, with_ = {}, ...inside) {
  const made = document.createElement(name);
  for (const [word, value] of Object.entries(with_)) {
    if (typeof value === "function") made.addEventListener(word.slice(2), value);
    else if (value === true) made.setAttribute(word, "");
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(word, String(value));
  }
  for (const one of inside) if (one) made.append(one);
  return made;
}

/** Brings in a style sheet of ours where the page has not done so. @param {string} name */
export function style(name) {
  const href = `/assets/${name}`;
  if (!document.querySelector(`link[rel=stylesheet][href^="${href}"]`))
    document.head.append(make("link", { rel: "stylesheet", href }));
}

/** Lists problems with their hints. @param {Problem[]} problems */
export function problemList(problems) {
  const list = make("ul", { class: "problems" });
  for (const p of problems) {
    const line = make("li", {}, p.says);
    for (const hint of p.hints ?? []) line.append(make("small", {}, hint));
    list.append(line);
  }
  return list;
}

/** @param {number} n @param {string} one @param {string} [many] */
export const counted = (n, one, many = `${one}s`) => `${plain(n)} ${n === 1 ? one : many}`;

/** A count with thin spaces between thousands: neither comma nor point, which readers take for different things. @param {number} n */
export const plain = (n) => String(n).replace(/\B(?=(\d{3})+(?!\d))/g, "\u202f");
