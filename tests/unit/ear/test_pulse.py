"""Free takes: the pulse is found where it can be, and where it can't nothing is judged by time."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from changewright.ear.hearing import Fault
from changewright.ear.judge import judge_free
from changewright.ear.pulse import Pulse, pulse_of_exercise, pulse_of_solo
from changewright.ear.solo import study_solo
from changewright.ear.take import HeardNote, Take
from changewright.music.clock import Clock
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from tests.unit.ear.exercises import blues, root_up


def _take(bpm: float, lead_s: float = 0.0, *, drift: float = 0.0, late: int | None = None) -> Take:
    """Root-up in F at a tempo of the player's own; ``drift`` is the share by which it slows."""
    clock = Clock(bpm, 1.0)
    notes = []
    for k, note in enumerate(root_up().line.notes):
        at = clock.to_seconds(note.onset)
        at = lead_s + at * (1 + drift * at / 30) + (0.45 * clock.quarter_s if k == late else 0)
        notes.append(HeardNote(at, at + 0.35 * clock.quarter_s, note.pitch.midi, 0, -20, 0.95))
    return Take(tuple(notes), notes[-1].end_s + 1)


@pytest.mark.parametrize("share", [0.62, 0.8, 1.0, 1.2, 1.38])
@pytest.mark.parametrize("lead_s", [0.0, 2.5])
def test_tempo_and_start_of_an_exercise_are_found(share: float, lead_s: float) -> None:
    bpm = root_up().tempo_bpm * share
    pulse = pulse_of_exercise(_take(bpm, lead_s), root_up())
    assert pulse.sure
    assert pulse.bpm == pytest.approx(bpm, rel=0.01)
    assert pulse.start_s == pytest.approx(lead_s, abs=0.05)


@pytest.mark.parametrize("share", [0.5, 2.0])
def test_half_and_double_tempo_are_not_taken_for_the_tempo(share: float) -> None:
    pulse = pulse_of_exercise(_take(root_up().tempo_bpm * share), root_up())
    assert not pulse.sure


def test_a_free_take_is_judged_at_its_own_tempo_though_it_slows() -> None:
    hearing = judge_free(root_up(), _take(80, 1.3, drift=0.02))
    assert hearing.judged
    assert hearing.mistakes == ()
    assert hearing.pulse is not None
    assert hearing.pulse.sure


def test_a_late_note_is_late_against_the_players_own_pulse() -> None:
    hearing = judge_free(root_up(), _take(80, 1.3, late=22))
    assert [(m.bar, m.beat, m.fault) for m in hearing.mistakes] == [(6, "3", Fault.LATE)]


def test_where_the_pulse_is_unsure_nothing_is_called_late() -> None:
    rng = np.random.default_rng(3)
    at, notes = 0.0, []
    for note in root_up().line.notes:  # the right notes, in no time at all
        at += float(rng.uniform(0.2, 1.6))
        notes.append(HeardNote(at, at + 0.15, note.pitch.midi, 0, -20, 0.95))
    hearing = judge_free(root_up(), Take(tuple(notes), at + 1))
    assert not hearing.judged
    assert hearing.pulse is not None
    assert not hearing.pulse.sure
    assert hearing.reason


def test_silence_has_no_pulse() -> None:
    pulse = pulse_of_exercise(Take((), 10.0), root_up())
    assert (pulse.sure, pulse.support) == (False, 0.0)
    assert not pulse_of_solo(Take((), 10.0), analyse(blues()), 96).sure


def test_a_vamp_that_fits_everywhere_is_unsure() -> None:
    sheet = root_up()
    first = sheet.line.notes[:4]
    same = tuple(replace(n, onset=n.onset + 4 * bar) for bar in range(12) for n in first)
    vamp = sheet.with_line(replace(sheet.line, notes=same), ())
    clock = Clock(96)
    heard = tuple(  # bars 5 to 8 alone
        HeardNote(
            clock.to_seconds(n.onset), clock.to_seconds(n.onset) + 0.3, n.pitch.midi, 0, -20, 1
        )
        for n in same[16:32]
    )
    assert not pulse_of_exercise(Take(heard, 40.0), vamp).sure


def _solo(seed: int, bpm: float, lead: Fraction, chorded: float) -> Take:
    """A swung solo of two choruses that plays chord tones that often, drawn by the seed."""
    rng = np.random.default_rng(seed)
    form, quarter = blues(), 60 / bpm
    notes, at, pitch = [], 0.0, 60
    while at < 96:
        size = float(rng.choice([0.5, 1, 1.5, 2], p=[0.62, 0.22, 0.08, 0.08]))
        if rng.random() > 0.15:
            where = at % 48
            chord = next(c.chord for b in form.bars for c in b.changes if c.onset <= where < c.end)
            near = range(pitch - 5, pitch + 6)
            inside = [m for m in near if m % 12 in chord.pcs and 50 <= m <= 76]
            pool = inside if inside and rng.random() < chorded else list(near)
            pitch = int(np.clip(rng.choice(pool), 50, 76))
            beat, part = divmod(at, 1.0)
            onset = (float(lead) + beat + (0.6 if part else 0)) * quarter + rng.normal(0, 0.012)
            notes.append((max(0.0, onset), size * quarter * 0.8, pitch))
        at += size
    kept = [n for n, after in zip(notes, [*notes[1:], (1e9, 0, 0)], strict=True) if n[0] < after[0]]
    heard = tuple(HeardNote(a, a + d, m, 0, -20, 0.95) for a, d, m in kept)
    return Take(heard, heard[-1].end_s + 1)


def test_a_sure_place_of_an_open_solo_is_the_right_one() -> None:
    reading = analyse(blues())
    sure = 0
    for seed in range(12):
        bpm, lead = 100.0 + 6 * seed, Fraction(seed % 5)
        pulse = pulse_of_solo(_solo(seed, bpm, lead, 0.7), reading, 120)
        assert pulse.bpm == pytest.approx(bpm, rel=0.02)
        if pulse.sure:
            sure += 1
            form_s = 48 * 60 / bpm
            away = (pulse.start_s - float(lead) * 60 / bpm + form_s / 2) % form_s - form_s / 2
            assert abs(away) < 0.5 * 60 / bpm, seed
    assert sure >= 6


def _unsure() -> Pulse:
    return Pulse(100, 0.0, 0.0, 1.0, False, "No one steady pulse could be heard.")


def test_an_unsure_solo_gets_only_what_needs_no_beat() -> None:
    reading: Reading = analyse(blues())
    take = _solo(1, 110, Fraction(0), 0.7)
    studied = study_solo(take, reading, Clock(110), level=3, pulse=_unsure())
    assert {m.id.split(".")[0] for m in studied.measures} <= {
        "J14", "J14t", "J14w", "J14r", "J14l", "J16", "J17", "J17r", "J17s", "J17d", "J17t",
    }  # fmt: skip
    assert not studied.compared
    assert studied.said() == ()
    assert studied.lines()[0] == "No one steady pulse could be heard."
