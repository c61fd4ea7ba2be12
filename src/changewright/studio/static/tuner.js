// @ts-check
/* The pitch that is being played, live, on this device alone. */

const NAMES = ["C", "D♭", "D", "E♭", "E", "F", "G♭", "G", "A♭", "A", "B♭", "B"];
const SIZE = 4096;
const EVERY_MS = 90;
const LOWEST_HZ = 40;
const HIGHEST_HZ = 2200;
const QUIET = 0.004;
const CLEAR = 0.85;

/** The fundamental of a stretch of sound in hertz; null where there is none that is clear.
 *
 * The first high peak of the normalised square difference. Source: P. McLeod, G. Wyvill, 2005.
 * @param {Float32Array} sound @param {number} rate */
export function pitch(sound, rate) {
  const shortest = Math.floor(rate / HIGHEST_HZ);
  const longest = Math.min(Math.ceil(rate / LOWEST_HZ), sound.length >> 1);
  const width = sound.length - longest;
  if (Math.sqrt(sound.reduce((sum, one) => sum + one * one, 0) / sound.length) < QUIET) return null;
  const clear = new Float32Array(longest + 1);
  for (let lag = 1; lag <= longest; lag++) {
    let product = 0, energy = 0;
    for (let i = 0; i < width; i++) {
      const [a, b] = [sound[i] ?? 0, sound[i + lag] ?? 0];
      product += a * b;
      energy += a * a + b * b;
    }
    clear[lag] = energy ? (2 * product) / energy : 0;
  }
  let lag = 1;
  while (lag < longest && (clear[lag] ?? 0) > 0) lag++; // the peak at no lag at all
  lag = Math.max(lag, shortest);
  const top = clear.subarray(lag).reduce((most, one) => Math.max(most, one), 0);
  if (top < CLEAR) return null;
  while (lag < longest && !((clear[lag] ?? 0) >= 0.93 * top && (clear[lag] ?? 0) >= (clear[lag + 1] ?? 0))) lag++;
  const [a, b, c] = [clear[lag - 1] ?? 0, clear[lag] ?? 0, clear[lag + 1] ?? 0];
  const bend = a - 2 * b + c;
  return rate / (lag + (bend < 0 ? (a - c) / (2 * bend) : 0));
}

/** A pitch in the player's own notes. @param {number} hertz @param {number} written semitones from
 *  what sounds to what is written */
export function named(hertz, written) {
  const midi = 69 + 12 * Math.log2(hertz / 440) + written;
  const near = Math.round(midi);
  const cents = Math.round(100 * (midi - near));
  const name = `${NAMES[((near % 12) + 12) % 12]}${Math.floor(near / 12) - 1}`;
  return { name, cents, words: cents === 0 ? name : `${name}, ${Math.abs(cents)} cents ${cents > 0 ? "high" : "low"}` };
}

export class Tuner {
  /** @param {AudioContext} context @param {number} written
   *  @param {(heard: {name: string, cents: number, words: string} | null) => void} show */
  constructor(context, written, show) {
    this.context = context;
    this.written = written;
    this.show = show;
    this.sound = new Float32Array(SIZE);
    /** @type {MediaStream | null} */ this.stream = null;
    this.timer = 0;
  }

  async start() {
    this.stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false } });
    const seen = new AnalyserNode(this.context, { fftSize: SIZE });
    this.context.createMediaStreamSource(this.stream).connect(seen);
    this.timer = window.setInterval(() => {
      seen.getFloatTimeDomainData(this.sound);
      const hertz = pitch(this.sound, this.context.sampleRate);
      this.show(hertz === null ? null : named(hertz, this.written));
    }, EVERY_MS);
  }

  stop() {
    window.clearInterval(this.timer);
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    this.stream = null;
  }
}
