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
from changewright.ear.remarks import remarks
from changewright.ear.take import LOWEST_KEY, Contour, HeardNote, Take
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


def _beside(take: Take, midi: int, start_s: float, end_s: float, level_db: float) -> Take:
    """The same take with somebody else's note in it, heard clearly, at that level."""
    contour = take.contour
    keys = contour.keys if len(contour.keys) else np.zeros((len(contour), 88), np.uint8)
    keys, level = keys.copy(), contour.level_db.copy()
    span = slice(int(start_s / HOP), int(end_s / HOP))
    keys[span, midi - LOWEST_KEY] = 60
    level[span] = np.maximum(level[span], level_db)
    return replace(take, contour=replace(contour, keys=keys, level_db=level))


def _faults(take: Take) -> list[Fault | None]:
    sheet = root_up()
    return [m.fault for m in judge(sheet, take, clock_of(sheet)).mistakes]


@pytest.mark.parametrize("company", [0.0, 0.01, 0.2])
def test_a_missing_note_is_told_where_it_is_quiet_in_its_place(company: float) -> None:
    assert _faults(_in_a_room(_with_one_missing(), company)) == [Fault.NOT_HEARD]


@pytest.mark.parametrize(
    ("company", "above", "level_db", "told"),
    [
        (0.0, 0, -50, False),  # the asked note itself is heard, though not followed
        (0.2, 0, -50, False),
        (0.0, 9, -50, True),
        (0.2, 9, -40, True),
        (0.2, 9, -24, False),  # as loud as the player: it may hide the note
    ],
)
def test_a_note_that_may_be_hidden_is_not_called_missing(
    company: float, above: int, level_db: float, told: bool
) -> None:
    due = slots(root_up())[20]
    take = _in_a_room(_with_one_missing(), company)
    end_s = due.onset_s + due.length_s
    take = _beside(take, due.midi + above, due.onset_s, end_s, level_db)
    assert _faults(take) == ([Fault.NOT_HEARD] if told else [])


def test_where_a_band_was_taken_out_its_traces_hide_no_missing_note() -> None:
    """What is left of its notes is told by pitch still, but lies far below any player."""
    due = slots(root_up())[20]
    take = _in_a_room(_with_one_missing(), 0.0)
    take = _beside(take, due.midi, due.onset_s, due.onset_s + due.length_s, -50)
    assert _faults(take) == []
    level = np.where(take.contour.level_db < -40, np.float32(-60), take.contour.level_db)
    still = replace(take, contour=replace(take.contour, level_db=level))
    assert _faults(still) == [Fault.NOT_HEARD]


@pytest.mark.parametrize(("away", "told"), [(1, True), (5, True), (-10, False)])
def test_with_a_band_only_a_small_slip_is_called_another_note(away: int, told: bool) -> None:
    played = slots(root_up())
    played[9] = replace(played[9], midi=played[9].midi + away)
    take = _in_a_room(exact_take(played), 0.2)
    assert _faults(take) == ([Fault.WRONG_NOTE] if told else [])


@pytest.mark.parametrize(("beside", "told"), [(0, False), (4, True)])
def test_the_band_s_note_over_the_asked_one_is_not_the_player_s(beside: int, told: bool) -> None:
    """What was the guitar's riddle: the bass, two semitones under the asked note, was followed,
    while the asked note sounded on beside it."""
    played = slots(root_up())
    due = played[9]
    played[9] = replace(due, midi=due.midi - 2)
    take = _in_a_room(exact_take(played), 0.2)
    take = _beside(take, due.midi + beside, due.onset_s, due.onset_s + due.length_s, -30)
    assert _faults(take) == ([Fault.WRONG_NOTE] if told else [])


@pytest.mark.parametrize(("under_db", "told"), [(12.0, True), (19.0, False)])
def test_what_lies_far_under_the_player_is_not_called_another_note(
    under_db: float, told: bool
) -> None:
    """A band that was not noticed: its note fills a hole of the player's."""
    played = slots(root_up())
    played[9] = replace(played[9], midi=played[9].midi + 1)
    take = _in_a_room(exact_take(played), 0.0)
    notes = list(take.notes)
    notes[9] = replace(notes[9], loudness_db=-20 - under_db)
    assert _faults(replace(take, notes=tuple(notes))) == ([Fault.WRONG_NOTE] if told else [])


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


@pytest.mark.parametrize(
    ("company", "softer_db", "beside_db", "told"),
    [
        (0.0, 0, None, True),
        (0.2, 0, None, True),
        (0.2, 6, None, False),  # softer than the player: it may be the band's
        (0.2, 0, -24, False),  # something as loud as the player before it
    ],
)
def test_late_is_not_said_of_what_the_band_may_have_played(
    company: float, softer_db: float, beside_db: float | None, told: bool
) -> None:
    played = slots(root_up())
    due = played[9]
    played[9] = replace(due, onset_s=due.onset_s + 0.4, length_s=due.length_s - 0.4)
    take = _in_a_room(exact_take(played), company)
    notes = list(take.notes)
    notes[9] = replace(notes[9], loudness_db=-20.0 - softer_db)
    take = replace(take, notes=tuple(notes))
    if beside_db is not None:
        take = _beside(take, due.midi + 9, due.onset_s, due.onset_s + 0.4, beside_db)
    assert _faults(take) == ([Fault.LATE] if told else [])


@pytest.mark.parametrize(
    ("room", "crowded"), [("phone", False), ("reverb", False), ("bleed -20", True)]
)
def test_a_band_is_told_from_a_room(room: str, crowded: bool) -> None:
    sheet = root_up()
    own = recorded(slots(sheet)[:24]).samples[: 20 * takes.RATE]
    sound = takes.through(room, own, 4, takes.backing(4, sheet.tempo_bpm, 12))
    take = transcribe(Audio(sound, takes.RATE), instrument=sheet.instrument)
    assert Sounding(take).is_crowded is crowded


def test_the_remarks_say_that_a_band_was_heard_and_what_is_left_unsaid() -> None:
    sheet = root_up()
    alone, beside = (
        remarks(judge(sheet, _in_a_room(exact_take(slots(sheet)), company), clock_of(sheet)))
        for company in (0.0, 0.2)
    )
    assert "band" not in alone.caveat
    assert beside.caveat.startswith("The band is heard in this recording beside you.")
    assert "may have gone unsaid" in beside.caveat
    assert beside.caveat.endswith(alone.caveat)
