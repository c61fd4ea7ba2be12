// @ts-check
/* A take that is not listened to yet: its verdict comes by itself. */

const PAUSE_MS = 2000;

async function look() {
  try {
    const answer = await fetch(location.href, { headers: { "x-fragment": "1" } });
    if (answer.status !== 202) return location.reload();
  } catch { /* no network now: asked again */ }
  window.setTimeout(() => void look(), PAUSE_MS);
}

window.setTimeout(() => void look(), PAUSE_MS);
