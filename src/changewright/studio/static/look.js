// @ts-check
"use strict";
/* The look of the pages, paper or stage, kept by this browser. Runs before the page is drawn, so
   that a dark room stays dark. */
(() => {
  const root = document.documentElement;
  /** @returns {string | null} */
  const kept = () => { try { return localStorage.getItem("look"); } catch { return null; } };
  /** @param {boolean} stage */
  const set = (stage) => {
    if (stage) root.dataset.look = "stage"; else delete root.dataset.look;
    for (const one of document.querySelectorAll("[data-look-switch]")) one.setAttribute("aria-pressed", String(stage));
  };
  const change = () => {
    const stage = root.dataset.look !== "stage";
    try { localStorage.setItem("look", stage ? "stage" : "paper"); } catch { /* a browser that keeps nothing */ }
    set(stage);
  };
  set(kept() === "stage");
  document.addEventListener("studio:look", change);
  document.addEventListener("DOMContentLoaded", () => {
    set(root.dataset.look === "stage");
    for (const one of document.querySelectorAll("[data-look-switch]")) one.addEventListener("click", change);
  });
})();
