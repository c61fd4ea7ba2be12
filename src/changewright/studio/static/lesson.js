// @ts-check
import { fit } from "./score.js";

for (const score of document.querySelectorAll("[data-score]")) fit(/** @type {HTMLElement} */ (score));
