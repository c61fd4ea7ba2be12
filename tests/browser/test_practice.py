"""Practising with the band: another tempo, another key, some bars, a pedal, a tuner."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from tests.browser.conftest import Open
from tests.browser.journeys import put_on_stand, verdict_of, wrong_bars
from tests.browser.standing import FASTEST, agree, at_tempo, on_loop, play_into, said, still

pytestmark = pytest.mark.slow

QUICK = 200


def lead_s(page: Any) -> float:
    """How long the count-in is, as the Stand has it."""
    return float(page.evaluate("JSON.parse(document.getElementById('stand').dataset.stand).lead_s"))


def test_another_tempo_and_key_while_the_band_plays(studio: str, browser: Open) -> None:
    """No page is loaded again, and the band goes on by itself."""
    with browser(studio) as page:
        put_on_stand(page)
        page.evaluate("window.here = true")
        music = page.locator("#score").inner_html()
        page.get_by_role("button", name="Play", exact=True).click()
        page.get_by_role("button", name="Stop", exact=True).wait_for()
        at_tempo(page, 136)
        page.locator("#stand[data-state=playing]").wait_for()
        assert lead_s(page) == pytest.approx(4 * 60 / 136)
        page.get_by_label("Concert", exact=True).select_option("Ab")
        page.locator("#setting").get_by_text("Concert Ab, quarter = 136").wait_for()
        page.locator("#stand[data-state=playing]").wait_for()
        page.locator(".bar.now").first.wait_for(state="attached", timeout=60_000)
        assert page.locator("#score").inner_html() != music
        assert page.evaluate("window.here"), "the page is the same"


def test_what_nobody_can_play_leaves_all_as_it_was(studio: str, browser: Open) -> None:
    with browser(studio) as page:
        put_on_stand(page)
        page.get_by_label("Quarters a minute").fill("999")
        page.get_by_label("Quarters a minute").press("Enter")
        said(page, "It stays as it was.*Choose 30 to 320")
        assert page.get_by_label("Quarters a minute").input_value() == "68"
        assert page.locator("#setting").inner_text() == "Concert F, quarter = 68."


def test_a_pedal_and_the_keys(studio: str, browser: Open) -> None:
    with browser(studio) as page:
        on_loop(page, bleed=0.05)
        at_tempo(page, FASTEST - 4)
        page.locator("h1").click()
        page.keyboard.press("+")
        page.locator("#setting").get_by_text(f"quarter = {FASTEST}").wait_for(timeout=120_000)
        page.locator("h1").click()
        page.keyboard.press("PageDown")
        page.locator("#stand[data-state=playing]").wait_for()
        page.locator("#where").get_by_text("bar 3", exact=True).wait_for()
        page.keyboard.press("[")
        assert int(page.get_by_label("from", exact=True).input_value()) >= 3
        page.keyboard.press("l")
        assert page.get_by_label("again and again").is_checked()
        page.keyboard.press("PageDown")
        still(page)
        page.keyboard.press("PageUp")
        agree(page)
        page.locator("#stand[data-state=recording]").wait_for()
        page.keyboard.press("PageUp")
        page.locator("#verdict article").wait_for(timeout=120_000)


def test_a_take_at_another_tempo_is_heard_at_that_tempo(
    studio: str, browser: Open, tmp_path: Path
) -> None:
    """The demo's three mistakes, three times as fast, by way of the loop. With the band in the room
    the ear is careful: it may leave a mistake out, but it makes none up."""
    from dataclasses import replace

    from changewright.sound.stems import render
    from changewright.usecases.demo import DEMO, PLANTED, play_with_mistakes
    from changewright.usecases.lesson import plan_lesson

    exercise = plan_lesson(replace(DEMO, tempo_bpm=QUICK)).exercises[0]
    line = render(play_with_mistakes(exercise, PLANTED))["line"]
    soundfile.write(tmp_path / "quick.wav", line.mean(axis=1), 48_000)
    with browser(studio) as page:
        on_loop(page, delay_s=0.09, bleed=0.05)
        play_into(page, tmp_path / "quick.wav")
        at_tempo(page, QUICK)
        page.get_by_role("button", name="Record", exact=True).click()
        agree(page)
        said(page, "Heard")
        missed = {bar for bar, word in verdict_of(page).items() if word == "missed"}
        assert 3 in missed <= wrong_bars()
        assert f"Quarter = {QUICK}, concert F" in page.locator("#verdict").inner_text()


def test_the_tuner_names_what_the_player_reads(studio: str, browser: Open, tmp_path: Path) -> None:
    """A concert A of 440 Hz is a B for a tenor saxophone, and 20 cents are 20 cents."""
    with browser(studio) as page:
        on_loop(page, delay_s=0.0)
        script = """async () => {
            const { pitch, named } = await import("/static/tuner.js");
            const told = JSON.parse(document.getElementById("stand").dataset.stand);
            const said = [];
            for (const hertz of [440, 440 * 2 ** (0.2 / 12), 58.27, 1864.66]) {
                const sound = Float32Array.from({ length: 4096 }, (_, i) =>
                    [1, 2, 3, 4].reduce((sum, k) =>
                        sum + 0.2 / k * Math.sin(2 * Math.PI * k * hertz * i / 48000), 0));
                said.push(named(pitch(sound, 48000), told.written));
            }
            return { said, silence: pitch(new Float32Array(4096), 48000) };
        }"""
        told = page.evaluate(script)
        assert told["silence"] is None
        assert [one["name"] for one in told["said"]] == ["B5", "B5", "C3", "C8"]
        cents = np.array([one["cents"] for one in told["said"]])
        assert np.abs(cents - [0, 20, 0, 0]).max() <= 2
        page.locator("summary").get_by_text("Keys and sound").click()
        page.get_by_role("button", name="Tuner").click()
        page.get_by_text("Play a long note.").wait_for()
