// @ts-check
/* The Stand: what the buttons, keys and fields of the page do. */
import { Band } from "./band.js";
import { isMeasured, measure } from "./calibration.js";
import { Outbox, fresh } from "./outbox.js";
import { Recorder, wav, whole } from "./recorder.js";
import { fit } from "./score.js";
import { Sender, words } from "./sender.js";
import { TAIL_S, Take } from "./take.js";
import { Tuner } from "./tuner.js";
import { adopt, show } from "./unsent.js";

/** @typedef {{number: number, start_s: number, end_s: number}} BarTime */
/** What is on the Stand: the exercise as it was set, or at another tempo or in another key.
 *  @typedef {{lead_s: number, beat_s: number, bars: BarTime[], tempo: number, key: string, words: string}} Part */
/** @typedef {Part & {base: string, title: string, stems: string[], consent: boolean, written: number}} Told */
/** @typedef {"still" | "playing" | "recording" | "busy"} State */

const STEP = 4;
const LATER_MS = 3000;
const $ = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));
const stand = /** @type {HTMLElement} */ ($("stand"));
/** @type {Told} */
const told = JSON.parse(stand.dataset.stand ?? "{}");
const own = { tempo: told.tempo, key: told.key };
const outbox = new Outbox();
const sender = new Sender(outbox, heard);

/** @type {AudioContext | null} */ let context = null;
/** @type {Band | null} */ let band = null;
/** @type {Take | null} */ let take = null;
/** @type {Tuner | null} */ let tuner = null;
/** @type {WakeLockSentinel | null} */ let awake = null;
/** @type {State} */ let state = "still";

const say = (/** @type {string} */ text) => { $("said").textContent = text; };

/** @param {State} next */
function become(next) {
  state = next;
  stand.dataset.state = next;
  $("play").textContent = next === "playing" ? "Stop" : "Play";
  $("record").textContent = next === "recording" ? "Stop and send" : "Record";
  $("record").setAttribute("aria-pressed", String(next === "recording"));
  $("play").disabled = next === "recording" || next === "busy";
  $("record").disabled = next === "playing" || next === "busy" || "refused" in $("record").dataset;
  for (const id of ["tempo", "slower", "faster", "key", "measure"]) $(id).disabled = next === "recording" || next === "busy";
  void keepAwake(next === "playing" || next === "recording");
}

/** A screen that goes dark in the middle of a chorus helps nobody. @param {boolean} on */
async function keepAwake(on) {
  if (!on) { await awake?.release(); awake = null; return; }
  try { awake ??= await navigator.wakeLock?.request("screen") ?? null; } catch { /* a battery that is nearly empty */ }
}

/** Where something of the part on the Stand lies. @param {string} path */
function address(path) {
  const query = new URLSearchParams();
  if (told.tempo !== own.tempo) query.set("tempo", String(told.tempo));
  if (told.key !== own.key) query.set("in", told.key);
  return `${told.base}/${path}${query.size ? `?${query}` : ""}`;
}

/** The audio's clock, woken at a touch. */
async function clock() {
  context ??= new AudioContext({ latencyHint: "interactive" });
  await context.resume();
  return context;
}

/** The band, fetched and decoded at the first touch. */
async function ready() {
  band ??= new Band(await clock(), told.stems, matchMedia("(pointer: coarse)").matches);
  await clock();
  await band.load((name) => address(`stems/${name}`));
  levels();
  return band;
}

function levels(lineToo = state !== "recording") {
  for (const name of told.stems) {
    const on = /** @type {HTMLInputElement} */ (document.querySelector(`[data-on="${name}"]`)).checked;
    const level = Number(/** @type {HTMLInputElement} */ (document.querySelector(`[data-level="${name}"]`)).value);
    band?.level(name, on && (lineToo || name !== "line") ? level : 0);
  }
}

const first = () => /** @type {BarTime} */ (told.bars[0]);
const last = () => /** @type {BarTime} */ (told.bars[told.bars.length - 1]);

/** The bars that the fields name, in their order. */
function span() {
  const bar = (/** @type {string} */ id, /** @type {BarTime} */ other) => told.bars.find((one) => one.number === Number($(id).value)) ?? other;
  const [from, to] = [bar("from", first()), bar("to", last())].sort((a, b) => a.start_s - b.start_s);
  return { start_s: /** @type {BarTime} */ (from).start_s, end_s: /** @type {BarTime} */ (to).end_s };
}

async function play() {
  if (state === "playing") return halt();
  if (state !== "still") return;
  become("busy");
  try {
    const players = await ready();
    players.start(told.lead_s, span(), $("loop").checked);
    become("playing");
    say("");
    follow();
  } catch (fault) {
    become("still");
    say(`The band can't play: ${reason(fault)}`);
  }
}

function halt() {
  band?.stop();
  become("still");
  light(null);
}

