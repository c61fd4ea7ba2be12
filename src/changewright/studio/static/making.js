// @ts-check
/* A lesson or book that is being made: say how far it is, and show it when it is there. */

const said = /** @type {HTMLElement} */ (document.getElementById("making"));
const bar = document.querySelector("progress");
const PAUSE_MS = 400;

async function look() {
  try {
    const answer = await fetch(said.dataset.state ?? "", { headers: { "x-fragment": "1" } });
    if (!answer.ok) return location.reload();
    const told = await answer.json();
    if (["made", "failed", "stopped"].includes(told.state)) return location.reload();
    if (said.textContent !== told.words) said.textContent = told.words;
    if (bar && told.total) { bar.max = told.total; bar.value = told.done; }
  } catch {
    said.textContent = "The studio can't be reached; what you asked for is kept.";
  }
  window.setTimeout(() => void look(), PAUSE_MS);
}

void look();
