// @ts-check
import { fit } from "./score.js";

for (const one of document.querySelectorAll("[data-score]")) {
  const score = /** @type {HTMLElement} */ (one);
  const missed = new Set((score.dataset.missed ?? "").split(" "));
  const mark = () => {
    for (const bar of score.querySelectorAll("[data-bar]")) bar.classList.toggle("missed", missed.has(bar.getAttribute("data-bar") ?? ""));
  };
  mark();
  fit(score, mark);
}
