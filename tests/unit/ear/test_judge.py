from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from changewright.ear.hearing import Fault, Hearing, Verdict
from changewright.ear.judge import judge
from changewright.ear.take import HeardNote, Take
from changewright.music.promise import Approached, Climbs, Holds, Lands, Promise, Rests, Steps
from changewright.theory.pitch import Degree
from tests.unit.ear.exercises import Slot, clock_of, exact_take, root_up, slots


def heard(change: Callable[[list[Slot], float], list[Slot]], latency: float = 0.05) -> Hearing:
    sheet = root_up()
    beat = clock_of(sheet).quarter_s
    return judge(sheet, exact_take(change(slots(sheet, latency), beat)), clock_of(sheet))


def named(hearing: Hearing) -> list[tuple[int, str, Fault]]:
    return [(m.bar, m.beat, m.fault) for m in hearing.mistakes]


def test_what_is_asked_is_met_missed_or_unsure_and_nothing_is_lost() -> None:
    hearing = heard(lambda played, _: played[:20])
    for bar in hearing.bars:
        sorted_out = [f.ask for f in (*bar.met, *bar.missed, *bar.unsure)]
        assert sorted(map(repr, sorted_out)) == sorted(map(repr, bar.asked))


def test_a_wrong_note_is_one_mistake_though_it_breaks_a_promise_too() -> None:
    def change(played: list[Slot], _: float) -> list[Slot]:
        played[8] = replace(played[8], midi=played[8].midi + 2)
        return played

    hearing = heard(change)
    assert named(hearing) == [(3, "1", Fault.WRONG_NOTE)]
    assert [f.ask.kind for f in hearing.mistakes[0].findings] == ["note", "lands", "stays"]


def test_another_octave_is_reported_not_failed() -> None:
    hearing = heard(lambda played, _: [replace(s, midi=s.midi - 12) for s in played])
    assert named(hearing) == []
    assert hearing.bars[0].met[0].heard is not None


def test_a_player_tuned_low_is_not_out_of_tune_with_himself() -> None:
    sheet = root_up()
    low = tuple(replace(n, pitch=n.pitch - 0.45) for n in exact_take(slots(sheet)).notes)
    low = tuple(replace(n, cents=0.0) for n in low)
    take = Take(low, 60.0, tuning_hz=440 * 2 ** (-0.45 / 12), source="midi")
    assert named(judge(sheet, take, clock_of(sheet))) == []


def test_coming_an_eighth_early_is_an_anticipation_and_right() -> None:
    def change(played: list[Slot], beat: float) -> list[Slot]:
        played[16] = replace(played[16], onset_s=played[16].onset_s - beat / 2)
        played[15] = replace(played[15], length_s=0.4 * beat)
        return played

    assert named(heard(change)) == []


def test_a_note_half_a_beat_late_is_late_and_a_tenth_is_not() -> None:
    def late(by: float) -> list[tuple[int, str, Fault]]:
        def change(played: list[Slot], beat: float) -> list[Slot]:
            slot = played[12]
            played[12] = replace(slot, onset_s=slot.onset_s + by * beat, length_s=0.3 * beat)
            return played

        return named(heard(change))

    assert late(0.1) == []
    assert late(0.55) == [(4, "1", Fault.LATE)]


def test_drifting_is_measured_and_not_taken_for_wrong_notes() -> None:
    def change(played: list[Slot], beat: float) -> list[Slot]:
        return [replace(s, onset_s=s.onset_s + 0.7 * beat * k / 48) for k, s in enumerate(played)]

    hearing = heard(change)
    assert named(hearing) == []
    assert hearing.timing.drift_beats == pytest.approx(0.6, abs=0.15)


def test_notes_the_listener_is_not_sure_of_get_no_verdict() -> None:
    sheet = root_up()
    take = exact_take(slots(sheet))
    doubtful = replace(take.notes[5], pitch=take.notes[5].pitch + 1, confidence=0.4)
    notes = (*take.notes[:5], doubtful, *take.notes[6:])
    hearing = judge(sheet, replace(take, notes=notes), clock_of(sheet))
    assert named(hearing) == []
    assert [f.ask.beat for f in hearing.bars[1].unsure if f.ask.kind == "note"] == ["2"]


def test_one_long_tone_over_a_repeated_note_is_not_called_a_missing_note() -> None:
    """A listener misses re-attacks: what sounds there is what is asked, so nothing is said."""
    sheet = root_up()
    line = sheet.line
    same = replace(line.notes[5], pitch=line.notes[4].pitch)
    notes = (*line.notes[:5], same, *line.notes[6:])
    again = sheet.with_line(line.with_(notes), ())
    played = slots(again)
    played[4] = replace(played[4], length_s=2 * played[4].length_s)
    del played[5]
    assert named(judge(again, exact_take(played), clock_of(again))) == []


