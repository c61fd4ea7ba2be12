"""What stands on the page is easy to read: at written pitch, on all instruments, in all keys.

Source: domain reference 2.6 (no double accidentals; never Cb, Fb, E#, B# for beginners; at most six
accidentals in a part's key); common practice.
"""

from collections.abc import Iterator
from itertools import product

import pytest

from changewright.chart.shelf import shelf_chart
from changewright.chart.transpose import transpose_chart
from changewright.chart.unroll import unroll
from changewright.errors import Refusal
from changewright.lesson.compose import compose
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.notated import Notation
from changewright.music.notation import notate
from changewright.music.sheet import Sheet
from changewright.music.written import Hand
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.instrument import Instrument, instruments
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Name, Pitch
from changewright.theory.spelling import Manner
from changewright.theory.symbols import read_symbol

KEYS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
HARD = {"Cb", "Fb", "E#", "B#"}
PLAYERS = list(instruments().values())


def _reading(name: str, key: str) -> Reading:
    return analyse(unroll(transpose_chart(shelf_chart(name), Key.parse(key))))


def _sheet(
    reading: Reading, player: Instrument, number: int, nth: int, manner: Manner | None = None
) -> Sheet | None:
    families = level(number).first_families
    try:
        return compose(
            reading,
            Player(player, spelling=manner),
            level(number),
            families[nth % len(families)],
            seed=1,
        )
    except Refusal:
        return None


def _names(notation: Notation) -> Iterator[Name]:
    for bar in notation.bars:
        yield from (mark.pitch.name for mark in bar.marks if mark.pitch is not None)
        for one in bar.chords:
            yield from (n for n in (one.chord.root, one.chord.bass) if n is not None)


def _check_beginner(sheet: Sheet) -> None:
    notation = notate(sheet, answers=True)
    assert abs(notation.key.signature) <= 6
    for name in _names(notation):
        assert abs(name.alter) < 2
        assert str(name) not in HARD
    sounding = [note.pitch.midi for note in sheet.line.notes]
    up = sheet.instrument.written_up.semitones
    first = [m for bar in notation.bars for m in bar.marks if m.pitch and not m.tied_from]
    if not any(bar.times > 1 for bar in notation.bars):  # folded repeats are written once
        assert [m.pitch.midi - up for m in first if m.pitch] == sounding


@pytest.mark.parametrize("key", KEYS)
def test_a_beginner_never_reads_a_hard_name(key: str) -> None:
    reading = _reading("quayside-blues", key)
    made = 0
    for nth, player in enumerate(PLAYERS):
        number = 1 + (nth + KEYS.index(key)) % 3
        sheet = _sheet(reading, player, number, nth // 3)
        if sheet is not None:
            made += 1
            _check_beginner(sheet)
    assert made > len(PLAYERS) / 2


@pytest.mark.longest
@pytest.mark.parametrize("key", KEYS)
def test_no_beginner_in_any_exercise_reads_a_hard_name(key: str) -> None:
    reading = _reading("slow-leak-astern", key)
    for player, number, nth in product(PLAYERS, (1, 2, 3), range(3)):
        sheet = _sheet(reading, player, number, nth)
        if sheet is not None:
            _check_beginner(sheet)


@pytest.mark.parametrize("key", KEYS)
def test_a_player_who_forbids_double_accidentals_reads_none(key: str) -> None:
    reading = _reading("lock-keepers-detour", key)
    for nth, player in enumerate(PLAYERS[::5]):
        sheet = _sheet(reading, player, 4, nth, "usual")
        if sheet is not None:
            assert all(abs(name.alter) < 2 for name in _names(notate(sheet, answers=True)))


def test_a_player_may_ask_for_easy_spelling_at_any_level() -> None:
    reading = _reading("quayside-blues", "Gb")
    hard = {
        manner: {
            str(name)
            for nth in range(3)
            for name in _names(
                notate(_sheet(reading, instruments()["flute"], 5, nth, manner), answers=True)
            )
        }
        & HARD
        for manner in ("usual", "easy")
    }
    assert hard["usual"]
    assert not hard["easy"]


def test_a_tone_that_is_plain_at_written_pitch_bears_its_chord_s_name() -> None:
    """Concert B over Db7, for a beginner, is Db over Eb7 once a clarinet reads it."""
    clarinet = Hand(Interval.parse("M2"), Key.parse("Eb"), "easy")
    seventh = read_symbol("Db7")
    assert clarinet.bar([(Pitch.parse("B4"), seventh)]) == (Pitch.parse("Db5"),)
    at_concert = Hand(Interval(0, 0), Key.parse("Db"), "easy")
    assert at_concert.bar([(Pitch.parse("B4"), seventh)]) == (Pitch.parse("B4"),)
