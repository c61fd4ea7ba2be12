// @ts-check
/* Music that fits its screen: it is engraved anew with fewer bars a line, and not made smaller. */

/** How many bars a line fit a width in CSS pixels.
 * @param {number} width */
export const barsFor = (width) => (width < 480 ? 2 : width < 700 ? 3 : 4);

/** Engrave a score for the width that it has, now and when the screen turns.
 * @param {HTMLElement} score
 * @param {() => void} [drawn] called after each new drawing */
export function fit(score, drawn = () => {}) {
  let now = 4;
  const look = async () => {
    const bars = barsFor(score.clientWidth);
    if (bars === now) return;
    now = bars;
    const answer = await fetch(`${score.dataset.score}?bars=${bars}`);
    if (answer.ok && bars === now) { score.innerHTML = await answer.text(); drawn(); }
  };
  new ResizeObserver(() => void look()).observe(score);
}