def test_a_lost_bar_is_one_mistake_not_thirty() -> None:
    def change(played: list[Slot], beat: float) -> list[Slot]:
        ahead = [replace(s, onset_s=s.onset_s - 4 * beat) for s in played[36:]]
        return played[:32] + ahead

    assert named(heard(change)) == [(9, "1", Fault.FORM)]


@pytest.mark.parametrize("notes", [0, 2])
def test_a_silent_take_is_nothing_to_judge(notes: int) -> None:
    sheet = root_up()
    hearing = judge(sheet, exact_take(slots(sheet)[:notes]), clock_of(sheet))
    assert not hearing.judged
    assert "nothing to judge" in hearing.reason


def test_a_wrong_tune_is_not_judged() -> None:
    sheet = root_up()
    rng = np.random.default_rng(3)
    notes = [
        HeardNote(t, t + 0.3, float(rng.integers(50, 75)), 0.0, -20.0, 0.95)
        for t in np.arange(2.0, 30.0, 0.41)
    ]
    hearing = judge(sheet, Take(tuple(notes), 31.0, source="midi"), clock_of(sheet))
    assert not hearing.judged
    assert "right exercise" in hearing.reason


def test_too_many_uncertain_places_are_not_judged() -> None:
    sheet = root_up()
    take = exact_take(slots(sheet))
    vague = [replace(n, pitch=n.pitch + 6, confidence=0.3) for n in take.notes[::3]]
    clear = [n for k, n in enumerate(take.notes) if k % 3]
    both = tuple(sorted((*vague, *clear)))
    hearing = judge(sheet, replace(take, notes=both), clock_of(sheet))
    assert not hearing.judged
    assert "could not be heard clearly" in hearing.reason


def promise_verdict(promise: Promise, change: Callable[[list[Slot]], None]) -> Verdict:
    sheet = root_up()
    played = slots(sheet)
    change(played)
    asked = sheet.with_line(sheet.line, (promise,))
    hearing = judge(asked, exact_take(played), clock_of(asked))
    return next(f.verdict for f in hearing.findings if f.ask.promise == promise)


def to(index: int, midi: int) -> Callable[[list[Slot]], None]:
    def change(played: list[Slot]) -> None:
        played[index] = replace(played[index], midi=midi)

    return change


def nothing(_: list[Slot]) -> None:
    return None


@pytest.mark.parametrize(
    ("promise", "change", "verdict"),
    [
        (Lands(Fraction(4), (Degree(1),)), nothing, Verdict.MET),
        (Lands(Fraction(4), (Degree(1),)), to(4, 54), Verdict.MISSED),
        (Lands(Fraction(4), (Degree(1), Degree(3))), to(4, 57), Verdict.MET),
        (Steps(Fraction(4), 2), to(4, 62), Verdict.MET),  # Eb4 (MIDI 63) comes before it
        (Steps(Fraction(4), 2), nothing, Verdict.MET),
        (Steps(Fraction(5), 2), nothing, Verdict.MISSED),
        (Holds(Fraction(4), Fraction(3, 4)), nothing, Verdict.MET),
        (Holds(Fraction(4), Fraction(3)), nothing, Verdict.MISSED),
        (Rests(Fraction(4), Fraction(8)), nothing, Verdict.MISSED),
        (Climbs(Fraction(4), Fraction(8)), nothing, Verdict.MET),
        (Climbs(Fraction(4), Fraction(8)), to(6, 55), Verdict.MISSED),
        (Approached(Fraction(4), (2,)), to(3, 55), Verdict.MET),
        (Approached(Fraction(4), (-1,)), to(3, 55), Verdict.MISSED),
    ],
)
def test_promises(promise: Promise, change: Callable[[list[Slot]], None], verdict: Verdict) -> None:
    """The exercise is F A C Eb in every bar of F7 (MIDI 53 57 60 63 for the tenor)."""
    assert [s.midi for s in slots(root_up())[:4]] == [53, 57, 60, 63]
    assert promise_verdict(promise, change) is verdict


def test_in_a_blank_the_players_own_notes_are_judged_by_the_promises_alone() -> None:
    """Bars 3 and 4 are left open: any chord tone will do there, in any order; G (MIDI 67) won't."""
    sheet = root_up()
    notes = tuple(replace(n, blank=8 <= n.onset < 16) for n in sheet.line.notes)
    free = sheet.with_line(sheet.line.with_(notes))
    played = slots(free)
    order = [played[k].midi for k in (11, 9, 8, 10)]
    for k, midi in enumerate(order):
        played[8 + k] = replace(played[8 + k], midi=midi)
    del played[13]
    free = replace(free, promises=tuple(p for p in free.promises if not isinstance(p, Lands)))
    assert named(judge(free, exact_take(played), clock_of(free))) == []
    played[9] = replace(played[9], midi=67)
    assert named(judge(free, exact_take(played), clock_of(free))) == [(3, "2", Fault.NOT_KEPT)]
