"""An open solo in words: bands by level, roles of notes outside, planned phrases."""

from fractions import Fraction

import pytest

from changewright.ear._solo_notes import laid_out
from changewright.ear._solo_roles import Leading, phrase_measures, roles
from changewright.ear._solo_words import Band, band_of, intonation_of, said_of
from changewright.ear.measure import Measure
from changewright.ear.take import HeardNote, Take
from changewright.music.clock import Clock
from changewright.music.promise import Quotes
from changewright.reading.analyse import analyse
from tests.unit.ear.exercises import blues

CLOCK = Clock(120, 1.0)


def measure(name: str, value: float, count: int = 40, record: object = None) -> Measure:
    return Measure(name, name, value, "share", count, 0.33, record)  # type: ignore[arg-type]


RECORD = {"J1": (0.41, 0.53, 0.67), "J4": (0.38, 0.53, 0.67), "J6": (0.46, 0.62, 0.76),
          "J12r": (0.24, 0.33, 0.43)}  # fmt: skip


@pytest.mark.parametrize("level", [5, 6, 7, 8])
@pytest.mark.parametrize("name", sorted(RECORD))
def test_nothing_inside_the_record_is_weak_from_level_5(name: str, level: int) -> None:
    """Source: domain reference 8.3."""
    low, _, high = RECORD[name]
    for step in range(11):
        value = low + (high - low) * step / 10
        band = band_of(measure(name, value, record=RECORD[name]), level)
        assert band is (Band.THERE if level < 7 else Band.SHOWN)


@pytest.mark.parametrize(
    ("name", "value", "level", "band"),
    [
        ("J1", 0.61, 1, Band.THERE),
        ("J1", 0.55, 2, Band.ON_THE_WAY),
        ("J1", 0.20, 2, Band.NEXT),
        ("J4", 0.51, 3, Band.THERE),
        ("J6", 0.45, 4, Band.ON_THE_WAY),
        ("J12r", 0.10, 3, Band.NEXT),
        ("J10s", 90.0, 1, Band.ON_THE_WAY),
        ("J10s", 55.0, 4, Band.THERE),
        ("J1", 0.95, 6, Band.THERE),
        ("J2", 0.05, 1, Band.SHOWN),
    ],
)
def test_bands_are_those_of_the_level(name: str, value: float, level: int, band: Band) -> None:
    """Source: domain reference 8.3, the table of bands."""
    assert band_of(measure(name, value, record=RECORD.get(name)), level) is band


def test_few_cases_say_nothing() -> None:
    assert band_of(measure("J1", 0.0, count=7), 1) is Band.SHOWN


def test_one_of_each_is_said_and_no_share_of_a_hundred() -> None:
    solo = [measure("J1", 0.7), measure("J4", 0.2), measure("J12r", 0.05), measure("J13", 0.8)]
    worked, change, following = said_of(solo, 2)
    assert worked.startswith("Beats 1 and 3 tell the chord: 28 of 40")
    assert change.startswith("8 of 40 changes")
    assert "'and' of 4" in following
    assert "%" not in worked + change + following


@pytest.mark.parametrize("level", [7, 8])
def test_at_the_last_levels_nothing_is_corrected(level: int) -> None:
    assert said_of([measure("J1", 0.0), measure("J4", 0.0)], level)[1] == ""


def _line(*played: tuple[float, int]) -> Take:
    """Notes at quarters from bar 1, each up to the next."""
    ends = [at for at, _ in played[1:]] + [played[-1][0] + 1]
    return Take(
        tuple(
            HeardNote(CLOCK.to_seconds(Fraction(at)), CLOCK.to_seconds(Fraction(end)), m, 0, -20, 1)
            for (at, m), end in zip(played, ends, strict=True)
        ),
        40.0,
    )


def _roles(*played: tuple[float, int]) -> list[Leading]:
    return [role for _, role in roles(laid_out(_line(*played), analyse(blues()), CLOCK, 0.0))]


def test_notes_outside_are_told_by_where_they_lead() -> None:
    """Over F7: G sharp up to A approaches the third; B and G sharp enclose A; F sharp that goes to
    B flat, no chord tone of F7, hangs. Source: common practice, no source."""
    assert _roles((0, 65), (1, 68), (1.5, 69), (2, 72)) == [Leading.APPROACH]
    assert _roles((0, 72), (1, 71), (1.5, 68), (2, 69)) == [Leading.ENCLOSURE, Leading.APPROACH]
    assert _roles((0, 65), (1, 66), (2, 70)) == [Leading.HANGING]
    assert _roles((0, 65), (1, 69), (2, 72)) == []


PHRASE = Quotes(
    Fraction(4), (Fraction(0), Fraction(1, 2), Fraction(1), Fraction(3, 2)), (0, 4, 7, 5)
)


@pytest.mark.parametrize(
    ("played", "found"),
    [
        (((4, 65), (4.5, 69), (5, 72), (5.5, 70)), 1),
        (((4.5, 65), (5.5, 69), (6.25, 72), (6.5, 70)), 1),  # later, slower, uneven
        (((3, 60), (4, 65), (4.5, 69), (4.75, 71), (5, 72), (5.5, 70)), 1),  # a note slipped in
        (((4, 65), (4.5, 68), (5, 72), (5.5, 70)), 0),  # another third
        (((20, 65), (20.5, 69), (21, 72), (21.5, 70)), 0),  # somewhere else
    ],
)
def test_a_planned_phrase_is_found_though_its_rhythm_bends(
    played: tuple[tuple[float, int], ...], found: int
) -> None:
    notes = laid_out(_line(*played), analyse(blues()), CLOCK, 0.0)
    (told,) = phrase_measures(notes, (PHRASE,))
    assert (told.id, told.value, told.count) == ("J18", found, 1)


def test_without_a_plan_no_phrase_is_missed() -> None:
    assert phrase_measures([], ()) == []


def _pitch(name: str, cents: float) -> Measure:
    return Measure(f"J17.{name}", f"Pitch of {name}", cents, "cents", 6)


def test_intonation_is_told_in_words_and_only_where_it_leans() -> None:
    """Bands of 15 and 30 cents: common practice, no source."""
    assert intonation_of([]) == ""
    assert "within 15 cents" in intonation_of([_pitch("C", 4), _pitch("F#", -14)])
    told = intonation_of([_pitch("C", 4), _pitch("F#", 22), _pitch("D", -41)])
    assert told.startswith("Check concert D: it is about 41 cents flat")
    assert "Concert F# leans sharp: about 22 cents" in told
    assert "concert C" not in told
