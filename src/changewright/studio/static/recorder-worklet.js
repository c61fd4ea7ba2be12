// @ts-check
/* Writes the microphone into a ring of shared memory. Nothing is allocated here, and nobody is
   waited for: this runs between the audio's deadlines. */

// @ts-ignore the worklet's own globals
class Tap extends AudioWorkletProcessor {
  /** @param {{processorOptions: {ring: SharedArrayBuffer, count: SharedArrayBuffer}}} options */
  constructor(options) {
    super();
    this.ring = new Float32Array(options.processorOptions.ring);
    /** The first frame of the context, how many frames lie in the ring since, and how many of them
     *  never came and were filled with silence. */
    this.count = new Int32Array(options.processorOptions.count);
    this.first = -1;
  }

  /** @param {Float32Array[][]} inputs */
  process(inputs) {
    const input = inputs[0];
    const channel = input ? input[0] : undefined;
    if (this.first < 0) {
      if (!channel) return true;
      // @ts-ignore the worklet's own globals
      this.first = currentFrame;
      Atomics.store(this.count, 0, this.first);
    }
    // @ts-ignore the worklet's own globals
    const now = currentFrame - this.first;
    const size = this.ring.length;
    const length = channel ? channel.length : 128;
    let written = Atomics.load(this.count, 1);
    for (; written < now; written++) { this.ring[written % size] = 0; Atomics.add(this.count, 2, 1); }
    for (let i = 0; i < length; i++) this.ring[(now + i) % size] = channel ? /** @type {number} */ (channel[i]) : 0;
    if (!channel) Atomics.add(this.count, 2, length);
    Atomics.store(this.count, 1, now + length);
    return true;
  }
}

// @ts-ignore the worklet's own globals
registerProcessor("tap", Tap);
