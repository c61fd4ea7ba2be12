"""A take written down, traced and cut: what the page shows is what was heard."""

import io
import wave
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from changewright.ear.audio import Audio
from changewright.ear.clips import clips
from changewright.ear.judge import judge
from changewright.ear.take import Contour, HeardNote, Take
from changewright.ear.trace import trace
from changewright.ear.writing import shown, written_down
from tests.unit.ear.exercises import clock_of, exact_take, root_up, slots


def test_a_perfect_take_is_written_as_the_page_has_it() -> None:
    sheet = root_up()
    clock, take = clock_of(sheet), exact_take(slots(sheet))
    line = written_down(take, sheet, clock, hearing=judge(sheet, take, clock))
    assert [(n.onset, n.duration, n.pitch) for n in line.notes] == [
        (n.onset, n.duration, n.pitch) for n in sheet.line.notes
    ]
    assert [n.degree for n in line.notes] == [n.degree for n in sheet.line.notes]


def test_another_note_is_written_as_it_was_played() -> None:
    sheet = root_up()
    played = slots(sheet)
    played[9] = replace(played[9], midi=played[9].midi + 1)
    clock, take = clock_of(sheet), exact_take(played)
    line = written_down(take, sheet, clock, hearing=judge(sheet, take, clock))
    midis = [n.pitch.midi for n in line.notes]
    assert midis[9] == sheet.line.notes[9].pitch.midi + 1
    assert midis[8] == sheet.line.notes[8].pitch.midi


def test_without_a_page_rhythm_is_rounded_to_eighths() -> None:
    sheet = root_up()
    line = written_down(exact_take(slots(sheet)), sheet, clock_of(sheet))
    assert all((n.onset / Fraction(1, 2)).denominator == 1 for n in line.notes)
    assert len(line.notes) == len(sheet.line.notes)


def test_a_later_chorus_starts_at_its_own_bar_one() -> None:
    sheet = root_up()
    clock = clock_of(sheet)
    at = clock.to_seconds(sheet.length + 1)
    take = Take((HeardNote(at, at + 0.5, 60, 0, -20, 0.99),), at + 1)
    assert written_down(take, sheet, clock).notes == ()
    line = written_down(take, sheet, clock, first=sheet.length)
    assert [(n.onset, n.pitch.midi) for n in line.notes] == [(1, 60)]


def test_blips_and_guesses_are_not_shown() -> None:
    sure = HeardNote(0.0, 0.4, 60, 0, -20, 0.95)
    blip = HeardNote(0.5, 0.55, 60, 0, -20, 0.95)
    guess = HeardNote(0.7, 1.0, 60, 0, -20, 0.4)
    assert shown(Take((sure, blip, guess), 2.0)) == (sure,)


def test_a_crowd_of_notes_is_still_a_line() -> None:
    sheet = root_up()
    at = clock_of(sheet).to_seconds(Fraction(0))
    notes = tuple(
        HeardNote(at + 0.1 * k, at + 0.1 * k + 0.095, 60 + k % 5, 0, -20, 0.99) for k in range(80)
    )
    line = written_down(Take(notes, 60.0), sheet, clock_of(sheet))
    onsets = [n.onset for n in line.notes]
    assert onsets == sorted(set(onsets))


def test_the_trace_is_the_pitch_in_the_players_tuning() -> None:
    hop, tuning = 0.01, 12 * np.log2(436 / 440)
    pitch = np.full(100, 60 + tuning, dtype=np.float32)
    contour = Contour(hop, pitch, np.ones(100, np.float32), np.zeros(100, np.float32))
    note = HeardNote(0.2, 0.8, float(60 + tuning), 0, -20, 0.9)
    (stroke,) = trace(Take((note,), 1.0, tuning_hz=436, contour=contour))
    assert {p for _, p in stroke} == {60.0}
    assert stroke[0][0] == pytest.approx(0.2)
    assert stroke[-1][0] == pytest.approx(0.8, abs=0.02)


def test_a_midi_take_is_traced_level() -> None:
    note = HeardNote(0.2, 0.8, 60, 0, -20, 1.0)
    assert trace(Take((note,), 1.0, source="midi")) == (((0.2, 60.0), (0.8, 60.0)),)


def test_a_clip_is_the_sound_of_its_stretch() -> None:
    samples = np.zeros(44_100, dtype=np.float32)
    samples[22_050:] = 0.2
    silent, loud, nothing = clips(Audio(samples, 22_050), [(0.0, 0.5), (1.2, 1.7), (5.0, 6.0)])
    assert nothing == b""
    assert _samples(silent) == (22_050, 11_025, 0)
    rate, count, peak = _samples(loud)
    assert (rate, count) == (22_050, 11_025)
    assert peak == pytest.approx(0.7 * 32767, abs=2)


def _samples(clip: bytes) -> tuple[int, int, int]:
    """Read by the standard library's own reader."""
    with wave.open(io.BytesIO(clip)) as file:
        frames = np.frombuffer(file.readframes(file.getnframes()), "<i2")
        return file.getframerate(), len(frames), int(np.abs(frames).max())
