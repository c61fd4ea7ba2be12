// @ts-check
/* What was played and has not been taken by the studio yet, in this browser's own store. A take goes
   in piece by piece while it is played, and leaves when the studio has answered for it. */

/** What was played: the lesson's own tempo and key, or others.
 *  @typedef {{base: string, title: string, tempo: number | null, in: string | null}} Part */
/** How the take lies on the band's clock; see the studio's side of it.
 *  @typedef {{skip: number, anchor: "count-in" | "calibration" | "none", slip_s: number | null, lost: number}} Telling */
/** A take on its way. `pieces` are those kept so far; `told` is null while it is still being played.
 *  @typedef {{key: string, part: Part, made: number, kind: "pieces" | "file", rate: number,
 *    pieces: number, told: Telling | null, said: string}} Kept */

const NAME = "stand";

/** @returns {Promise<IDBDatabase>} */
function open() {
  return new Promise((done, fail) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("takes", { keyPath: "key" });
      asked.result.createObjectStore("pieces");
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });
}

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
const answered = (request) => new Promise((done, fail) => { request.onsuccess = () => done(request.result); request.onerror = () => fail(request.error); });

/** @param {IDBTransaction} work @returns {Promise<void>} */
const finished = (work) => new Promise((done, fail) => { work.oncomplete = () => done(); work.onabort = work.onerror = () => fail(work.error); });

export class Outbox {
  /** @type {Promise<IDBDatabase> | null} */ #open = null;

  #base() {
    this.#open ??= open();
    return this.#open;
  }

  /** @returns {Promise<Kept[]>} the takes that are here, the oldest first */
  async all() {
    const work = (await this.#base()).transaction("takes");
    /** @type {Kept[]} */ const found = await answered(work.objectStore("takes").getAll());
    return found.sort((a, b) => a.made - b.made);
  }

  /** @param {string} key @returns {Promise<Kept | undefined>} */
  async take(key) {
    return answered((await this.#base()).transaction("takes").objectStore("takes").get(key));
  }

  /** @param {Kept} take */
  async put(take) {
    const work = (await this.#base()).transaction("takes", "readwrite");
    work.objectStore("takes").put(take);
    await finished(work);
  }

  /** Keep a piece, and with it how many there are.
   * @param {Kept} take @param {number} number @param {ArrayBuffer} sound */
  async add(take, number, sound) {
    const work = (await this.#base()).transaction(["takes", "pieces"], "readwrite");
    work.objectStore("pieces").put(sound, [take.key, number]);
    work.objectStore("takes").put(take);
    await finished(work);
  }

  /** @param {string} key @param {number} number @returns {Promise<ArrayBuffer | undefined>} */
  async piece(key, number) {
    return answered((await this.#base()).transaction("pieces").objectStore("pieces").get([key, number]));
  }

  /** @param {string} key */
  async drop(key) {
    const work = (await this.#base()).transaction(["takes", "pieces"], "readwrite");
    work.objectStore("takes").delete(key);
    work.objectStore("pieces").delete(IDBKeyRange.bound([key], [key, []]));
    await finished(work);
  }
}

/** A key of a take: sent twice, it is kept once. */
export function fresh() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
}
