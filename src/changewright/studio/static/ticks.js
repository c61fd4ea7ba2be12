// @ts-check
/* Short chirps by which a recording tells how late it is: played at known instants, and found in
   what the microphone heard. */

const CHIRP_S = 0.01;
const LOW_HZ = 1000;
const HIGH_HZ = 8000;
const LEVEL = 0.25;
/** The longest round trip that is looked for, in seconds. */
export const LATEST_S = 0.6;
const NEAR_S = 0.0005;
const CLEAR = 6;

/** Where ticks were found: how late in seconds, how far they lie apart (the median distance from
 *  their median), and how many agree.
 *  @typedef {{lag_s: number, spread_s: number, agree: number}} Found */

/** A chirp that rises from 1 to 8 kHz in 10 ms, under half a sine.
 * @param {number} rate */
export function chirp(rate) {
  const sound = new Float32Array(Math.round(CHIRP_S * rate));
  for (let i = 0; i < sound.length; i++) {
    const at = i / rate;
    const turns = LOW_HZ * at + ((HIGH_HZ - LOW_HZ) * at * at) / (2 * CHIRP_S);
    sound[i] = LEVEL * Math.sin(Math.PI * (i / sound.length)) * Math.sin(2 * Math.PI * turns);
  }
  return sound;
}

/** Play ticks at instants of the context.
 * @param {AudioContext} context @param {number[]} at_s
 * @returns {AudioBufferSourceNode[]} to be stopped, should it come to that */
export function tick(context, at_s) {
  const sound = chirp(context.sampleRate);
  const buffer = context.createBuffer(1, sound.length, context.sampleRate);
  buffer.copyToChannel(sound, 0);
  return at_s.map((at) => {
    const source = context.createBufferSource();
    source.buffer = buffer;
    source.connect(context.destination);
    source.start(at);
    return source;
  });
}

/** Find ticks in a recording; null where they can't be heard clearly.
 *
 * All ticks are late by the same time, so their traces are laid on one another first; each is then
 * looked for close to there, and most must agree.
 * @param {Float32Array} sound @param {number} rate
 * @param {number[]} at_s where the ticks were played, in seconds from the recording's first sample
 * @returns {Found | null} */
export function find(sound, rate, at_s) {
  const trace = matched(sound, chirp(rate));
  const lags = Math.round(LATEST_S * rate);
  const sum = new Float32Array(lags);
  for (const at of at_s) {
    const start = Math.round(at * rate);
    for (let lag = 0; lag < lags; lag++) sum[lag] = (sum[lag] ?? 0) + Math.abs(trace[start + lag] ?? 0);
  }
  const together = highest(sum, 0, lags);
  const level = rootMeanSquare(sum);
  if (!level || (sum[together] ?? 0) < CLEAR * level) return null;
  const near = Math.round(4 * NEAR_S * rate);
  const found = at_s.map((at) => {
    const start = Math.round(at * rate);
    const best = highest(trace, start + together - near, start + together + near + 1);
    return (best + between(trace, best)) / rate - at;
  });
  const lag_s = median(found);
  const apart = found.map((one) => Math.abs(one - lag_s));
  const agree = apart.filter((one) => one <= NEAR_S).length;
  return agree * 3 >= at_s.length * 2 ? { lag_s, spread_s: median(apart), agree } : null;
}

/** @param {number[]} values */
function median(values) {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle] ?? 0 : ((sorted[middle - 1] ?? 0) + (sorted[middle] ?? 0)) / 2;
}

/** @param {Float32Array} row */
const rootMeanSquare = (row) => Math.sqrt(row.reduce((sum, one) => sum + one * one, 0) / Math.max(1, row.length));

/** Where a row is largest in size, from a place up to another.
 * @param {Float32Array} row @param {number} from @param {number} to */
function highest(row, from, to) {
  let best = Math.max(0, from);
  for (let i = best; i < Math.min(row.length, to); i++) if (Math.abs(row[i] ?? 0) > Math.abs(row[best] ?? 0)) best = i;
  return best;
}

/** Where the top lies between samples: of a parabola through three.
 * @param {Float32Array} row @param {number} at */
function between(row, at) {
  const [a, b, c] = [at - 1, at, at + 1].map((i) => Math.abs(row[i] ?? 0));
  const bend = (a ?? 0) - 2 * (b ?? 0) + (c ?? 0);
  return bend < 0 ? (((a ?? 0) - (c ?? 0)) / (2 * bend)) : 0;
}

/** The correlation of a sound with a short one, for each place where it may begin. Only the short
 *  one's own band counts, each frequency by the square root of its size, so that a loud long note
 *  weighs less.
 * @param {Float32Array} sound @param {Float32Array} short */
function matched(sound, short) {
  const size = 2 ** Math.ceil(Math.log2(sound.length + short.length));
  const a = { re: new Float64Array(size), im: new Float64Array(size) };
  const b = { re: new Float64Array(size), im: new Float64Array(size) };
  a.re.set(sound);
  b.re.set(short);
  turn(a.re, a.im);
  turn(b.re, b.im);
  for (let k = 0; k < size; k++) {
    const [ar, ai, br, bi] = [a.re[k] ?? 0, a.im[k] ?? 0, b.re[k] ?? 0, b.im[k] ?? 0];
    const weight = 1 / Math.sqrt(Math.hypot(ar, ai) + 1e-9);
    // The conjugate, so that the way back is the same turn.
    a.re[k] = (ar * br + ai * bi) * weight;
    a.im[k] = -(ai * br - ar * bi) * weight;
  }
  turn(a.re, a.im);
  return Float32Array.from(a.re.subarray(0, sound.length));
}

/** The fast Fourier transform in place; the length is a power of two. Source: Cooley, Tukey, 1965.
 * @param {Float64Array} re @param {Float64Array} im */
function turn(re, im) {
  const size = re.length;
  for (let i = 1, j = 0; i < size; i++) {
    let bit = size >> 1;
    for (; j & bit; bit >>= 1) j ^= bit;
    j ^= bit;
    if (i < j) {
      [re[i], re[j]] = [re[j] ?? 0, re[i] ?? 0];
      [im[i], im[j]] = [im[j] ?? 0, im[i] ?? 0];
    }
  }
  for (let half = 1; half < size; half *= 2) {
    const wr = new Float64Array(half), wi = new Float64Array(half);
    for (let k = 0; k < half; k++) { wr[k] = Math.cos((Math.PI * k) / half); wi[k] = -Math.sin((Math.PI * k) / half); }
    for (let start = 0; start < size; start += 2 * half) {
      for (let k = 0; k < half; k++) {
        const [p, q] = [start + k, start + k + half];
        const [xr, xi] = [re[q] ?? 0, im[q] ?? 0];
        const [yr, yi] = [xr * (wr[k] ?? 0) - xi * (wi[k] ?? 0), xr * (wi[k] ?? 0) + xi * (wr[k] ?? 0)];
        re[q] = (re[p] ?? 0) - yr; im[q] = (im[p] ?? 0) - yi;
        re[p] = (re[p] ?? 0) + yr; im[p] = (im[p] ?? 0) + yi;
      }
    }
  }
}
