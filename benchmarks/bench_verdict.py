"""From the stop to the verdict, in a real browser: a player records takes of over a minute live at
the Stand, and the page says when the verdict is seen.

The browser's microphone plays the exercise's own model line over the band. What is measured is
what the player waits for: from the instant when the Stand stops recording to the first frame on
which the verdict stands on the page. It needs Chromium, see ``tools/browser.sh``.
"""

import asyncio
import shutil
from collections.abc import Iterable
from io import BytesIO
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import soundfile

from benchmarks.bench_studio import asked_lesson, studio_at
from benchmarks.figure import Figure

__all__ = ["figures"]

TAKES = 3
LESSON = {"chart": "chandlery-ledger@0", "level": "3", "tempo": "100", "family": "guide-tones"}
"""Thirty-two bars: with the count-in, a take of eighty seconds."""
_LEADING_S = 1.5  # the Stand opens the microphone a second before it starts the band
_BLEED = 0.06
_LONGEST_MS = 240_000
_ARGS = ("--no-sandbox", "--autoplay-policy=no-user-gesture-required", "--mute-audio")
_WATCH = """() => {
    const stand = document.getElementById("stand");
    const verdict = document.getElementById("verdict");
    const at = {};
    new MutationObserver(() => {
        const now = stand.dataset.state;
        if (now === "recording") at.from = performance.now();
        if (now === "busy" && at.from) at.to = performance.now();
    }).observe(stand, { attributes: true, attributeFilter: ["data-state"] });
    new MutationObserver(() => {
        if (at.to && verdict.querySelector(".bars li"))
            requestAnimationFrame(() => {
                document.body.dataset.seen ??= [at.to - at.from, performance.now() - at.to].join();
            });
    }).observe(verdict, { childList: true });
}"""


def figures() -> Iterable[Figure]:
    """The length of a take, and the median and the longest of the waits."""
    with TemporaryDirectory(prefix="verdict-") as home, studio_at(Path(home)) as address:
        at, mic = asyncio.run(_ready(address, Path(home) / "mic.wav"))
        taken = [_take(address + at, mic) for _ in range(TAKES)]
    yield Figure("verdict.take_s", median(length for length, _ in taken) / 1000, "s")
    yield Figure("verdict.after_stop_p50_ms", median(wait for _, wait in taken), "ms")
    yield Figure("verdict.after_stop_max_ms", max(wait for _, wait in taken), "ms")


async def _ready(address: str, mic: Path) -> tuple[str, Path]:
    """A lesson on the Stand, and what its player's microphone hears."""
    import httpx2

    async with httpx2.AsyncClient(base_url=address, timeout=_LONGEST_MS / 1000) as client:
        at = await asked_lesson(client, **LESSON)

        async def stem(name: str) -> tuple[Any, int]:
            sound = (await client.get(f"{at}/stems/{name}")).content
            samples, rate = soundfile.read(BytesIO(sound), dtype="float32", always_2d=True)
            return samples, rate

        line, rate = await stem("line")
        sound = line.mean(axis=1)
        for name in ("count-in", "drums", "bass", "comping"):
            band = (await stem(name))[0].mean(axis=1)[: len(sound)]
            sound[: len(band)] += _BLEED * band
    silence = np.zeros(round(_LEADING_S * rate), dtype=np.float32)
    soundfile.write(mic, np.concatenate([silence, sound]), rate, subtype="PCM_16")
    return at, mic


def _take(address: str, mic: Path) -> tuple[float, float]:
    """One take from the first touch to its verdict: how long it is and how long that was waited
    for, in ms."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as tool:
        shown = tool.chromium.launch(
            executable_path=shutil.which("chromium") or shutil.which("chromium-browser"),
            args=[*_ARGS, *_microphone(mic)],
        )
        page = shown.new_page(viewport={"width": 820, "height": 1180})
        page.goto(address)
        page.locator("#stand[data-state=still]").wait_for()
        page.evaluate(_WATCH)
        page.get_by_role("button", name="Record", exact=True).click()
        seen = page.locator("body[data-seen]")
        seen.wait_for(timeout=_LONGEST_MS)
        length, wait = map(float, str(seen.get_attribute("data-seen")).split(","))
        shown.close()
    return length, wait


def _microphone(take: Path) -> list[str]:
    return [
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={take}%noloop",
    ]
