"""The player's journeys: play along, record, send a recording, and be heard."""

import base64
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from changewright.usecases.demo import PLANTED
from tests.browser.conftest import Open
from tests.browser.journeys import put_on_stand, verdict_of, wrong_bars
from tests.browser.standing import FASTEST, agree, at_tempo, said

pytestmark = pytest.mark.slow

RATE = 48_000
SEEN = """() => {
    const [seen, where] = [[], document.getElementById("where")];
    new MutationObserver(() => {
        const now = where.textContent;
        if (now && seen[seen.length - 1] !== now) seen.push(now);
        document.body.dataset.seen = seen.join();
    }).observe(where, { childList: true });
}"""
"""Writes down what the cursor says, in its order."""

NUMBERS = "all => all.map(e => e.dataset.bar)"
LEADING_S = 1.5
"""The Stand opens the microphone a second before it starts the band; the take waits as long."""


def test_the_cursor_follows_the_band(studio: str, browser: Open) -> None:
    """Two bars again and again: they are lit in turn, and nothing comes between them."""
    with browser(studio) as page:
        put_on_stand(page)
        at_tempo(page, FASTEST)
        page.get_by_label("from", exact=True).fill("2")
        page.get_by_label("to", exact=True).fill("3")
        page.get_by_label("again and again").check()
        page.evaluate(SEEN)
        page.locator("h1").click()
        page.keyboard.press("Space")
        page.get_by_role("button", name="Stop").wait_for()
        turns = "count-in,bar 2,bar 3,bar 2,bar 3,bar 2"
        page.locator(f'body[data-seen^="{turns}"]').wait_for(timeout=60_000)
        page.get_by_label("bass", exact=True).uncheck()
        page.get_by_label("Level of drums").fill("0.5")
        page.locator("h1").click()
        page.keyboard.press("PageDown")
        page.get_by_role("button", name="Play").wait_for()
        assert page.locator(".bar.now").count() == 0


def rendered(page: Any, loop: bool, seconds: float) -> NDArray[np.float32]:
    """What the Stand's own player sounds, rendered by the browser; one channel of it."""
    script = """async ([loop, seconds]) => {
        const told = JSON.parse(document.getElementById("stand").dataset.stand);
        const { Band } = await import("/static/band.js");
        const context = new OfflineAudioContext(2, 48000 * seconds, 48000);
        const band = new Band(context, told.stems);
        await band.load((name) => `${told.base}/stems/${name}`);
        const [first, last] = loop ? [1, 1] : [0, told.bars.length - 1];
        const span = { start_s: told.bars[first].start_s, end_s: told.bars[last].end_s };
        band.start(told.lead_s, span, loop);
        const sound = new Uint8Array((await context.startRendering()).getChannelData(0).buffer);
        let text = "";
        for (let i = 0; i < sound.length; i += 8192)
            text += String.fromCharCode(...sound.subarray(i, i + 8192));
        return btoa(text);
    }"""
    told = base64.b64decode(page.evaluate(script, [loop, seconds]))
    return np.frombuffer(told, dtype=np.float32)


def stems_of(page: Any, folder: Path) -> NDArray[np.float32]:
    """The sum of the stems as files, decoded by soundfile; one channel of it."""
    total = np.zeros(0, dtype=np.float32)
    for name in ("count-in", "drums", "bass", "comping", "line"):
        path = folder / f"{name}.flac"
        path.write_bytes(page.request.get(f"{page.url}/stems/{name}").body())
        sound = soundfile.read(path, dtype="float32", always_2d=True)[0][:, 0]
        total = sound if not len(total) else total + sound
    return total


def test_the_stems_sound_together_to_the_frame(studio: str, browser: Open, tmp_path: Path) -> None:
    """Bar: 0 frames, 1 LSB of 16 bits, against libsndfile's decoding of the same files."""
    with browser(studio) as page:
        put_on_stand(page)
        heard, asked = rendered(page, False, 20), stems_of(page, tmp_path)
    start = round(0.2 * RATE)
    assert not heard[:start].any()
    count = len(heard) - start
    assert np.abs(heard[start:] - asked[:count]).max() <= 1 / 32768


def test_a_loop_joins_on_its_frames(studio: str, browser: Open, tmp_path: Path) -> None:
    """Bar 2 again and again is bar 2 cut out of the files and laid end to end."""
    with browser(studio) as page:
        put_on_stand(page)
        heard, asked = rendered(page, True, 17), stems_of(page, tmp_path)
    bar_s = 4 * 60 / 68
    one = asked[round(2 * bar_s * RATE) : round(3 * bar_s * RATE)]
    start = round(0.2 * RATE) + round(bar_s * RATE)
    laid = np.tile(one, 4)[: len(heard) - start]
    assert len(laid) > 3.5 * len(one)
    assert np.abs(heard[start:] - laid).max() <= 1 / 32768


def test_a_take_is_recorded_and_heard(
    studio: str, browser: Open, take: Path, tmp_path: Path
) -> None:
    """A real microphone path: the browser's fake device plays the demo's take into the page."""
    sound, rate = soundfile.read(take, dtype="float32")
    silence = np.zeros((round(LEADING_S * rate), sound.shape[1]), dtype=np.float32)
    mic = tmp_path / "mic.wav"
    soundfile.write(mic, np.concatenate([silence, sound]), rate, subtype="PCM_16")
    with browser(studio, mic=mic) as page:
        at = put_on_stand(page)
        page.get_by_role("button", name="Record", exact=True).click()
        agree(page)
        page.get_by_role("button", name="Stop and send").wait_for()
        said(page, "Heard")
        verdict = verdict_of(page)
        assert {bar for bar, word in verdict.items() if word == "missed"} == wrong_bars()
        marked = page.locator("#score .bar.missed").evaluate_all(NUMBERS)
        assert {int(number) for number in marked} == wrong_bars(), "and marked on the music"
        words = page.locator("#verdict").inner_text()
        assert words.index("your own ears") < words.index("What the machine heard")
        page.goto(at)
        page.get_by_role("link", name="Take 1").click()
        assert verdict_of(page) == verdict
        page.get_by_role("button", name="Delete this take").click()
        page.get_by_text("None yet.").wait_for()


def test_a_phones_recording_is_heard_the_same(
    studio: str, browser: Open, take: Path, tmp_path: Path
) -> None:
    """A phone starts when it likes, and writes its own kind of file."""
    sound, rate = soundfile.read(take, dtype="float32")
    late = np.zeros((round(0.4 * rate), sound.shape[1]), dtype=np.float32)
    phone = tmp_path / "phone.mp3"
    soundfile.write(phone, np.concatenate([late, sound]), rate)
    with browser(studio, width=390, height=844) as page:
        put_on_stand(page)
        page.get_by_label("A recording", exact=True).set_input_files(phone)
        agrees = page.get_by_label("I agree that the recording is kept")
        if agrees.count():
            agrees.check()
        page.get_by_role("button", name="Send it", exact=True).click()
        agree(page)
        verdict = verdict_of(page)
    assert {bar for bar, word in verdict.items() if word == "missed"} == wrong_bars()
    assert len(PLANTED) == 3
