from fractions import Fraction
from itertools import pairwise

import pytest

from changewright.band.clocks import clocks_of
from changewright.band.perform import perform_line
from changewright.music.line import Line, Note
from changewright.music.performance import Event
from changewright.music.sheet import Recipe, Sheet
from changewright.theory.instrument import instrument
from changewright.theory.pitch import Pitch
from tests.unit.band.material import BLUES, reading

EIGHTH = Fraction(1, 2)


def sheet(notes: list[tuple[Fraction, Fraction, str]], player: str = "tenor saxophone") -> Sheet:
    changes = reading(BLUES)
    line = tuple(Note(at, length, Pitch.parse(pitch)) for at, length, pitch in notes)
    return Sheet(
        recipe=Recipe("", "etude", 3, "F", player, 1),
        title="Low Water",
        instruction="",
        key=changes.key,
        instrument=instrument(player),
        bars=changes.bars,
        line=Line(line, changes.bars[-1].end),
        promises=(),
        tempo_bpm=150,
    )


SCALE = ("F3", "G3", "A3", "Bb3", "C4", "D4", "Eb4", "F4")
RISING = sheet([(k * EIGHTH, EIGHTH, SCALE[k]) for k in range(8)])


def events(made: Sheet, **how: object) -> tuple[Event, ...]:
    return perform_line(made, **how).events  # type: ignore[arg-type]


def test_the_line_is_the_sheet_s_on_its_instrument() -> None:
    part = perform_line(RISING)
    assert (part.name, part.program, part.is_drums) == ("line", 66, False)
    assert [e.midi for e in part.events] == [Pitch.parse(p).midi for p in SCALE]


def test_eighths_swing_less_than_the_ride_s() -> None:
    # Corcoran and Frieler 2021: soloists typically 1.3:1; Friberg and Sundström 2002: the soloist
    # is straighter than the ride and behind it on the beat
    clock = clocks_of("swing", 150)
    played = [events(RISING, seed=seed) for seed in range(40)]
    long_s = [e[k + 1].onset_s - e[k].onset_s for e in played for k in (0, 2, 4, 6)]
    short_s = [e[k + 1].onset_s - e[k].onset_s for e in played for k in (1, 3, 5)]
    ratio = (sum(long_s) / len(long_s)) / (sum(short_s) / len(short_s))
    assert 1.1 < ratio < 1.5 < clock.band.swing_ratio
    late = [e[0].onset_s - clock.band.to_seconds(Fraction(0)) for e in played]
    assert 0.004 < sum(late) / len(late) < 0.019


def test_every_note_stays_near_its_clock() -> None:
    clock = clocks_of("swing", 150).line
    for seed in range(20):
        for note, event in zip(RISING.line.notes, events(RISING, seed=seed), strict=True):
            assert -0.01 < event.onset_s - clock.to_seconds(note.onset) < 0.025


def test_dynamics_follow_the_contour_and_upbeats_are_accented() -> None:
    mean = [sum(events(RISING, seed=s)[k].velocity for s in range(30)) / 30 for k in range(8)]
    assert mean[6] > mean[0]
    assert all(mean[k] > (mean[k - 1] + mean[k + 1]) / 2 for k in (1, 3, 5))


def test_eighths_are_joined_and_the_last_is_short() -> None:
    played = events(RISING)
    for one, after in pairwise(played):
        assert one.duration_s <= after.onset_s - one.onset_s + 0.02
    joined = [a.duration_s / (b.onset_s - a.onset_s) for a, b in pairwise(played)]
    assert min(joined) > 0.85
    assert played[-1].duration_s < 0.6 * played[-2].duration_s * 2


def test_a_repeated_note_is_tongued() -> None:
    twice = sheet([(Fraction(0), Fraction(1), "A3"), (Fraction(1), Fraction(1), "A3")])
    assert events(twice)[0].duration_s == pytest.approx(0.8 * 0.4, abs=0.001)


def test_choruses_repeat_the_line_with_another_touch() -> None:
    twice = events(RISING, choruses=2)
    assert [e.midi for e in twice[:8]] == [e.midi for e in twice[8:]]
    apart = [b.onset_s - a.onset_s for a, b in zip(twice[:8], twice[8:], strict=True)]
    assert apart == pytest.approx([48 * 0.4] * 8, abs=0.03)
    assert len(set(apart)) > 1


def test_the_same_seed_plays_the_same() -> None:
    assert events(RISING, seed=3) == events(RISING, seed=3) != events(RISING, seed=4)


def test_an_empty_line_is_silent() -> None:
    assert events(sheet([])) == ()
