// @ts-check
/* The Stand: what the buttons, keys and fields of the page do. */
import { Band } from "./band.js";
import { Recorder, wav } from "./recorder.js";
import { fit } from "./score.js";

/** @typedef {{number: number, start_s: number, end_s: number}} BarTime */
/** @typedef {{lead_s: number, bars: BarTime[], base: string, stems: string[], consent: boolean}} Told */
/** @typedef {"still" | "playing" | "recording" | "busy"} State */

const TAIL_S = 1;
const $ = (/** @type {string} */ id) => /** @type {any} */ (document.getElementById(id));
const stand = /** @type {HTMLElement} */ ($("stand"));
/** @type {Told} */
const told = JSON.parse(stand.dataset.stand ?? "{}");
const first = /** @type {BarTime} */ (told.bars[0]);
const last = /** @type {BarTime} */ (told.bars[told.bars.length - 1]);

/** @type {AudioContext | null} */ let context = null;
/** @type {Band | null} */ let band = null;
/** @type {Recorder | null} */ let recorder = null;
/** @type {State} */ let state = "still";
let recordedFrom = 0;
let sending = { key: "", sound: new Blob() };

const say = (/** @type {string} */ text) => { $("said").textContent = text; };

/** @param {State} next */
function become(next) {
  state = next;
  stand.dataset.state = next;
  $("play").textContent = next === "playing" ? "Stop" : "Play";
  $("record").textContent = next === "recording" ? "Stop and send" : "Record";
  $("record").setAttribute("aria-pressed", String(next === "recording"));
  $("play").disabled = next === "recording" || next === "busy";
  $("record").disabled = next === "playing" || next === "busy";
}

/** The band, fetched and decoded at the first touch. */
async function ready() {
  if (!context) context = new AudioContext({ latencyHint: "interactive" });
  await context.resume();
  if (!band) band = new Band(context, told.base, told.stems);
  await band.load();
  levels();
  return band;
}

function levels(lineToo = true) {
  for (const name of told.stems) {
    const on = /** @type {HTMLInputElement} */ (document.querySelector(`[data-on="${name}"]`)).checked;
    const level = Number(/** @type {HTMLInputElement} */ (document.querySelector(`[data-level="${name}"]`)).value);
    band?.level(name, on && (lineToo || name !== "line") ? level : 0);
  }
}

/** The bars that the fields name, in their order. */
function span() {
  const bar = (/** @type {string} */ id, /** @type {BarTime} */ other) => told.bars.find((one) => one.number === Number($(id).value)) ?? other;
  const [from, to] = [bar("from", first), bar("to", last)].sort((a, b) => a.start_s - b.start_s);
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
  if (state === "recording") return finish();
  if (state !== "still") return;
  if (!window.isSecureContext || !navigator.mediaDevices) {
    return say("This browser gives no microphone to a page from another machine without a certificate. Record with the phone's own recorder and send the file below.");
  }
  if (!(await agreed())) return say("Nothing was recorded.");
  become("busy");
  try {
    const players = await ready();
    recorder = new Recorder(/** @type {AudioContext} */ (context));
    const changed = await recorder.open();
    await new Promise((done) => setTimeout(done, 1000));
    levels(false);
    recorder.start();
    recordedFrom = players.start(told.lead_s, { start_s: first.start_s, end_s: last.end_s }, false);
    become("recording");
    say(changed.length ? "Recording. The browser changes the sound although asked not to; a file from the phone's recorder may be heard better." : "Recording. The model line is silent meanwhile.");
    follow();
  } catch (fault) {
    recorder?.close();
    become("still");
    say(`No recording: ${reason(fault)}`);
  }
}

async function finish() {
  const taker = /** @type {Recorder} */ (recorder);
  const sound = wav(taker.stop(recordedFrom), /** @type {AudioContext} */ (context).sampleRate);
  band?.stop();
  taker.close();
  light(null);
  await send(fresh(), sound);
}

/** A key of a take: sent twice, it is kept once. */
function fresh() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
}

/** @param {string} key @param {Blob} sound */
async function send(key, sound) {
  sending = { key, sound };
  become("busy");
  say("Sending, then listening.");
  $("again").hidden = true;
  try {
    const answer = await fetch(`${told.base}/takes?key=${key}`, { method: "POST", body: sound, headers: { "x-fragment": "1", "content-type": "audio/wav" } });
    if (answer.status >= 500) throw new Error(`the studio answered ${answer.status}`);
    $("verdict").innerHTML = await answer.text();
    shade();
    say(answer.ok ? "Heard." : "The studio did not take it. The take is still here.");
    if (!answer.ok) keep(sound);
  } catch (fault) {
    say(`Not yet sent: ${reason(fault)}. The take is still here.`);
    keep(sound);
  }
  become("still");
}

/** A take that did not arrive: to be sent again, or kept as a file.
 * @param {Blob} sound */
function keep(sound) {
  $("keepsake").href = URL.createObjectURL(sound);
  $("again").hidden = false;
}

/** A file of any kind that this browser can decode becomes a WAV; another is sent as it is.
 * @param {SubmitEvent} event */
async function upload(event) {
  const file = $("recording").files?.[0];
  if (!file) return;
  event.preventDefault();
  if (state !== "still" || !(await agreed())) return;
  say("Reading the file.");
  /** @type {Blob} */ let sound = file;
  const decoder = new OfflineAudioContext(1, 1, 48000);
  try {
    const buffer = await decoder.decodeAudioData(await file.arrayBuffer());
    sound = wav(mono(buffer), buffer.sampleRate);
  } catch { /* MIDI, or a kind that only the studio may know */ }
  await send(fresh(), sound);
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

/** Whether recording was agreed to; asked once, before the first recording. */
async function agreed() {
  if (told.consent) return true;
  const box = /** @type {HTMLDialogElement} */ ($("consent"));
  box.returnValue = "no";
  box.showModal();
  await new Promise((done) => box.addEventListener("close", done, { once: true }));
  if (box.returnValue !== "yes") return false;
  const lesson = told.base.slice(0, told.base.lastIndexOf("/"));
  const answer = await fetch(`${lesson}/consent`, { method: "POST" });
  told.consent = answer.ok;
  return answer.ok;
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
  r: () => void record(),
  l: () => { $("loop").checked = !$("loop").checked; changed(); },
  "[": () => { if (lit !== null) { $("from").value = lit; changed(); } },
  "]": () => { if (lit !== null) { $("to").value = lit; changed(); } },
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
  if (!$("keys").checked || typing || event.ctrlKey || event.metaKey || event.altKey || $("consent").open) return;
  const act = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!act) return;
  event.preventDefault();
  act();
});
$("play").addEventListener("click", () => void play());
$("record").addEventListener("click", () => void record());
$("resend").addEventListener("click", () => void send(sending.key, sending.sound));
$("upload").addEventListener("submit", (/** @type {SubmitEvent} */ event) => void upload(event));
for (const id of ["from", "to", "loop"]) $(id).addEventListener("change", changed);
for (const one of document.querySelectorAll("[data-on], [data-level]")) one.addEventListener("input", () => levels(state !== "recording"));
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
window.addEventListener("beforeunload", (event) => { if (state === "recording" || !$("again").hidden) event.preventDefault(); });
document.addEventListener("visibilitychange", () => { if (document.hidden && state === "playing") halt(); });
fit($("score"), shade);
become("still");
