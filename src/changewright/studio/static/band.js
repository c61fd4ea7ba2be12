// @ts-check
/* The band: all stems on one clock, started together, looped on their frames. */

/** @typedef {{start_s: number, end_s: number}} Span */

export class Band {
  /** @param {BaseAudioContext} context @param {string[]} names
   *  @param {boolean} mono one channel a stem: half the memory, for a phone */
  constructor(context, names, mono = false) {
    this.context = context;
    this.names = names;
    this.mono = mono;
    this.from = "";
    /** @type {Map<string, AudioBuffer>} */ this.buffers = new Map();
    /** @type {Map<string, GainNode>} */ this.gains = new Map();
    /** @type {AudioBufferSourceNode[]} */ this.sounding = [];
    /** @type {{t0: number, lead: number, from: number, loop: Span | null, end: number} | null} */
    this.run = null;
    for (const name of names) {
      const gain = context.createGain();
      gain.connect(context.destination);
      this.gains.set(name, gain);
    }
  }

  /** Fetch and decode every stem, unless they are here; what plays goes on meanwhile.
   * @param {(name: string) => string} address where a stem lies */
  async load(address) {
    const from = address("");
    if (this.from === from) return;
    /** @type {Map<string, AudioBuffer>} */ const buffers = new Map();
    await Promise.all(this.names.map(async (name) => {
      const answer = await fetch(address(name));
      if (!answer.ok) throw new Error(`the ${name} could not be fetched`);
      const sound = await this.context.decodeAudioData(await answer.arrayBuffer());
      buffers.set(name, this.mono ? this.#mixed(sound) : sound);
    }));
    this.buffers = buffers;
    this.from = from;
  }

  /** @param {AudioBuffer} sound */
  #mixed(sound) {
    if (sound.numberOfChannels === 1) return sound;
    const one = this.context.createBuffer(1, sound.length, sound.sampleRate);
    const into = one.getChannelData(0);
    for (let n = 0; n < sound.numberOfChannels; n++) {
      const channel = sound.getChannelData(n);
      for (let i = 0; i < into.length; i++) into[i] = (into[i] ?? 0) + (channel[i] ?? 0) / sound.numberOfChannels;
    }
    return one;
  }

  /** @param {string} name @param {number} level 0 silent, 1 as recorded */
  level(name, level) {
    this.gains.get(name)?.gain.setTargetAtTime(level, this.context.currentTime, 0.015);
  }

  /** Start everything at one instant: the count-in, then the music from a bar on.
   * @param {number} lead seconds of count-in at the head of every stem
   * @param {Span} span what is played
   * @param {boolean} loop whether it is played again and again
   * @returns {number} the instant of the count-in's first frame, in the context's seconds */
  start(lead, span, loop) {
    this.stop();
    const rate = this.context.sampleRate;
    const onFrame = (/** @type {number} */ at) => Math.round(at * rate) / rate;
    const t0 = onFrame(this.context.currentTime + 0.2);
    const from = onFrame(span.start_s);
    const to = onFrame(span.end_s);
    const whole = !loop && Math.abs(from - onFrame(lead)) < 1e-6;
    for (const [name, buffer] of this.buffers) {
      if (name === "count-in" && !whole) this.#play(name, buffer, t0, 0, lead, null);
      else if (whole) this.#play(name, buffer, t0, 0, undefined, null);
      else this.#play(name, buffer, t0 + onFrame(lead), from, loop ? undefined : to - from, loop ? { start_s: from, end_s: to } : null);
    }
    this.run = { t0, lead: onFrame(lead), from, loop: loop ? { start_s: from, end_s: to } : null, end: loop ? Infinity : t0 + onFrame(lead) + (to - from) };
    return t0;
  }

  /** @param {string} name @param {AudioBuffer} buffer @param {number} at @param {number} offset
   *  @param {number | undefined} length @param {Span | null} loop */
  #play(name, buffer, at, offset, length, loop) {
    const source = this.context.createBufferSource();
    source.buffer = buffer;
    if (loop) { source.loop = true; source.loopStart = loop.start_s; source.loopEnd = loop.end_s; }
    source.connect(/** @type {GainNode} */ (this.gains.get(name)));
    if (length === undefined) source.start(at, offset); else source.start(at, offset, length);
    this.sounding.push(source);
  }

  /** Stop at once. */
  stop() {
    for (const source of this.sounding) { try { source.stop(); } catch { /* not started yet */ } source.disconnect(); }
    this.sounding = [];
    this.run = null;
  }

  /** The context's time that is being heard now: what left the speakers, not what was computed. */
  heard() {
    const told = /** @type {AudioContext} */ (this.context).getOutputTimestamp();
    if (!told.contextTime || !told.performanceTime) return this.context.currentTime;
    return told.contextTime + (performance.now() - told.performanceTime) / 1000;
  }

  /** Where in the stems the music is, in seconds; below the count-in's length while it counts.
   * @returns {number | null} */
  position() {
    if (!this.run) return null;
    const { t0, lead, from, loop } = this.run;
    const passed = this.heard() - t0;
    if (passed < lead) return passed;
    const at = from + passed - lead;
    if (!loop || at < loop.end_s) return at;
    return loop.start_s + ((at - loop.start_s) % (loop.end_s - loop.start_s));
  }

  /** Whether the music has come to its end. */
  get isOver() {
    return this.run !== null && this.heard() >= this.run.end;
  }
}
