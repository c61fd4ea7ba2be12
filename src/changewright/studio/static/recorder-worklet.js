// @ts-check
/* Hands every block of samples on, with the frame at which it was taken. */

// @ts-ignore the worklet's own globals
class Tap extends AudioWorkletProcessor {
  /** @param {Float32Array[][]} inputs */
  process(inputs) {
    const channel = inputs[0]?.[0];
    // @ts-ignore the worklet's own globals
    if (channel) this.port.postMessage({ frame: currentFrame, samples: channel.slice() });
    return true;
  }
}

// @ts-ignore the worklet's own globals
registerProcessor("tap", Tap);
