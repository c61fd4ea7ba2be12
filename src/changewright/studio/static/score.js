// @ts-check
/* Music that fits its screen: it is engraved anew with fewer bars a line, and not made smaller. */

/** How many bars a line fit a width in CSS pixels.
 * @param {number} width */
export const barsFor = (width) => (width < 480 ? 2 : width < 700 ? 3 : 4);

/** Engrave a score for the width that it has, now and when the screen turns.
 * @param {HTMLElement} score
 * @param {() => void} [drawn] called after each new drawing
 * @returns {() => Promise<void>} draws it anew, after its address has changed */
export function fit(score, drawn = () => {}) {
  let now = 4;
  const draw = async () => {
    const bars = now;
    const address = new URL(score.dataset.score ?? "", location.href);
    address.searchParams.set("bars", String(bars));
    const answer = await fetch(address);
    if (answer.ok && bars === now) { score.innerHTML = await answer.text(); drawn(); }
  };
  new ResizeObserver(() => {
    const bars = barsFor(score.clientWidth);
    if (bars === now) return;
    now = bars;
    void draw();
  }).observe(score);
  return draw;
}
