// @ts-check
/* The takes that the studio has not answered for yet: what they are, and what can be done. */
import { wav } from "./recorder.js";

/** @typedef {import("./outbox.js").Kept} Kept */
/** @typedef {import("./outbox.js").Outbox} Outbox */

/** A take whose page was closed while it was played is whole as far as it goes.
 * @param {Outbox} outbox */
export async function adopt(outbox) {
  for (const take of await outbox.all()) {
    if (take.told !== null) continue;
    await alone(`take ${take.key}`, async (free) => {
      const now = await outbox.take(take.key);
      if (!free || !now || now.told !== null) return;
      const told = { skip: 0, anchor: /** @type {const} */ ("none"), slip_s: null, lost: 0 };
      await outbox.put({ ...now, told, said: "It was cut off when its page closed." });
    });
  }
}

/** @param {string} name @param {(free: boolean) => Promise<void>} work */
async function alone(name, work) {
  if (!navigator.locks) return work(true);
  await navigator.locks.request(name, { ifAvailable: true }, (lock) => work(lock !== null));
}

/** Show what is in the outbox, and nothing where it is empty.
 * @param {Outbox} outbox @param {HTMLElement} place
 * @param {{send: (key: string) => void, changed: () => void}} acts */
export async function show(outbox, place, acts) {
  const takes = (await outbox.all()).filter((one) => one.told !== null);
  place.hidden = takes.length === 0;
  const list = /** @type {HTMLElement} */ (place.querySelector("ul"));
  list.replaceChildren(...takes.map((take) => row(take, outbox, acts)));
}

/** @param {Kept} take @param {Outbox} outbox
 *  @param {{send: (key: string) => void, changed: () => void}} acts */
function row(take, outbox, acts) {
  const item = document.createElement("li");
  const made = new Date(take.made).toLocaleString([], { dateStyle: "medium", timeStyle: "short" });
  const words = document.createElement("span");
  words.textContent = `${take.part.title}, ${made}. ${take.said}`;
  item.append(words, " ", button("Send it again", () => acts.send(take.key)));
  item.append(button("Keep it as a file", () => void save(outbox, take)));
  item.append(button("Throw it away", async () => { await outbox.drop(take.key); acts.changed(); }));
  return item;
}

/** @param {string} words @param {() => void} act */
function button(words, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  made.addEventListener("click", act);
  return made;
}

/** @param {Outbox} outbox @param {Kept} take */
async function save(outbox, take) {
  /** @type {ArrayBuffer[]} */ const pieces = [];
  for (let n = 0; n < take.pieces; n++) pieces.push((await outbox.piece(take.key, n)) ?? new ArrayBuffer(0));
  const sound = take.kind === "file" ? new Blob(pieces) : wav(pieces.map((one) => new Int16Array(one)), take.rate);
  const link = document.createElement("a");
  link.href = URL.createObjectURL(sound);
  link.download = take.kind === "file" ? take.part.title : "take.wav";
  link.click();
  URL.revokeObjectURL(link.href);
}
