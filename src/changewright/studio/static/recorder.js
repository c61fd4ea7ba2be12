// @ts-check
/* The microphone, unprocessed, on the band's own clock. */

const ASKED = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: { ideal: 1 } };
const RING = 2 ** 20; // frames: more than twenty seconds, should the page be held up
const READ_MS = 100;

/** A stretch of the context's frames that is wanted whole, such as the count-in.
 *  @typedef {{from: number, sound: Float32Array}} Window */

export class Recorder {
  /** @param {AudioContext} context */
  constructor(context) {
    this.context = context;
    this.ring = new Float32Array(new SharedArrayBuffer(4 * RING));
    this.count = new Int32Array(new SharedArrayBuffer(12));
    /** @type {MediaStream | null} */ this.stream = null;
    /** @type {AudioWorkletNode | null} */ this.tap = null;
    /** @type {MediaStreamAudioSourceNode | null} */ this.source = null;
    /** @type {Window[]} */ this.windows = [];
    /** @type {((piece: Int16Array, peak: number) => void) | null} */ this.taker = null;
    this.read = 0;
    this.next = 0;
    this.from = 0;
    this.peak = 0;
    this.piece = new Int16Array(0);
    this.timer = 0;
    this.before = 0;
  }

  /** What a browser must have to record: a page of this machine's own or over https, kept apart
   *  from other sites so that memory can be shared with the audio. */
  static get isPossible() {
    return window.isSecureContext && window.crossOriginIsolated && Boolean(navigator.mediaDevices);
  }

  /** Open the microphone; it should be open for a second before it matters.
   * @returns {Promise<string[]>} what the browser changes in the sound although asked not to */
  async open() {
    const stream = await navigator.mediaDevices.getUserMedia({ audio: ASKED });
    this.stream = stream;
    await this.context.audioWorklet.addModule("/static/recorder-worklet.js");
    this.count.set([-1, 0, 0]);
    this.source = this.context.createMediaStreamSource(stream);
    const shared = { ring: this.ring.buffer, count: this.count.buffer };
    this.tap = new AudioWorkletNode(this.context, "tap", { numberOfInputs: 1, numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit", processorOptions: shared });
    this.source.connect(this.tap);
    this.read = 0;
    this.timer = window.setInterval(() => this.drain(), READ_MS);
    const got = stream.getAudioTracks()[0]?.getSettings() ?? {};
    return ["echoCancellation", "noiseSuppression", "autoGainControl"].filter((one) => /** @type {any} */ (got)[one] === true);
  }

  /** Which way the sound comes in: another microphone or other headphones are another latency. */
  async route() {
    const input = this.stream?.getAudioTracks()[0]?.getSettings().deviceId ?? "";
    const all = await navigator.mediaDevices.enumerateDevices();
    const output = all.find((one) => one.kind === "audiooutput")?.label ?? "";
    return [input, output, this.context.sampleRate].join("|");
  }

  /** Keep a stretch of the context's time whole, beside the pieces.
   * @param {number} from_s @param {number} length_s @returns {Window} */
  want(from_s, length_s) {
    const rate = this.context.sampleRate;
    const window = { from: Math.round(from_s * rate), sound: new Float32Array(Math.round(length_s * rate)) };
    this.windows.push(window);
    return window;
  }

  /** Give out what comes from an instant of the context on, in pieces of a second.
   * @param {number} from_s @param {(piece: Int16Array, peak: number) => void} taker */
  start(from_s, taker) {
    this.taker = taker;
    this.from = this.next = Math.round(from_s * this.context.sampleRate);
    this.piece = new Int16Array(this.context.sampleRate);
    this.peak = 0;
    this.before = Atomics.load(this.count, 2);
  }

  /** Give out the last piece, shorter than the others, and no more. */
  stop() {
    this.drain();
    const rest = (this.next - this.from) % this.piece.length;
    if (this.taker && rest) this.taker(this.piece.slice(0, rest), this.peak);
    this.taker = null;
    this.windows = [];
  }

  /** How many frames never came since the start, although the clock went on. */
  get lost() {
    return Atomics.load(this.count, 2) - this.before;
  }

  /** Read what has come into the ring since the last time. */
  drain() {
    const first = Atomics.load(this.count, 0);
    const written = Atomics.load(this.count, 1);
    if (first < 0) return;
    if (written - this.read > RING) this.read = written - RING;
    for (; this.read < written; this.read++) this.#frame(first + this.read, this.ring[this.read % RING] ?? 0);
  }

  /** @param {number} at @param {number} value */
  #frame(at, value) {
    for (const one of this.windows) {
      const place = at - one.from;
      if (place >= 0 && place < one.sound.length) one.sound[place] = value;
    }
    if (!this.taker || at < this.next) return;
    while (this.next <= at) this.#put(this.next === at ? value : 0); // what was not taken is silence
  }

  /** @param {number} value */
  #put(value) {
    const place = (this.next - this.from) % this.piece.length;
    this.peak = Math.max(this.peak, Math.abs(value));
    this.piece[place] = Math.round(Math.max(-1, Math.min(1, value)) * 32767);
    this.next++;
    if (place + 1 === this.piece.length) {
      this.taker?.(this.piece, this.peak);
      this.piece = new Int16Array(this.piece.length);
      this.peak = 0;
    }
  }

  /** Let the microphone go. */
  close() {
    window.clearInterval(this.timer);
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    this.source?.disconnect();
    this.tap?.disconnect();
    this.stream = this.source = this.tap = null;
    this.taker = null;
    this.windows = [];
  }
}

/** One channel as a WAV file of 16 bits. Source: the RIFF/WAVE format, PCM.
 * @param {Int16Array[]} pieces @param {number} rate */
export function wav(pieces, rate) {
  const frames = pieces.reduce((sum, one) => sum + one.length, 0);
  const head = new DataView(new ArrayBuffer(44));
  const word = (/** @type {number} */ at, /** @type {string} */ text) => { for (let i = 0; i < text.length; i++) head.setUint8(at + i, text.charCodeAt(i)); };
  word(0, "RIFF"); head.setUint32(4, 36 + 2 * frames, true); word(8, "WAVE");
  word(12, "fmt "); head.setUint32(16, 16, true); head.setUint16(20, 1, true); head.setUint16(22, 1, true);
  head.setUint32(24, rate, true); head.setUint32(28, 2 * rate, true); head.setUint16(32, 2, true); head.setUint16(34, 16, true);
  word(36, "data"); head.setUint32(40, 2 * frames, true);
  return new Blob([head, .../** @type {BlobPart[]} */ (pieces)], { type: "audio/wav" });
}

/** Samples from -1 to 1 as whole numbers.
 * @param {Float32Array} samples */
export function whole(samples) {
  const out = new Int16Array(samples.length);
  for (let i = 0; i < samples.length; i++) out[i] = Math.round(Math.max(-1, Math.min(1, samples[i] ?? 0)) * 32767);
  return out;
}
