/* In place of a microphone: what the page itself sounds, as much later and as much softer as a test
   says, and a player who starts with the band. All on one clock, so that frames can be counted. */
(() => {
  const loop = (window.loop = { delay_s: 0.1, bleed: 0.1, slip: null, take: null });
  const Real = window.AudioContext;
  window.AudioContext = class extends Real {
    constructor(...all) { super(...all); loop.context = this; }
  };
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (to, ...rest) {
    if (to instanceof AudioDestinationNode && to.context === loop.context) connect.call(this, way().heard);
    return connect.call(this, to, ...rest);
  };

  function way() {
    if (loop.way) return loop.way;
    const heard = loop.context.createGain();
    const late = loop.context.createDelay(2);
    heard.gain.value = loop.bleed;
    late.delayTime.value = loop.delay_s;
    connect.call(heard, late);
    loop.way = { heard, late };
    return loop.way;
  }

  navigator.mediaDevices.getUserMedia = async () => {
    loop.waits = true;
    const { stream } = loop.context.createMediaStreamDestination();
    for (const track of stream.getAudioTracks()) track.getSettings = () => ({ deviceId: "loop" });
    return stream;
  };

  /* A stream would add a lateness of its own, another one each time. */
  Real.prototype.createMediaStreamSource = function () {
    const source = this.createGain();
    connect.call(way().late, source);
    return source;
  };

  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when, ...rest) {
    if (loop.waits && this.buffer && this.buffer.duration > 1) {
      loop.waits = false; // the band begins: so does the player, and the clock slips when it is to
      loop.from = when;
      const { late } = way();
      if (loop.slip) late.delayTime.setValueAtTime(loop.delay_s + loop.slip.by_s, when + loop.slip.at_s);
      if (loop.take) {
        const player = loop.context.createBufferSource();
        player.buffer = loop.take;
        connect.call(player, late);
        start.call(player, when);
      }
    }
    return start.call(this, when, ...rest);
  };

  /** Let a player play a recording, given as base64. */
  loop.load = async (text) => {
    const bytes = Uint8Array.from(atob(text), (one) => one.charCodeAt(0));
    loop.take = await new OfflineAudioContext(1, 1, 48000).decodeAudioData(bytes.buffer);
  };
})();
