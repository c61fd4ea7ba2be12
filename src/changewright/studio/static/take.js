// @ts-check
/* One take: from the count-in to the outbox, with what tells how late it was recorded. */
import { measured } from "./calibration.js";
import { fresh } from "./outbox.js";
import { Recorder } from "./recorder.js";
import { LATEST_S, find, tick } from "./ticks.js";

/** @typedef {import("./outbox.js").Kept} Kept */
/** @typedef {import("./outbox.js").Telling} Telling */
/** @typedef {import("./recorder.js").Window} Window */

/** How long is recorded after the last bar, in seconds: it rings, then four ticks tell the clock. */
export const TAIL_S = 1.6;
const TAIL_TICKS_S = [0.35, 0.48, 0.66, 0.79];
/** By how much the clocks may part in a take before it is called a slip, in seconds. */
const SLIP_S = 0.002;
const WARM_MS = 1000;
const QUIET = 0.004;
const FULL = 0.999;

export class Take {
  /** @param {AudioContext} context @param {import("./outbox.js").Outbox} outbox
   *  @param {import("./sender.js").Sender} sender @param {(words: string) => void} say */
  constructor(context, outbox, sender, say) {
    this.context = context;
    this.outbox = outbox;
    this.sender = sender;
    this.say = say;
    this.recorder = new Recorder(context);
    /** @type {Kept | null} */ this.kept = null;
    /** @type {Promise<void>} */ this.work = Promise.resolve();
    /** @type {AudioBufferSourceNode[]} */ this.ticks = [];
    /** @type {{tail: Window} | null} */ this.heard = null;
    /** What the count-in's ticks tell; looked for while the player plays, so that it is known at the
     *  stop. @type {Promise<ReturnType<typeof find>>} */ this.first = Promise.resolve(null);
    this.loudest = 0;
    this.release = () => {};
    this.look = () => {};
  }

  /** Open the microphone, a second before it matters; says what the browser does to the sound. */
  async open() {
    const changed = await this.recorder.open();
    await new Promise((done) => setTimeout(done, WARM_MS));
    return changed;
  }

  /** Keep what comes from the count-in's first frame on. The beats of the count-in and the end are
   *  marked by ticks, which the band's own loudspeaker carries to the microphone.
   * @param {import("./outbox.js").Part} part
   * @param {number} t0 @param {number} lead_s @param {number} beat_s @param {number} end the context's time of the last bar line */
  start(part, t0, lead_s, beat_s, end) {
    const beats = Array.from({ length: Math.round(lead_s / beat_s) }, (_, n) => n * beat_s);
    const head = this.recorder.want(t0, lead_s - beat_s + LATEST_S + 0.05);
    const tail = this.recorder.want(end, TAIL_S - 0.05);
    this.heard = { tail };
    this.ticks = tick(this.context, [...beats.map((at) => t0 + at), ...TAIL_TICKS_S.map((at) => end + at)]);
    this.kept = { key: fresh(), part, made: Date.now(), kind: "pieces", rate: this.context.sampleRate, pieces: 0, told: null, said: "" };
    this.#hold(this.kept.key);
    const rate = this.context.sampleRate;
    const whole = Math.ceil(head.sound.length / rate) + 1; // pieces, with which the head has come
    this.first = new Promise((done) => { this.look = () => done(find(head.sound, rate, beats)); });
    this.recorder.start(t0, (piece, peak) => {
      this.#piece(piece, peak);
      if (this.kept?.pieces === whole) setTimeout(this.look);
    });
  }

  /** While this page lives, no other calls the take an orphan. @param {string} key */
  #hold(key) {
    void navigator.locks.request(`take ${key}`, () => new Promise((done) => { this.release = () => done(null); }));
  }

  /** @param {Int16Array} piece @param {number} peak */
  #piece(piece, peak) {
    const kept = /** @type {Kept} */ (this.kept);
    const number = kept.pieces++;
    this.loudest = Math.max(this.loudest, peak);
    if (number === 3 && this.loudest < QUIET) this.say("The microphone hears next to nothing. Is it switched on?");
    if (peak >= FULL) this.say("That was louder than the microphone can take. Step back a little.");
    const sound = /** @type {ArrayBuffer} */ (piece.buffer);
    this.work = this.work.then(() => this.outbox.add({ ...kept, pieces: number + 1 }, number, sound));
    void this.work.then(() => this.sender.ahead({ ...kept, pieces: number + 1 }));
  }

  /** No more is played; the take is whole and lies in the outbox. @returns {Promise<string>} its key */
  async finish() {
    const kept = /** @type {Kept} */ (this.kept);
    const route = this.recorder.route();
    this.recorder.stop();
    const lost = this.recorder.lost;
    this.close();
    await this.work; // the last piece is on its way meanwhile
    this.look(); // a take that was over before its count-in was looked at
    const first = await this.first;
    kept.told = { ...this.#clock(await route, first), lost };
    await this.outbox.put(kept);
    this.release();
    return kept.key;
  }

  /** How late the take is: by the ticks of its own count-in where they can be heard, or else as was
   *  measured on this route. The ticks at the end tell whether the clocks parted meanwhile.
   * @param {string} route @param {ReturnType<typeof find>} first
   * @returns {Pick<Telling, "skip" | "anchor" | "slip_s">} */
  #clock(route, first) {
    const { tail } = /** @type {NonNullable<typeof this.heard>} */ (this.heard);
    const rate = this.context.sampleRate;
    const last = find(tail.sound, rate, TAIL_TICKS_S);
    const stored = measured(route);
    const lag = first?.lag_s ?? stored?.lag_s ?? 0;
    const parted = first && last ? last.lag_s - first.lag_s : null;
    return {
      skip: Math.max(0, Math.round(lag * rate)),
      anchor: first ? "count-in" : stored ? "calibration" : "none",
      slip_s: parted === null ? null : Math.abs(parted) < SLIP_S ? 0 : parted,
    };
  }

  /** Let the microphone go, and the ticks that have not sounded yet. */
  close() {
    for (const one of this.ticks) one.disconnect();
    this.recorder.close();
  }
}
