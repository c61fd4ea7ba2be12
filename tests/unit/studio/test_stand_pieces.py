"""The Stand's own doors: a take that comes in pieces, another tempo and key, pages without a
network."""

import json
from secrets import token_hex
from typing import Any

import numpy as np
import pytest
import soundfile

from changewright.store.records import Heard, Take
from tests.unit.studio.manners import SAME, Made
from tests.unit.studio.test_stand import told

RATE = 8_000
SILENCE = np.zeros(RATE, dtype="<i2").tobytes()
TELLING = {
    "pieces": 2,
    "rate": RATE,
    "skip": 100,
    "anchor": "count-in",
    "slip_s": None,
    "lost": 0,
    "tempo": None,
    "key": None,
}


def put(made: Made, key: str, number: int, sound: bytes = SILENCE) -> Any:
    return made.client.put(f"{made.at}/1/takes/{key}/pieces/{number}", content=sound, headers=SAME)


def finish(made: Made, take: str, **other: Any) -> Any:
    body = json.dumps(TELLING | other)
    return made.client.post(f"{made.at}/1/takes/{take}/whole", content=body, headers=SAME)


@pytest.fixture
def agreed(fresh: Made) -> Made:
    fresh.client.post(f"{fresh.at}/consent", headers=SAME)
    return fresh


def test_pieces_become_one_take_from_the_bands_clock_on(agreed: Made) -> None:
    key = token_hex(16)
    rising = np.arange(2 * RATE, dtype="<i2")
    assert put(agreed, key, 1, rising[RATE:].tobytes()).status_code == 204
    assert put(agreed, key, 0, rising[:RATE].tobytes()).status_code == 204
    answer = finish(agreed, key)
    assert answer.status_code == 200
    assert f'data-key="{key}"' in answer.text
    (take,) = agreed.store.all(Take)
    sound, rate = soundfile.read(agreed.store.blobs.path(take.blob), dtype="int16")
    assert rate == RATE
    assert (sound == rising[100:]).all()
    assert list((agreed.root / "coming").iterdir()) == [], "the pieces are gone"


def test_what_got_lost_is_asked_for_again(agreed: Made) -> None:
    key = token_hex(16)
    put(agreed, key, 2)
    answer = finish(agreed, key, pieces=4)
    assert answer.status_code == 409
    assert answer.json() == {"missing": [0, 1, 3]}
    assert agreed.store.all(Take) == ()
    for number in (0, 1, 3):
        put(agreed, key, number)
    assert finish(agreed, key, pieces=4).status_code == 200


def test_a_take_told_whole_twice_is_kept_once(agreed: Made) -> None:
    """The answer to the first may have been lost on the way: the pieces are gone by then."""
    key = token_hex(16)
    for number in (0, 1):
        put(agreed, key, number)
    first, again = finish(agreed, key), finish(agreed, key)
    assert again.status_code == 200
    assert first.text == again.text
    assert len(agreed.store.all(Take)) == len(agreed.store.all(Heard)) == 1


def test_no_piece_is_kept_before_somebody_agreed(fresh: Made) -> None:
    answer = put(fresh, token_hex(16), 0)
    assert answer.status_code == 422
    assert "nobody has agreed" in answer.text
    assert not (fresh.root / "coming").exists()


@pytest.mark.parametrize("key", ["x", "A" * 32, "0" * 33, "..%2F..%2Fetc"])
def test_a_piece_needs_a_key_of_the_right_shape(agreed: Made, key: str) -> None:
    assert put(agreed, key, 0).status_code in (404, 422)
    assert finish(agreed, key).status_code in (404, 422)
    assert not (agreed.root / "coming").exists()


def test_what_the_recorder_knew_is_kept_with_the_hearing(agreed: Made) -> None:
    key = token_hex(16)
    for number in (0, 1):
        put(agreed, key, number)
    finish(agreed, key, slip_s=0.02, tempo=90, key="Ab")
    (heard,) = agreed.store.all(Heard)
    assert heard.hearing["recorder"]["slip_s"] == 0.02
    assert heard.hearing["part"] == {"tempo": 90, "key": "Ab"}


def test_another_tempo_and_key_without_another_page(with_lesson: Made) -> None:
    client, at, _ = with_lesson
    page = told(client.get(f"{at}/1").text)
    part = client.get(f"{at}/1/part?tempo=136&in=Ab").json()
    assert part["tempo"] == 2 * page["tempo"]
    assert part["lead_s"] == pytest.approx(page["lead_s"] / 2)
    assert [bar["number"] for bar in part["bars"]] == [bar["number"] for bar in page["bars"]]
    assert part["bars"][-1]["end_s"] == pytest.approx(page["bars"][-1]["end_s"] / 2, abs=1e-5)
    assert part["words"] == "Concert Ab, quarter = 136."
    own, other = (
        client.get(f"{at}/1/{what}").content for what in ("systems?bars=4", "systems?bars=4&in=Ab")
    )
    assert own != other
    stems = [client.get(f"{at}/1/stems/bass{q}").content for q in ("", "?tempo=136&in=Ab")]
    assert len(stems[0]) > len(stems[1]) > 0


@pytest.mark.parametrize("query", ["tempo=0", "tempo=999", "tempo=fast", "tempo=-1", "in=H", "in="])
def test_a_part_that_nobody_can_play_is_refused(with_lesson: Made, query: str) -> None:
    client, at, _ = with_lesson
    assert client.get(f"{at}/1/part?{query}").status_code == 422


def test_the_same_tempo_and_key_is_the_lesson_itself(with_lesson: Made) -> None:
    client, at, root = with_lesson
    page = told(client.get(f"{at}/1").text)
    before = sorted(root.rglob("variants/*"))
    part = client.get(f"{at}/1/part?tempo={page['tempo']}&in={page['key']}").json()
    assert part == {name: page[name] for name in part}
    assert sorted(root.rglob("variants/*")) == before


def test_a_stand_can_be_kept_among_the_apps(with_lesson: Made) -> None:
    client, at, _ = with_lesson
    answer = client.get(f"{at}/1/app.webmanifest")
    assert answer.headers["content-type"].startswith("application/manifest+json")
    app = answer.json()
    assert app["start_url"] == f"{at}/1"
    for icon in app["icons"]:
        assert client.get(icon["src"]).content.startswith(b"\x89PNG")
    worker = client.get("/static/offline.js")
    assert worker.headers["service-worker-allowed"] == "/lessons/"


def test_memory_may_be_shared_with_the_audio(with_lesson: Made) -> None:
    """Cross-origin isolation. Source: HTML standard; without it there is no SharedArrayBuffer."""
    headers = with_lesson.client.get(f"{with_lesson.at}/1").headers
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert headers["cross-origin-embedder-policy"] == "require-corp"
