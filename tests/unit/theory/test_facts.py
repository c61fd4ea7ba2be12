"""Facts of the trade from outside the project, each with its source (facts.tsv).

K042, which has no two sides, stands at the end.
"""

import csv
from pathlib import Path

import pytest

from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Interval, Name, Pitch
from changewright.theory.quality import qualities
from changewright.theory.scale import Scale, scale_kind
from changewright.theory.symbols import read_symbol, write_symbol
from changewright.theory.transposition import transpose_key_for

FACTS = list(
    csv.DictReader(
        Path(__file__).with_name("facts.tsv").read_text("utf-8").splitlines(), delimiter="\t"
    )
)


TESTED: list[str] = []


def facts(kind: str):
    TESTED.append(kind)
    rows = [(row["left"], row["right"]) for row in FACTS if row["kind"] == kind]
    ids = [f"{row['id']} ({row['source']})" for row in FACTS if row["kind"] == kind]
    return pytest.mark.parametrize(("left", "right"), rows, ids=ids)


def spelled(names) -> str:
    return " ".join(map(str, names))


@facts("tones")
def test_chord_tones(left: str, right: str) -> None:
    assert spelled(read_symbol(left).tones) == right


@facts("same sound")
def test_chords_of_the_same_sound(left: str, right: str) -> None:
    assert read_symbol(left).pcs == read_symbol(right).pcs


@facts("same chord")
def test_spellings_of_the_same_chord(left: str, right: str) -> None:
    assert read_symbol(left) == read_symbol(right)


@facts("degree")
def test_degree_implied(left: str, right: str) -> None:
    assert Degree.parse(right) in read_symbol(left).degrees


@facts("no degree")
def test_degree_not_implied(left: str, right: str) -> None:
    assert Degree.parse(right) not in read_symbol(left).degrees


@facts("rootless")
def test_chord_without_its_root(left: str, right: str) -> None:
    upper = set(read_symbol(left).tones[1:])
    tones = read_symbol(right).tones if "°" in right else map(Name.parse, right.split())
    assert upper == set(tones)


@facts("same guide tones")
def test_the_tritone_is_shared(left: str, right: str) -> None:
    one, other = read_symbol(left), read_symbol(right)
    assert {one.tone(d).pc for d in one.guide_tones} == {
        other.tone(d).pc for d in other.guide_tones
    }


@facts("scale")
def test_scale_tones(left: str, right: str) -> None:
    assert spelled(Scale.parse(left).tones) == right


@facts("same notes")
def test_scales_of_the_same_notes(left: str, right: str) -> None:
    assert Scale.parse(left).pcs == Scale.parse(right).pcs


@facts("in key")
def test_roots_over_a_tonic(left: str, right: str) -> None:
    tonic = Key.parse(left).tonic
    for step in right.split():
        degree, symbol = step.split(":")
        assert read_symbol(symbol).root == tonic + Degree.parse(degree).interval


@facts("diatonic")
def test_diatonic_sevenths(left: str, right: str) -> None:
    scale = scale_kind("ionian").on(Name.parse(left))
    for i, symbol in enumerate(right.split()):
        stacked = [scale.tones[(i + third) % 7] for third in (0, 2, 4, 6)]
        assert list(read_symbol(symbol).tones) == stacked


@facts("fifth above")
def test_dominants_of_what_follows(left: str, right: str) -> None:
    for dominant, target in zip(left.split(), right.split(), strict=True):
        assert read_symbol(dominant).root == read_symbol(target).root + Interval.parse("P5")


@facts("tritone")
def test_roots_a_tritone_apart(left: str, right: str) -> None:
    one, other = read_symbol(left), read_symbol(right)
    assert (one.root.pc - other.root.pc) % 12 == 6


@facts("leads")
def test_voice_leading(left: str, right: str) -> None:
    symbol, degree = left.split()
    target, lands, by = right.split()
    start = read_symbol(symbol).tone(Degree.parse(degree))
    end = read_symbol(target).tone(Degree.parse(lands))
    assert Degree.parse(degree) in read_symbol(symbol).degrees
    assert (end.pc - start.pc) % 12 == int(by) % 12


@facts("voicing")
def test_rootless_voicings(left: str, right: str) -> None:
    symbol, *degrees = left.split()
    chord = read_symbol(symbol)
    assert spelled(chord.tone(Degree.parse(d)) for d in degrees) == right
    assert {Degree.parse(d) for d in degrees} <= set(chord.degrees)


@facts("written name")
def test_written_names(left: str, right: str) -> None:
    concert, written = right.split()
    assert str(Name.parse(concert) + instrument(left).written_up) == written


@facts("written chord")
def test_written_chords(left: str, right: str) -> None:
    concert, written = right.split()
    assert write_symbol(read_symbol(concert).transpose(instrument(left).written_up)) == written


@facts("written key")
def test_written_keys(left: str, right: str) -> None:
    concert, written = right.split()
    assert str(transpose_key_for(instrument(left), Key.parse(concert))) == written


@facts("sounds")
def test_written_pitches_sound(left: str, right: str) -> None:
    written, sounding = right.split()
    assert str(Pitch.parse(written) - instrument(left).written_up) == sounding


@facts("lowest")
def test_lowest_notes(left: str, right: str) -> None:
    written, sounding = right.split()
    player = instrument(left)
    assert str(player.written_range("professional").low) == written
    assert str(player.concert_range("professional").low) == sounding


@facts("midi")
def test_midi_numbers(left: str, right: str) -> None:
    assert Pitch.parse(left).midi == int(right)


def test_every_kind_of_fact_is_tested() -> None:
    assert sorted(TESTED) == sorted({row["kind"] for row in FACTS})
    numbers = {int(row["id"][1:4]) for row in FACTS}
    assert numbers == set(range(1, 123)) - {42}


@pytest.mark.parametrize(
    ("sets", "count"),
    [
        ([qualities()["dim7"].on(Name(f)).pcs for f in range(12)], 3),
        ([qualities()["aug"].on(Name(f)).pcs for f in range(12)], 4),
        ([scale_kind("whole_tone").on(Name(f)).pcs for f in range(12)], 2),
        ([scale_kind("half_whole").on(Name(f)).pcs for f in range(12)], 3),
        ([scale_kind("augmented").on(Name(f)).pcs for f in range(12)], 4),
    ],
)
def test_symmetric_chords_and_scales_have_few_members(sets: list, count: int) -> None:
    """K042. Source: arithmetic from the definition."""
    assert len(set(sets)) == count
