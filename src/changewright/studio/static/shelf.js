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

text.addEventListener("input", () => {
  window.clearTimeout(waiting);
  waiting = window.setTimeout(() => void read(), PAUSE_MS);
});
if (bars() !== 4 || live.querySelector(".fault")) void read();