async function record() {
  if ("refused" in $("record").dataset) return;
  if (state === "recording") return finish();
  if (state !== "still") return;
  if (!Recorder.isPossible) {
    return say("This browser gives no microphone to a page from another machine without a certificate. Record with the phone's own recorder and send the file below.");
  }
  if (!(await agreed())) return say("Nothing was recorded.");
  become("busy");
  try {
    const players = await ready();
    take = new Take(await clock(), outbox, sender, say);
    const changed = await take.open();
    levels(false);
    const t0 = players.start(told.lead_s, { start_s: first().start_s, end_s: last().end_s }, false);
    const part = { base: told.base, title: told.title, tempo: told.tempo === own.tempo ? null : told.tempo, in: told.key === own.key ? null : told.key };
    take.start(part, t0, told.lead_s, told.beat_s, t0 + last().end_s);
    become("recording");
    say(changed.length ? "Recording. The browser changes the sound although asked not to; a file from the phone's recorder may be heard better." : "Recording. The model line is silent meanwhile.");
    follow();
  } catch (fault) {
    take?.close();
    become("still");
    say(`No recording: ${reason(fault)}`);
  }
}

async function finish() {
  const done = /** @type {Take} */ (take);
  become("busy");
  say("Well played. Listening to it now.");
  band?.stop();
  light(null);
  try {
    await send(await done.finish());
  } catch (fault) {
    say(`The take could not be kept: ${reason(fault)}`);
  }
  become("still");
}

/** Send a take that lies in the outbox; what comes of it is told by heard().
 * @param {string} key */
async function send(key) {
  $("verdict").setAttribute("aria-busy", "true");
  await sender.one(key);
  $("verdict").setAttribute("aria-busy", "false");
}

/** @param {import("./outbox.js").Kept} sent @param {import("./sender.js").Outcome} outcome */
function heard(sent, outcome) {
  if (outcome.state === "taken") {
    say(sent.part.base !== told.base ? `Your take of ${sent.part.title} was sent.` : outcome.isHeard ? spoken(outcome.verdict) : "The take is kept. Others are being listened to first.");
    if (!outcome.isHeard && sent.part.base === told.base) void later(sent);
    if (sent.part.base === told.base) {
      $("verdict").innerHTML = outcome.verdict;
      shade();
      void listed();
      if (state === "busy") $("verdict").scrollIntoView({ block: "start" });
    }
  } else if (outcome.state === "waiting") {
    say(`Not yet sent: ${outcome.said} The take is kept here and goes when it can.`);
  } else {
    say(`The studio did not take it: ${outcome.said} The take is still here.`);
  }
  void shown();
}

/** A verdict that takes long comes by itself. @param {import("./outbox.js").Kept} sent */
async function later(sent) {
  for (;;) {
    await new Promise((done) => setTimeout(done, LATER_MS));
    try {
      const answer = await fetch(`${sent.part.base}/takes/${sent.key}`);
      if (answer.status === 202) continue;
      const article = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("article.verdict");
      if (!article) return;
      $("verdict").replaceChildren(article);
      shade();
      return say(spoken(article.outerHTML));
    } catch { /* no network now: asked again */ }
  }
}

/** What is said of a verdict; a take that could not be listened to is no verdict.
 * @param {string} verdict */
const spoken = (verdict) => (verdict.includes("data-unheard") ? "The take is kept, but it could not be listened to." : "Heard.");

/** The list of takes, with the one that was just sent. */
async function listed() {
  try {
    const answer = await fetch(`${told.base}/takes`, { headers: { "x-fragment": "1" } });
    if (answer.ok) $("takes").innerHTML = await answer.text();
  } catch { /* no network now: it is there when the page is opened again */ }
}

const shown = () => show(outbox, $("unsent"), { send: (key) => void send(key), changed: () => void shown() });

/** A file of any kind that this browser can decode becomes a WAV; another is sent as it is.
 * @param {SubmitEvent} event */
async function upload(event) {
  const file = $("recording").files?.[0];
  if (!file) return;
  event.preventDefault();
  if (state !== "still") return;
  const given = document.querySelector('#upload [name="agree"]:checked') !== null;
  if (!(await agreed(given))) return say("Nothing was sent: it must be agreed to first, with the studio in reach.");
  become("busy");
  say("Reading the file.");
  /** @type {Blob} */ let sound = file;
  try {
    const decoder = new OfflineAudioContext(1, 1, 48000);
    const buffer = await decoder.decodeAudioData(await file.arrayBuffer());
    sound = wav([whole(mono(buffer))], buffer.sampleRate);
  } catch { /* MIDI, or a kind that only the studio may know */ }
  try {
    const part = { base: told.base, title: told.title, tempo: told.tempo === own.tempo ? null : told.tempo, in: told.key === own.key ? null : told.key };
    const telling = { skip: 0, anchor: /** @type {const} */ ("none"), slip_s: null, lost: 0 };
    const kept = { key: fresh(), part, made: Date.now(), kind: /** @type {const} */ ("file"), rate: 48000, pieces: 1, told: telling, said: "" };
    await outbox.add(kept, 0, await sound.arrayBuffer());
    say("Sending, then listening.");
    await send(kept.key);
  } catch (fault) {
    say(`The recording could not be kept: ${reason(fault)}`);
  }
  become("still");
}

