"""A take that is followed while it is played gets the verdict that its recording gets."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from changewright.jobs.turns import Turns
from changewright.sound.stems import render
from changewright.store.records import Take
from changewright.studio.follower import GIVEN_UP_S, MOST, Follower
from changewright.studio.part import Part
from changewright.studio.pieces import Pieces, Telling
from changewright.usecases.demo import DEMO, PLANTED, play_with_mistakes
from changewright.usecases.lesson import plan_lesson
from changewright.usecases.lesson_folder import write_lesson
from changewright.usecases.roster import hearing_and_evidence

RATE = 48_000
LATE_S = 0.1
TAKE = Take("tenor", datetime(2026, 1, 5, tzinfo=UTC), "wav", id="take")


class Played(NamedTuple):
    """A lesson with one exercise, and what a microphone heard: silence first, as a device is
    late."""

    part: Part
    sound: bytes


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """Twelve bars in a quarter of a minute, with three mistakes and a little of the band."""
    folder = tmp_path_factory.mktemp("followed") / "lesson"
    lesson = plan_lesson(replace(DEMO, families=("root-up",), tempo_bpm=200))
    write_lesson(lesson, folder, pages=False)
    stems = render(play_with_mistakes(lesson.exercises[0], PLANTED))
    line = stems["line"]
    sound = (line + 0.06 * (stems.mix - line)).mean(axis=1)
    late = np.concatenate([np.zeros(round(LATE_S * RATE)), sound])
    whole = np.rint(32767 * np.clip(late, -1, 1)).astype("<i2")
    return Played(Part(folder, 1, "F"), whole.tobytes())


def telling(pieces: int) -> Telling:
    return Telling(pieces, RATE, round(LATE_S * RATE), "count-in", 0.0, 0, None, None)


def cut(sound: bytes) -> list[bytes]:
    return [sound[n : n + 2 * RATE] for n in range(0, len(sound), 2 * RATE)]


@pytest.mark.slow
def test_the_verdict_is_that_of_the_recording(played: Played, tmp_path: Path) -> None:
    pieces, follower = Pieces(tmp_path), Follower(Turns())
    parts = cut(played.sound)
    follower.begin("take", played.part)
    for number, piece in enumerate(parts):
        pieces.put("take", number, piece)
        follower.hear("take", pieces.at("take"), RATE)
    told = telling(len(parts))
    verdict = follower.finish("take", pieces.at("take"), told, TAKE)
    assert verdict is not None
    recording = tmp_path / "recording.wav"
    recording.write_bytes(pieces.wav("take", told))
    heard, evidence = hearing_and_evidence(recording, played.part.folder, 1, TAKE)
    for document in (verdict[0], heard):
        missed = {bar["bar"] for bar in document["bars"] if bar["missed"]}
        assert missed == {one.bar for one in PLANTED}
    assert len(verdict[1]) == len(evidence)


def test_a_take_with_a_hole_is_left_to_its_recording(played: Played, tmp_path: Path) -> None:
    pieces, follower = Pieces(tmp_path), Follower(Turns())
    follower.begin("take", played.part)
    for number in (0, 2):
        pieces.put("take", number, cut(played.sound)[number])
        follower.hear("take", pieces.at("take"), RATE)
    assert follower.finish("take", pieces.at("take"), telling(3), TAKE) is None
    assert follower.parts == {}


def test_a_take_that_is_not_followed_is_left_to_its_recording(tmp_path: Path) -> None:
    follower = Follower(Turns())
    follower.hear("take", tmp_path, RATE)
    assert follower.finish("take", tmp_path, telling(3), TAKE) is None


def test_only_so_many_are_followed_and_none_for_ever(played: Played) -> None:
    now = [0.0]
    follower = Follower(Turns(), now=lambda: now[0])
    for number in range(MOST + 1):
        follower.begin(f"take {number}", played.part)
    assert len(follower.parts) == MOST
    assert f"take {MOST}" not in follower.parts
    now[0] = GIVEN_UP_S + 1
    follower.begin("another", played.part)
    assert list(follower.parts) == ["another"]
