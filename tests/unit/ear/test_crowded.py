"""A band in the room that can't be taken out: the ear says less, and nothing untrue."""

from dataclasses import replace

import numpy as np
import pytest
from benchmarks import takes

from changewright.ear._sounding import Sounding
from changewright.ear.audio import Audio
from changewright.ear.hearing import Fault
from changewright.ear.judge import judge
from changewright.ear.lag import doubted
from changewright.ear.take import Contour, HeardNote, Take
from changewright.ear.transcribe import transcribe
from tests.unit.ear.exercises import clock_of, exact_take, recorded, root_up, slots

HOP = 0.01


def _in_a_room(take: Take, company: float) -> Take:
    """The take with frames: its notes at -20 dB over a quiet room with more or less company."""
    count = int(take.length_s / HOP)
    pitch, voicing = np.full(count, 45, np.float32), np.zeros(count, np.float32)
    level = np.full(count, -50, np.float32)
    for note in take.notes:
        span = slice(int(note.onset_s / HOP), int(note.end_s / HOP))
        pitch[span], voicing[span], level[span] = note.midi, 1, -20
    notes = tuple(replace(n, loudness_db=-20.0) for n in take.notes)
    contour = Contour(HOP, pitch, voicing, level)
    return replace(take, notes=notes, contour=contour, background_db=-50.0, company=company)


def _with_one_missing() -> Take:
    played = slots(root_up())
    del played[20]
    return exact_take(played)


@pytest.mark.parametrize(("company", "told"), [(0.0, True), (0.01, True), (0.04, False)])
def test_a_missing_note_is_told_only_where_a_band_can_t_hide_it(company: float, told: bool) -> None:
    sheet = root_up()
    hearing = judge(sheet, _in_a_room(_with_one_missing(), company), clock_of(sheet))
    faults = {m.fault for m in hearing.mistakes}
    assert faults == ({Fault.NOT_HEARD} if told else set())


@pytest.mark.parametrize(("away", "told"), [(1, True), (-10, False)])
def test_with_a_band_only_a_small_slip_is_called_another_note(away: int, told: bool) -> None:
    sheet = root_up()
    played = slots(sheet)
    played[9] = replace(played[9], midi=played[9].midi + away)
    hearing = judge(sheet, _in_a_room(exact_take(played), 0.2), clock_of(sheet))
    assert [m.fault for m in hearing.mistakes] == ([Fault.WRONG_NOTE] if told else [])


def test_what_went_with_the_band_is_doubted() -> None:
    rate, at = 22_050, np.arange(2 * 22_050) / 22_050
    player = (0.3 * np.sin(2 * np.pi * 440 * at)).astype(np.float32)
    band = (0.3 * np.sin(2 * np.pi * 220 * at)).astype(np.float32)
    heard, cleaned = Audio(player + band, rate), Audio(player + 0.1 * band, rate)
    own = HeardNote(0.1, 0.9, 69.0, 0, -20, 0.97)
    low = HeardNote(1.0, 1.9, 57.2, 0, -40, 0.97)
    alone = doubted(Take((own,), 2.0), heard, cleaned)
    assert alone.notes == (own,)
    traces = doubted(Take((low,), 2.0), Audio(band, rate), Audio(0.1 * band, rate))
    assert traces.notes[0].confidence < 0.5


def test_late_is_not_said_of_what_the_band_may_have_played() -> None:
    sheet = root_up()
    played = slots(sheet)
    played[9] = replace(played[9], onset_s=played[9].onset_s + 0.4)
    late = _in_a_room(exact_take(played), 0.0)
    assert [m.fault for m in judge(sheet, late, clock_of(sheet)).mistakes] == [Fault.LATE]
    assert judge(sheet, replace(late, company=0.2), clock_of(sheet)).mistakes == ()


@pytest.mark.parametrize(
    ("room", "crowded"), [("phone", False), ("reverb", False), ("bleed -20", True)]
)
def test_a_band_is_told_from_a_room(room: str, crowded: bool) -> None:
    sheet = root_up()
    own = recorded(slots(sheet)[:24]).samples[: 20 * takes.RATE]
    sound = takes.through(room, own, 4, takes.backing(4, sheet.tempo_bpm, 12))
    take = transcribe(Audio(sound, takes.RATE), instrument=sheet.instrument)
    assert Sounding(take).is_crowded is crowded