/** @param {AudioBuffer} buffer */
function mono(buffer) {
  const mixed = new Float32Array(buffer.length);
  for (let n = 0; n < buffer.numberOfChannels; n++) {
    const channel = buffer.getChannelData(n);
    for (let i = 0; i < mixed.length; i++) mixed[i] = (mixed[i] ?? 0) + (channel[i] ?? 0) / buffer.numberOfChannels;
  }
  return mixed;
}

/** Whether recording was agreed to; asked once, before the first recording.
 * @param {boolean} [given] whether it was just agreed to, on the page */
async function agreed(given = false) {
  if (told.consent) return true;
  if (!given && (await answer($("consent"))) !== "yes") return false;
  const lesson = told.base.slice(0, told.base.lastIndexOf("/"));
  try {
    told.consent = (await fetch(`${lesson}/consent`, { method: "POST" })).ok;
  } catch { /* no network: nothing was agreed to */ }
  return told.consent;
}

/** What is answered in a dialog. @param {HTMLDialogElement} box @returns {Promise<string>} */
async function answer(box) {
  box.returnValue = "no";
  box.showModal();
  await new Promise((done) => box.addEventListener("close", done, { once: true }));
  return box.returnValue;
}

/** Another tempo or key: the same exercise, sounded anew; what plays goes on until it is there. */
async function change() {
  const asked = { tempo: Number($("tempo").value), key: $("key").value };
  if (asked.tempo === told.tempo && asked.key === told.key) return;
  const before = { tempo: told.tempo, key: told.key };
  const was = state;
  become("busy");
  say("The band is getting ready.");
  try {
    Object.assign(told, asked);
    const got = await fetch(address("part"), { headers: { "x-fragment": "1" } });
    if (!got.ok) throw new Error(words(await got.text()));
    /** @type {Part} */ const part = await got.json();
    if (band) await band.load((name) => address(`stems/${name}`));
    Object.assign(told, part);
    stand.dataset.stand = JSON.stringify(told);
    $("score").dataset.score = address("systems");
    if (asked.key !== before.key) await draw();
    $("setting").textContent = told.words;
    say("");
    become(was);
    if (was === "playing") { band?.start(told.lead_s, span(), $("loop").checked); follow(); }
  } catch (fault) {
    Object.assign(told, before);
    $("tempo").value = before.tempo;
    $("key").value = before.key;
    become(was);
    if (was === "playing") follow();
    say(`It stays as it was: ${reason(fault)}`);
  }
}

/** @param {number} by */
function step(by) {
  const field = /** @type {HTMLInputElement} */ ($("tempo"));
  field.value = String(Math.max(Number(field.min), Math.min(Number(field.max), Number(field.value) + by)));
  void change();
}

/** Measure once how late this device hears itself. */
async function calibrate() {
  if (state !== "still") return;
  if (!Recorder.isPossible) return say("Only a page that may use the microphone can measure it.");
  if ((await answer($("calibration"))) !== "yes") return;
  become("busy");
  say("Quiet, please: eight ticks.");
  try {
    const found = await measure(await clock());
    say(found
      ? `Measured: this device hears itself ${Math.round(found.lag_s * 1000)} ms late, sure to ${Math.max(0.1, found.spread_s * 1000).toFixed(1)} ms. It is kept for this microphone and these headphones.`
      : "The ticks were not heard. Turn the sound up, or hold an earpiece to the microphone, and measure again.");
  } catch (fault) {
    say(`Nothing was measured: ${reason(fault)}`);
  }
  become("still");
}

async function tune() {
  const on = tuner === null;
  $("tune").setAttribute("aria-pressed", String(on));
  $("pitch").hidden = !on;
  if (tuner) { tuner.stop(); tuner = null; return; }
  try {
    tuner = new Tuner(await clock(), told.written, (pitch) => {
      $("pitch-words").textContent = pitch ? pitch.words : "Play a long note.";
      $("needle").style.left = `${50 + (pitch ? pitch.cents : 0)}%`;
    });
    await tuner.start();
  } catch (fault) {
    tuner = null;
    $("tune").setAttribute("aria-pressed", "false");
    $("pitch").hidden = true;
    say(`No tuner: ${reason(fault)}`);
  }
}

