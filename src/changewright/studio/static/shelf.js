// @ts-check
/* The reading beside a chart, renewed while it is typed. */

const PAUSE_MS = 350;
const text = /** @type {HTMLTextAreaElement} */ (document.getElementById("text"));
const live = /** @type {HTMLElement} */ (document.getElementById("live"));
let waiting = 0;
let latest = 0;

/** The bars a row of the reading: four symbols with their numerals need a wide row. */
const bars = () => (live.clientWidth < 640 ? 2 : 4);

async function read() {
  const turn = ++latest;
  live.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(`/shelf/read?bars=${bars()}`, { method: "POST", body: text.value, headers: { "x-fragment": "1", "content-type": "text/plain; charset=utf-8" } });
    const html = await answer.text();
    if (turn === latest) show(html);
  } catch {
    if (turn === latest) live.textContent = "The studio can't be reached; what you typed is still here.";
  } finally {
    if (turn === latest) live.setAttribute("aria-busy", "false");
  }
}

/** @param {string} html */
function show(html) {
  live.innerHTML = html;
  const fault = /** @type {HTMLElement | null} */ (live.querySelector(".fault[data-line]"));
  if (!fault) return;
  const go = document.createElement("button");
  go.type = "button";
  go.textContent = `Go to line ${fault.dataset.line}`;
  go.addEventListener("click", () => select(Number(fault.dataset.line), Number(fault.dataset.column || 1)));
  fault.append(go);
}

/** Put the cursor at a line and column, both from 1.
 * @param {number} line @param {number} column */
function select(line, column) {
  const lines = text.value.split("\n");
  const start = lines.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0);
  const end = start + (lines[line - 1] ?? "").length;
  text.focus();
  text.setSelectionRange(Math.min(start + column - 1, end), end);
}

const pinBar = /** @type {HTMLInputElement} */ (document.getElementById("pin-bar"));
const pinKey = /** @type {HTMLSelectElement} */ (document.getElementById("pin-key"));
const pinSaid = /** @type {HTMLElement} */ (document.getElementById("pin-said"));

/** The number of the bar at a place of a row: its bars are equally wide, and named in its label.
 * @param {SVGElement} row @param {number} x @returns {string | undefined} */
function barAt(row, x) {
  const numbers = [...(row.getAttribute("aria-label") ?? "").matchAll(/Bar (\d+)/g)].map((found) => found[1]);
  const box = row.getBoundingClientRect();
  return numbers[Math.floor(((x - box.left) / box.width) * Math.max(bars(), numbers.length))];
}

live.addEventListener("click", (event) => {
  const row = event.target instanceof Element ? event.target.closest(".score svg") : null;
  const number = row instanceof SVGElement ? barAt(row, event.clientX) : undefined;
  if (number !== undefined) pinBar.value = number;
});

/** @param {string} key empty to take the pin out */
async function pin(key) {
  const query = new URLSearchParams({ bar: pinBar.value, key });
  const answer = await fetch(`/shelf/pin?${query}`, { method: "POST", body: text.value, headers: { "x-fragment": "1", "content-type": "text/plain; charset=utf-8" } });
  const said = await answer.text();
  if (!answer.ok) {
    pinSaid.textContent = new DOMParser().parseFromString(said, "text/html").body.textContent?.replace(/\s+/g, " ").trim() ?? "";
    return;
  }
  text.value = said;
  pinSaid.textContent = key ? `Bar ${pinBar.value} is pinned to ${key}.` : `Bar ${pinBar.value} has no pin.`;
  void read();
}
document.getElementById("pin")?.addEventListener("click", () => void pin(pinKey.value));
document.getElementById("unpin")?.addEventListener("click", () => void pin(""));

text.addEventListener("input", () => {
  window.clearTimeout(waiting);
  waiting = window.setTimeout(() => void read(), PAUSE_MS);
});
if (bars() !== 4 || live.querySelector(".fault")) void read();
