// @ts-check
/* Takes on their way from the outbox to the studio, one after another, again and again until the
   studio has answered for each. */

/** @typedef {import("./outbox.js").Kept} Kept */
/** @typedef {import("./outbox.js").Outbox} Outbox */

/** What comes of sending: the studio's verdict as a piece of a page, a refusal in its own words, or
 *  nothing yet because it can't be reached.
 *  @typedef {{state: "taken", verdict: string, isHeard: boolean} | {state: "refused", said: string} | {state: "waiting", said: string}} Outcome */

const PATIENCE_MS = [2_000, 5_000, 15_000, 60_000];

export class Sender {
  /** @param {Outbox} outbox @param {(take: Kept, outcome: Outcome) => void} tell */
  constructor(outbox, tell) {
    this.outbox = outbox;
    this.tell = tell;
    this.tries = 0;
    this.timer = 0;
    /** How many pieces of each take the studio has. @type {Map<string, number>} */ this.sent = new Map();
    /** The sending of each take's pieces, one after another. @type {Map<string, Promise<void>>} */ this.going = new Map();
    window.addEventListener("online", () => this.soon(0));
  }

  /** Try everything that waits, after a while. @param {number} [wait_ms] */
  soon(wait_ms = PATIENCE_MS[Math.min(this.tries++, PATIENCE_MS.length - 1)] ?? 0) {
    window.clearTimeout(this.timer);
    this.timer = window.setTimeout(() => void this.all(), wait_ms);
  }

  /** Send what is whole. Of two pages of one browser only one sends at a time. */
  async all() {
    await inTurn(async () => {
      for (const take of await this.outbox.all()) {
        if (take.told === null) continue;
        const outcome = await this.#send(take.key);
        if (outcome?.state === "waiting") return this.soon();
      }
      this.tries = 0;
    });
  }

  /** Send one take to its end, and the others later where it fails. @param {string} key */
  async one(key) {
    const outcome = await inTurn(() => this.#send(key));
    if (outcome?.state === "waiting") this.soon();
  }

  /** @param {string} key */
  async #send(key) {
    const take = await this.outbox.take(key);
    if (!take) return null;
    /** @type {Outcome} */ let outcome;
    try {
      outcome = take.kind === "file" ? await this.#file(take) : await this.#pieces(take);
    } catch {
      outcome = { state: "waiting", said: "The studio can't be reached." };
    }
    if (outcome.state === "taken") { this.going.delete(key); await this.outbox.drop(key); }
    else await this.outbox.put({ ...take, said: outcome.said });
    this.tell(take, outcome);
    return outcome;
  }

  /** Send the pieces of a take that is still being played, each once; what fails now is sent later.
   * @param {Kept} take @returns {Promise<void>} */
  ahead(take) {
    const next = (this.going.get(take.key) ?? Promise.resolve()).then(() => this.#ahead(take));
    this.going.set(take.key, next);
    return next;
  }

  /** @param {Kept} take */
  async #ahead(take) {
    try {
      for (let n = this.sent.get(take.key) ?? 0; n < take.pieces; n++) if (!(await this.#piece(take, n))) return;
    } catch { /* the network is gone: all pieces are kept, and asked for again */ }
  }

  /** @param {Kept} take @param {number} number @returns {Promise<boolean>} */
  async #piece(take, number) {
    const sound = await this.outbox.piece(take.key, number);
    if (!sound) return false;
    const query = played(take, { rate: String(take.rate) });
    const answer = await fetch(`${take.part.base}/takes/${take.key}/pieces/${number}?${query}`, { method: "PUT", body: sound, headers: { "x-fragment": "1", "content-type": "application/octet-stream" } });
    if (answer.ok) this.sent.set(take.key, Math.max(number + 1, this.sent.get(take.key) ?? 0));
    return answer.ok;
  }

  /** @param {Kept} take @returns {Promise<Outcome>} */
  async #pieces(take) {
    await this.ahead(take);
    for (let turn = 0; turn < 2; turn++) {
      const body = JSON.stringify({ ...take.told, pieces: take.pieces, rate: take.rate, tempo: take.part.tempo, key: take.part.in });
      const answer = await fetch(`${take.part.base}/takes/${take.key}/whole`, { method: "POST", body, headers: { "x-fragment": "1", "content-type": "application/json" } });
      if (answer.status !== 409) return outcome(take, answer);
      for (const number of (await answer.json()).missing) await this.#piece(take, number);
    }
    return { state: "waiting", said: "The studio lost a part of it." };
  }

  /** @param {Kept} take @returns {Promise<Outcome>} */
  async #file(take) {
    const sound = await this.outbox.piece(take.key, 0);
    const query = played(take, { key: take.key });
    const answer = await fetch(`${take.part.base}/takes?${query}`, { method: "POST", body: sound ?? null, headers: { "x-fragment": "1", "content-type": "application/octet-stream" } });
    return outcome(take, answer);
  }
}

/** What was played, beside what else an address says.
 * @param {Kept} take @param {Record<string, string>} beside */
function played(take, beside) {
  const query = new URLSearchParams(beside);
  if (take.part.tempo !== null) query.set("tempo", String(take.part.tempo));
  if (take.part.in !== null) query.set("in", take.part.in);
  return query;
}

/** PITFALL: a page from another machine without a certificate has no locks.
 * @template T @param {() => Promise<T>} work @returns {Promise<T>} */
const inTurn = async (work) => (navigator.locks ? await navigator.locks.request("sending", work) : work());

/** PITFALL: a page that says "log in" is an answer too; only a verdict on this very take counts.
 * @param {Kept} take @param {Response} answer @returns {Promise<Outcome>} */
async function outcome(take, answer) {
  const said = await answer.text();
  if (answer.ok && said.includes(`data-key="${take.key}"`)) return { state: "taken", verdict: said, isHeard: answer.status !== 202 };
  if (answer.status >= 500 || answer.status === 429 || answer.status === 408) return { state: "waiting", said: `The studio answered ${answer.status}.` };
  return { state: "refused", said: answer.ok || answer.status === 401 ? "The studio asks you to come in again: open your link, or log in." : words(said) };
}

/** The words of a piece of a page. @param {string} html */
export const words = (html) => new DOMParser().parseFromString(html, "text/html").body.textContent?.replace(/\s+/g, " ").trim() ?? "";
