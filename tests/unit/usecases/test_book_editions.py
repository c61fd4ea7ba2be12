"""Editions for groups and for single instruments, and ranges that suit several of them."""

import pytest

from changewright.errors import UnknownName
from changewright.theory.instrument import STAGES, Span, instrument
from changewright.theory.pitch import Interval, Pitch
from changewright.usecases.book_editions import GROUPS, edition, shared_span


@pytest.mark.parametrize("group", GROUPS)
def test_every_member_of_a_group_can_read_its_edition(group):
    reader = edition(group).instrument
    for member in map(instrument, GROUPS[group].members):
        for stage in STAGES[1:]:
            written, own = reader.written_range(stage), member.written_range(stage)
            assert own.low.midi <= written.low.midi
            assert written.high.midi <= own.high.midi
        # Octave instruments read the same notes as the others and sound an octave away.
        apart = member.written_up.semitones - reader.written_up.semitones
        assert apart % 12 == 0


def test_groups_transpose_as_the_trade_says():
    # Common practice, no source: concert C is read as D on B-flat, A on E-flat, G on F parts.
    read = {g: str((Pitch.parse("C4") + edition(g).instrument.written_up).name) for g in GROUPS}
    assert read == {"c-treble": "C", "c-bass": "C", "b-flat": "D", "e-flat": "A", "f": "G"}
    assert edition("c-bass").instrument.clef == "bass"


@pytest.mark.parametrize(
    ("said", "meant"),
    [("C treble", "c-treble"), ("B-flat", "b-flat"), ("Bb", "b-flat"), ("E♭", "e-flat"),
     ("F", "f"), ("c bass", "c-bass"), ("Clarinet", "clarinet"), ("tenor sax", "tenor-saxophone")],
)  # fmt: skip
def test_editions_go_by_the_names_that_people_use(said, meant):
    assert edition(said).id == meant


def test_an_unknown_edition_lists_those_we_have():
    with pytest.raises(UnknownName, match="B-flat"):
        edition("kazoo")


def test_a_shared_range_suits_everybody_in_his_octave():
    spans = [Span.parse("F4 G5"), Span.parse("C4 E5"), Span.parse("Bb2 C4")]
    shared, octaves = shared_span(spans)
    assert octaves[0] == 0
    for span, octave in zip(spans, octaves, strict=True):
        up = Interval(0, octave)
        assert shared.low + up in span
        assert shared.high + up in span
    assert (str(shared), octaves) == ("Bb4 C5", (0, 0, 1)) or shared.high.midi > shared.low.midi


def test_ranges_with_nothing_in_common_are_not_shared():
    assert shared_span([Span.parse("C4 D4"), Span.parse("F4 G4")]) is None
