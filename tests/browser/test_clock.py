"""The clocks of band and microphone: measured once, told again by every take, and watched.

The loop of ``loop.js`` stands for loudspeaker, room and microphone: its lateness is known to the
frame. Bars: a calibration spreads by 0.1 ms at most, a take lies within 1 ms, and a slip of 10, 20
or 30 ms is noticed. Source: measured with prototypes, see the studio's page.
"""

import io
import json
from typing import Any

import numpy as np
import pytest
import soundfile
from scipy.signal import resample_poly

from tests.browser.conftest import Open
from tests.browser.standing import FASTEST, agree, at_tempo, on_loop, said, still

pytestmark = pytest.mark.slow


def measure(page: Any) -> None:
    """Measure the device, as its owner would."""
    button = page.get_by_role("button", name="Measure this device")
    if not button.is_visible():
        page.locator("summary").get_by_text("Keys and sound").click()
    button.click()
    page.get_by_role("dialog").get_by_role("button", name="Play the ticks").click()


def stored(page: Any) -> list[dict[str, float]]:
    """What this browser keeps of latencies."""
    return list(page.evaluate("Object.values(JSON.parse(localStorage.latency ?? '{}'))"))


def recorded(page: Any) -> tuple[dict[str, Any], bytes]:
    """Record a fast chorus to its end: what the recorder told of it, and the recording as kept."""
    at_tempo(page, FASTEST)
    with page.expect_request("**/whole", timeout=120_000) as asked:
        page.get_by_role("button", name="Record", exact=True).click()
        agree(page)
    page.locator("#verdict article").wait_for(timeout=120_000)
    key = page.locator("#verdict article").get_attribute("data-key")
    sound = page.request.get(f"{page.url}/takes/{key}/sound").body()
    return json.loads(asked.value.post_data), sound


def lateness_s(page: Any, sound: bytes) -> float:
    """How late a kept recording is on the count-in, by correlation in numpy."""
    heard, rate = soundfile.read(io.BytesIO(sound))
    address = f"{page.url}/stems/count-in?tempo={FASTEST}"
    stem, own = soundfile.read(io.BytesIO(page.request.get(address).body()), always_2d=True)
    count_in = resample_poly(stem.mean(axis=1), rate, own)
    length = round(4 * 60 / FASTEST * rate)
    size = 4 * length
    there = np.fft.rfft(np.diff(heard[: 2 * length]), size)
    asked = np.fft.rfft(np.diff(count_in[:length]), size)
    match = np.fft.irfft(there * np.conj(asked))
    lag = int(np.argmax(np.abs(match)))
    return (lag if lag < size // 2 else lag - size) / rate


def test_a_device_is_measured_once(studio: str, browser: Open) -> None:
    """Five measurements of one loop, each by a page of its own."""
    with browser(studio) as page:
        on_loop(page, delay_s=0.0973, bleed=0.02)
        found = []
        for turn in range(5):
            if turn:
                page.reload()
                still(page)
                page.evaluate("window.loop.delay_s = 0.0973; window.loop.bleed = 0.02")
            measure(page)
            said(page, "Measured: this device hears itself 97 ms late")
            found += [one["lag_s"] for one in stored(page)]
        assert max(abs(lag - 0.0973) for lag in found) < 0.0001
        assert max(found) - min(found) <= 0.0001
        assert not page.locator("#hint").is_visible()


def test_ticks_that_are_not_heard_measure_nothing(studio: str, browser: Open) -> None:
    with browser(studio) as page:
        on_loop(page, bleed=0.0)
        measure(page)
        said(page, "The ticks were not heard")
        assert stored(page) == []


@pytest.mark.parametrize("delay_s", [0.0931, 0.1231])
def test_a_take_tells_its_own_lateness(studio: str, browser: Open, delay_s: float) -> None:
    """Nothing was measured before: the count-in alone lays the take on the band's clock."""
    with browser(studio) as page:
        on_loop(page, delay_s=delay_s, bleed=0.05)
        told, sound = recorded(page)
        assert told["anchor"] == "count-in"
        assert told["skip"] / told["rate"] == pytest.approx(delay_s, abs=0.0002)
        assert told["slip_s"] == 0
        assert abs(lateness_s(page, sound)) <= 0.001


@pytest.mark.parametrize("by_s", [0.010, -0.020, 0.030])
def test_a_slip_within_a_take_is_noticed(studio: str, browser: Open, by_s: float) -> None:
    with browser(studio) as page:
        on_loop(page, delay_s=0.1, bleed=0.05, slip={"by_s": by_s, "at_s": 5.0})
        told, sound = recorded(page)
        assert told["slip_s"] == pytest.approx(by_s, abs=0.0005)
        assert abs(lateness_s(page, sound)) <= 0.001, "its beginning is right all the same"
        words = page.locator("#verdict").inner_text()
        assert f"{round(1000 * abs(by_s))} ms" in words


def test_with_headphones_the_measured_lateness_counts(studio: str, browser: Open) -> None:
    """No bleed at all: the ticks of the count-in can't be heard, and nothing is claimed."""
    with browser(studio) as page:
        on_loop(page, delay_s=0.11, bleed=0.05)
        measure(page)
        said(page, "Measured: this device hears itself 110 ms late")
        page.evaluate("window.loop.way.heard.gain.value = 0")
        told, _ = recorded(page)
        assert told["anchor"] == "calibration"
        assert told["skip"] / told["rate"] == pytest.approx(0.11, abs=0.0002)
        assert told["slip_s"] is None