/** Light the bar that is heard, frame by frame, as long as something sounds. */
function follow() {
  if (!band || (state !== "playing" && state !== "recording")) return;
  const at = band.position() ?? 0;
  light(at < told.lead_s ? null : told.bars.find((one) => one.start_s <= at && at < one.end_s) ?? null);
  if (at < told.lead_s) $("where").textContent = "count-in";
  if (state === "playing" && band.isOver) return halt();
  if (state === "recording" && band.run && band.heard() >= band.run.end + TAIL_S) return void finish();
  requestAnimationFrame(follow);
}

let lit = /** @type {number | null} */ (null);
/** @param {BarTime | null} bar */
function light(bar) {
  const number = bar?.number ?? null;
  $("where").textContent = number === null ? "" : `bar ${number}`;
  if (number === lit) return;
  lit = number;
  shade();
  if (number !== null) document.querySelector(`.bar[data-bar="${number}"]`)?.closest("svg")?.scrollIntoView({ block: "nearest" });
}

/** The fields behind the bars: the one that sounds, those of the loop, those to play again. */
function shade() {
  const part = span();
  const missed = new Set([...document.querySelectorAll("#verdict .bars .missed")].map((one) => /** @type {HTMLLIElement} */ (one).value));
  for (const field of document.querySelectorAll("#score .bar")) {
    const bar = told.bars.find((one) => one.number === Number(/** @type {SVGElement} */ (field).dataset.bar));
    field.classList.toggle("now", bar !== undefined && bar.number === lit);
    field.classList.toggle("missed", bar !== undefined && missed.has(bar.number));
    field.classList.toggle("kept", bar !== undefined && $("loop").checked && bar.start_s >= part.start_s && bar.end_s <= part.end_s);
  }
}

/** @param {unknown} fault */
const reason = (fault) => (fault instanceof Error ? fault.message : String(fault));

/** @type {Record<string, () => void>} */
const keys = {
  " ": () => void play(),
  PageDown: () => void play(),
  PageUp: () => void record(),
  r: () => void record(),
  l: () => { $("loop").checked = !$("loop").checked; changed(); },
  "[": () => { if (lit !== null) { $("from").value = lit; changed(); } },
  "]": () => { if (lit !== null) { $("to").value = lit; changed(); } },
  "-": () => step(-STEP),
  "+": () => step(STEP),
  "=": () => step(STEP),
  t: () => void tune(),
  s: () => document.dispatchEvent(new Event("studio:look")),
};

/** Another loop while the band plays begins with its own count-in. */
function changed() {
  shade();
  if (state === "playing") band?.start(told.lead_s, span(), $("loop").checked);
}

document.addEventListener("keydown", (event) => {
  const at = /** @type {HTMLElement} */ (event.target);
  const typing = at.matches("input:not([type=checkbox]), textarea, select, summary") || (at.matches("button, a, input") && event.key === " ");
  if (!$("keys").checked || typing || event.ctrlKey || event.metaKey || event.altKey || document.querySelector("dialog[open]")) return;
  const act = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!act) return;
  event.preventDefault();
  act();
});
$("play").addEventListener("click", () => void play());
$("record").addEventListener("click", () => void record());
$("slower").addEventListener("click", () => step(-STEP));
$("faster").addEventListener("click", () => step(STEP));
$("measure").addEventListener("click", () => void calibrate());
$("tune").addEventListener("click", () => void tune());
$("upload").addEventListener("submit", (/** @type {SubmitEvent} */ event) => void upload(event));
for (const id of ["from", "to", "loop"]) $(id).addEventListener("change", changed);
for (const id of ["tempo", "key"]) $(id).addEventListener("change", () => void change());
for (const one of document.querySelectorAll("[data-on], [data-level]")) one.addEventListener("input", () => levels());
$("score").addEventListener("click", (/** @type {MouseEvent} */ event) => {
  const field = event.target instanceof Element ? event.target.closest("svg")?.querySelectorAll(".bar") : null;
  for (const bar of field ?? []) {
    const box = bar.getBoundingClientRect();
    if (event.clientX >= box.left && event.clientX < box.right) {
      const number = /** @type {SVGElement} */ (bar).dataset.bar ?? "";
      if (event.shiftKey) $("to").value = number; else $("from").value = number;
      changed();
    }
  }
});
window.addEventListener("beforeunload", (event) => { if (state === "recording") event.preventDefault(); });
document.addEventListener("visibilitychange", () => { if (document.hidden && state === "playing") halt(); });
const draw = fit($("score"), shade);
become("still");
$("stems").open = matchMedia("(min-width: 50rem)").matches;
$("hint").hidden = isMeasured() || !Recorder.isPossible;
void navigator.serviceWorker?.register("/static/offline.js", { scope: "/lessons/" });
void adopt(outbox).then(shown).then(() => sender.soon(0));
