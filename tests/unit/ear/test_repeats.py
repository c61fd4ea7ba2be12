"""Notes struck anew are notes of their own; held ones with vibrato or a swell are one.

Nobody can slur a note to itself: common practice, no source.
"""

from dataclasses import replace
from itertools import pairwise

import pytest
from benchmarks import takes
from benchmarks.heard import cut_in_two
from benchmarks.repeats import Repeats, figures_of
from benchmarks.takes import Played, Shape

from changewright.ear.audio import Audio
from changewright.ear.take import HeardNote
from changewright.ear.transcribe import transcribe
from changewright.theory.instrument import instrument

HARD, LEGATO = (60.0, 0.035), (10.0, 0.025)
VOICES = [("reed", "tenor saxophone"), ("odd reed", "clarinet"), ("brass", "trumpet")]


def heard(line: list[Played], timbre: str, player: str, room: str = "clean") -> list[HeardNote]:
    sound = takes.render(line, takes.synthetic_bank(timbre, 4), line[-1].onset_s + 2).samples
    audio = Audio(takes.through(room, sound, 4), takes.RATE)
    return list(transcribe(audio, instrument=instrument(player)).notes)


@pytest.mark.parametrize(("timbre", "player"), VOICES)
@pytest.mark.parametrize("tongue", [HARD, LEGATO])
@pytest.mark.parametrize("room", ["clean", "phone"])
def test_a_note_that_is_tongued_again_is_another_note(
    timbre: str, player: str, tongue: tuple[float, float], room: str
) -> None:
    line = [Played(0.5 + 0.25 * k, 0.25, 60, damped=tongue if k else None) for k in range(6)]
    found = heard(line, timbre, player, room)
    assert [n.midi for n in found] == [60] * 6
    for played, note in zip(line, found, strict=True):
        assert note.onset_s == pytest.approx(played.onset_s, abs=0.05)


@pytest.mark.parametrize(("timbre", "player"), VOICES)
@pytest.mark.parametrize(
    "shape", [Shape(cents=30, shake_db=3), Shape(swell_db=12), Shape(swell_db=-12)], ids=str
)
def test_vibrato_and_swells_are_no_tongue(timbre: str, player: str, shape: Shape) -> None:
    line = [Played(0.5, 1.5, 62, shape=shape), Played(2.1, 0.5, 65)]
    assert [n.midi for n in heard(line, timbre, player)] == [62, 65]


def test_in_a_room_a_note_begins_at_its_attack_not_where_the_tail_of_another_ends() -> None:
    line = [Played(0.5 + 0.4 * k, 0.36, 58 + (0, 5, 3, 8, 1, 6)[k]) for k in range(6)]
    truth = takes.render(line, takes.synthetic_bank("reed", 4), 5.0).truth
    found = heard(line, "reed", "tenor saxophone", "reverb")
    for onset, _, midi in truth:
        assert any(abs(n.onset_s - onset) < 0.05 and n.midi == midi for n in found), (onset, midi)


@pytest.mark.parametrize("plucked", [False, True])
def test_the_test_lines_slur_no_note_to_itself(plucked: bool) -> None:
    for seed in range(30):
        lines = (
            takes.improvised(seed, 160, 50, 74, 6, plucked),
            takes.repeating(seed, 160, 50, 74, plucked=plucked),
        )
        for one, other in (pair for line in lines for pair in pairwise(line)):
            gap = other.onset_s - one.onset_s - one.length_s
            if one.midi == other.midi and gap < 0.06:
                assert other.damped is not None
                assert not other.slurred


def test_a_damped_note_falls_by_what_is_said_and_ends_there() -> None:
    line = [Played(0.1, 0.5, 60), Played(0.6, 0.5, 60, damped=(60.0, 0.05))]
    played = takes.render(line, takes.synthetic_bank("bowed", 1), 1.2)
    at = round(0.585 * takes.RATE)
    assert abs(played.samples[at : at + 300]).max() < 0.01 * abs(played.samples).max()
    assert played.truth[0][1] == pytest.approx(0.55)


def test_a_held_note_in_two_pieces_is_counted_and_its_onset_is_not() -> None:
    whole = HeardNote(0.52, 1.9, 60.0, 0.0, -12.0, 0.9)
    truth = [(0.5, 2.0, 60.0), (2.1, 2.4, 60.0)]
    assert cut_in_two(truth, [0], [whole]) == 0
    assert cut_in_two(truth, [0], [whole, replace(whole, onset_s=1.2)]) == 1
    assert cut_in_two(truth, [], [whole, replace(whole, onset_s=1.2)]) == 0


def test_the_figures_count_what_is_struck_anew_by_room() -> None:
    truth = [(0.5, 0.7, 60.0), (0.75, 1.0, 60.0), (1.1, 2.5, 62.0)]
    sound = Audio(takes.synthetic_bank("reed", 1)(60, 1.0, 0.8, False), takes.RATE)
    cases = [Repeats("clarinet", room, truth, (2,), sound) for room in ("clean", "phone")]
    first = HeardNote(0.5, 0.7, 60.0, 0.0, -12.0, 0.9)
    told = {
        "clean": [first, replace(first, onset_s=0.75, end_s=1.0)],
        "phone": [first, replace(first, onset_s=1.8, end_s=2.5, pitch=62.0)],
    }
    figures = {f.name: f.value for f in figures_of(cases, lambda case: told[case.condition])}
    assert figures["ear.struck_anew.recall.clean"] == 1
    assert figures["ear.struck_anew.recall.phone"] == 0
    assert figures["ear.held_cut_in_two.clean"] == 0
    assert figures["ear.held_cut_in_two.phone"] == 1
    assert figures["ear.struck_anew.count.clean"] == figures["ear.held.clean"] == 1
