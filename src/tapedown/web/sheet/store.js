/**
 * What the phone keeps, in IndexedDB. A write counts as done when it has reached the disk: a phone in the rain loses its
 * battery as easily as its signal. Keystrokes alone go to the browser at once and to the disk a moment later.
 *
 * facts     by name: "device" (key and network), "chain" (end of this device's chain), "place" (where the person is),
 *           "who", "level round/well" (the level found there)
 * packs     by round id: everything needed at the wells of a round
 * drafts    by "round/well": a visit being written
 * outbox    by entry id: what was closed, with what became of it
 * photos    by sha256: pictures taken here that the office has not got yet
 * pictures  by sha256: pictures that came with packs
 */

const STORES = { facts: "name", packs: "id", drafts: "key", outbox: "id", photos: "sha256", pictures: "sha256" };
const TO_DISK_MS = 1000;

/** @type {Promise<IDBDatabase>} */
const opened = new Promise((done, failed) => {
  const request = indexedDB.open("tapedown-sheet", 1);
  request.onupgradeneeded = () => {
    for (const [name, keyPath] of Object.entries(STORES)) request.result.createObjectStore(name, { keyPath });
  };
  request.onsuccess = () => done(request.result);
  request.onerror = () => failed(request.error);
});

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
export function answer(request) {
  return new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
}

/**
 * Work in one transaction: all of it is kept, or nothing. `work` may only wait for answers of its own stores.
 * @template T
 * @param {string[]} names
 * @param {(store: (name: string) => IDBObjectStore) => Promise<T>} work
 * @param {"strict" | "relaxed"} [durability]
 * @returns {Promise<T>}
 */
export async function together(names, work, durability = "strict") {
  const transaction = (await opened).transaction(names, "readwrite", { durability });
  const kept = new Promise((done, failed) => {
    transaction.oncomplete = done;
    transaction.onabort = () => failed(transaction.error ?? new Error("the phone did not keep it"));
  });
  kept.catch(() => undefined);
  try {
    const result = await work((name) => transaction.objectStore(name));
    transaction.commit(); // goes on although the page may be killed now
    await kept;
    return result;
  } catch (error) {
    try {
      transaction.abort();
    } catch {
      // it had ended already
    }
    throw error;
  }
}

/** @param {string} name @param {string} key @returns {Promise<any>} */
export async function get(name, key) {
  return answer((await opened).transaction(name).objectStore(name).get(key));
}

/** @param {string} name @returns {Promise<any[]>} */
export async function all(name) {
  return answer((await opened).transaction(name).objectStore(name).getAll());
}

/** @param {string} name @param {any} row */
export async function put(name, row) {
  await together([name], (store) => answer(store(name).put(row)));
}

/** @param {string} name @param {string} key */
export async function remove(name, key) {
  await together([name], (store) => answer(store(name).delete(key)));
}

/** Keeps one draft: every change at once and in order; nothing more once the visit is closed. */
export class DraftKeeper {
  /** @param {any} draft @param {(error: Error | null) => void} told hears of every write that failed or succeeded */
  constructor(draft, told) {
    this.draft = draft;
    this.told = told;
    this.ended = false;
    this.timer = 0;
    this.last = Promise.resolve();
  }

  /** Keep the draft as it is now. Writes to one store happen in the order they were asked for. */
  save() {
    if (this.ended) return;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.#write("strict"), TO_DISK_MS);
    this.last = this.#write("relaxed");
  }

  /** @param {"strict" | "relaxed"} durability */
  async #write(durability) {
    try {
      await together(["drafts"], async (store) => store("drafts").put(this.draft), durability);
      this.told(null);
    } catch (error) {
      this.told(/** @type {Error} */ (error));
    }
  }

  /** Wait for what is being written, then write no more. */
  async end() {
    clearTimeout(this.timer);
    this.ended = true;
    await this.last;
  }
}

/** Everything written here and not yet safe elsewhere, for a file in an emergency. The key to the office stays out. */
export async function copyOfEverything() {
  const [drafts, outbox, photos, device] = [
    await all("drafts"),
    await all("outbox"),
    await all("photos"),
    await get("facts", "device"),
  ];
  const pictures = photos.map(({ bytes, ...rest }) => ({ ...rest, base64: base64(bytes) }));
  return { made_at: new Date().toISOString(), device: device?.device ?? "", drafts, outbox, photos: pictures };
}

/** @param {ArrayBuffer} bytes */
function base64(bytes) {
  let text = "";
  const all = new Uint8Array(bytes);
  for (let at = 0; at < all.length; at += 32768) text += String.fromCharCode(...all.subarray(at, at + 32768));
  return btoa(text);
}
