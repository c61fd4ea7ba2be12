// @ts-check
/* The microphone, unprocessed, on the band's own clock. */

const ASKED = { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: { ideal: 1 } };

export class Recorder {
  /** @param {AudioContext} context */
  constructor(context) {
    this.context = context;
    /** @type {MediaStream | null} */ this.stream = null;
    /** @type {AudioWorkletNode | null} */ this.tap = null;
    /** @type {MediaStreamAudioSourceNode | null} */ this.source = null;
    /** @type {{frame: number, samples: Float32Array}[]} */ this.blocks = [];
    this.keeps = false;
  }

  /** Open the microphone; it should be open for a second before it matters.
   * @returns {Promise<string[]>} what the browser changes in the sound although asked not to */
  async open() {
    const stream = await navigator.mediaDevices.getUserMedia({ audio: ASKED });
    this.stream = stream;
    await this.context.audioWorklet.addModule("/static/recorder-worklet.js");
    this.source = this.context.createMediaStreamSource(stream);
    this.tap = new AudioWorkletNode(this.context, "tap", { numberOfInputs: 1, numberOfOutputs: 0, channelCount: 1, channelCountMode: "explicit" });
    this.tap.port.onmessage = (told) => { if (this.keeps) this.blocks.push(told.data); };
    this.source.connect(this.tap);
    const got = stream.getAudioTracks()[0]?.getSettings() ?? {};
    return ["echoCancellation", "noiseSuppression", "autoGainControl"].filter((one) => /** @type {any} */ (got)[one] === true);
  }

  /** Keep what comes from now on. */
  start() {
    this.blocks = [];
    this.keeps = true;
  }

  /** The take from an instant of the context on, as one row of samples. */
  stop(/** @type {number} */ t0) {
    this.keeps = false;
    const taken = cut(this.blocks, Math.round(t0 * this.context.sampleRate));
    this.blocks = [];
    return taken;
  }

  /** Let the microphone go. */
  close() {
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    this.source?.disconnect();
    this.tap?.disconnect();
    this.stream = this.source = this.tap = null;
  }
}

/** Samples from a frame on; what was not taken is silence, so that time stays true.
 * @param {{frame: number, samples: Float32Array}[]} blocks @param {number} first */
export function cut(blocks, first) {
  const last = blocks.reduce((end, one) => Math.max(end, one.frame + one.samples.length), first);
  const taken = new Float32Array(last - first);
  for (const { frame, samples } of blocks) {
    const skip = Math.max(0, first - frame);
    if (skip < samples.length) taken.set(samples.subarray(skip), frame + skip - first);
  }
  return taken;
}

/** One channel as a WAV file of 16 bits. Source: the RIFF/WAVE format, PCM.
 * @param {Float32Array} samples @param {number} rate */
export function wav(samples, rate) {
  const view = new DataView(new ArrayBuffer(44 + 2 * samples.length));
  const word = (/** @type {number} */ at, /** @type {string} */ text) => { for (let i = 0; i < text.length; i++) view.setUint8(at + i, text.charCodeAt(i)); };
  word(0, "RIFF"); view.setUint32(4, 36 + 2 * samples.length, true); word(8, "WAVE");
  word(12, "fmt "); view.setUint32(16, 16, true); view.setUint16(20, 1, true); view.setUint16(22, 1, true);
  view.setUint32(24, rate, true); view.setUint32(28, 2 * rate, true); view.setUint16(32, 2, true); view.setUint16(34, 16, true);
  word(36, "data"); view.setUint32(40, 2 * samples.length, true);
  for (let i = 0; i < samples.length; i++) {
    const value = Math.max(-1, Math.min(1, samples[i] ?? 0));
    view.setInt16(44 + 2 * i, Math.round(value * 32767), true);
  }
  return new Blob([view], { type: "audio/wav" });
}
