// @ts-check
/* How late this device hears itself: measured once with ticks, and kept by this browser for the
   microphone and the headphones at hand. */
import { Recorder } from "./recorder.js";
import { LATEST_S, find, tick } from "./ticks.js";

const NAME = "latency";
const BEFORE_S = 0.3;
/** Eight ticks with unequal gaps, so that none is taken for another. */
const TICKS_S = [0, 0.15, 0.34, 0.51, 0.73, 0.87, 1.1, 1.26];

/** @typedef {{lag_s: number, spread_s: number, made: number}} Measured */

/** @returns {Record<string, Measured>} */
function kept() {
  try { return JSON.parse(localStorage.getItem(NAME) ?? "{}"); } catch { return {}; }
}

/** What was measured on a route, if it was. @param {string} route @returns {Measured | null} */
export const measured = (route) => kept()[route] ?? null;

/** Whether anything was measured on this device. */
export const isMeasured = () => Object.keys(kept()).length > 0;

/** Play the ticks, listen, and keep what was found. The microphone is let go afterwards.
 * @param {AudioContext} context
 * @returns {Promise<Measured | null>} null where the ticks were not heard */
export async function measure(context) {
  const recorder = new Recorder(context);
  try {
    await recorder.open();
    await pause(1);
    const start = context.currentTime + BEFORE_S;
    tick(context, TICKS_S.map((at) => start + at));
    const length = (TICKS_S[TICKS_S.length - 1] ?? 0) + LATEST_S + 0.1;
    const heard = recorder.want(start, length);
    await pause(BEFORE_S + length + 0.3);
    recorder.drain();
    const found = find(heard.sound, context.sampleRate, TICKS_S);
    if (!found) return null;
    const told = { lag_s: found.lag_s, spread_s: found.spread_s, made: Date.now() };
    localStorage.setItem(NAME, JSON.stringify({ ...kept(), [await recorder.route()]: told }));
    return told;
  } finally {
    recorder.close();
  }
}

/** @param {number} seconds */
const pause = (seconds) => new Promise((done) => { setTimeout(done, 1000 * seconds); });
