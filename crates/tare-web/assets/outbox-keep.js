// Where the queue is kept in the browser: its database, else its small store, else only this page's memory.

/** @typedef {import("./outbox.js").Entry} Entry */
/**
 * @typedef {object} Keep
 * @property {boolean} lasts whether what is kept is still there after the page was left
 * @property {() => Promise<Entry[]>} all
 * @property {(entry: Entry) => Promise<void>} put
 * @property {(id: string) => Promise<void>} remove
 */

const STORE = "entries";

/** @param {string} study @returns {Promise<Keep>} */
export async function openKeep(study) {
  try {
    return await inDatabase(study);
  } catch {
    return inSmallStore(study);
  }
}

/** @param {string} study @returns {Promise<Keep>} */
async function inDatabase(study) {
  const database = await new Promise((resolve, reject) => {
    const opening = indexedDB.open("tare-bench", 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore(STORE, { keyPath: "id" });
    opening.onsuccess = () => resolve(opening.result);
    opening.onerror = opening.onblocked = () => reject(opening.error);
  });
  // A change is done once the browser says the whole transaction is: before that a crash may lose it.
  const done = (/** @type {(store: IDBObjectStore) => IDBRequest} */ act, /** @type {IDBTransactionMode} */ mode) =>
    new Promise((resolve, reject) => {
      const transaction = database.transaction(STORE, mode, { durability: "strict" });
      const asked = act(transaction.objectStore(STORE));
      transaction.oncomplete = () => resolve(asked.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  return {
    lasts: true,
    all: async () => (await done((store) => store.getAll(), "readonly")).filter((/** @type {Entry} */ e) => e.study === study),
    put: (entry) => done((store) => store.put(entry), "readwrite"),
    remove: (id) => done((store) => store.delete(id), "readwrite"),
  };
}

/** Photos do not fit here and stay in memory, so leaving the page is asked about. @param {string} study @returns {Keep} */
function inSmallStore(study) {
  const name = `tare-bench:outbox:${study}`;
  /** @type {Map<string, Entry>} */
  const entries = new Map();
  try {
    for (const entry of JSON.parse(localStorage.getItem(name) ?? "[]")) entries.set(entry.id, entry);
  } catch {
    // nothing readable was kept
  }
  const write = async () => {
    try {
      localStorage.setItem(name, JSON.stringify([...entries.values()].filter((e) => e.kind === "edit")));
    } catch {
      // held in memory only; the page asks before it is left
    }
  };
  return {
    lasts: false,
    all: async () => [...entries.values()],
    put: (entry) => (entries.set(entry.id, entry), write()),
    remove: (id) => (entries.delete(id), write()),
  };
}
