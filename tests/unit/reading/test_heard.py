"""What a symbol is heard as. Source: domain reference 2.4 (slash chords) and 2.2 (qualities)."""

import pytest

from changewright.reading.heard import Kind, events_of, kind_of, sounding_root
from changewright.theory.pitch import Name
from changewright.theory.symbols import read_symbol
from tests.unit.reading.forms import chart


@pytest.mark.parametrize(
    ("symbol", "kind"),
    [
        ("C", Kind.MAJOR), ("C6/9", Kind.MAJOR), ("Cmaj7", Kind.MAJOR7), ("C13", Kind.DOMINANT),
        ("C7alt", Kind.DOMINANT), ("C7(#5)", Kind.AUGMENTED), ("C+", Kind.AUGMENTED),
        ("C11", Kind.SUSPENDED), ("Csus4", Kind.SUSPENDED), ("Cm", Kind.MINOR),
        ("Cm9", Kind.MINOR7), ("Cm6", Kind.MINOR6), ("Cm(maj7)", Kind.MINOR6),
        ("Cø7", Kind.HALF_DIMINISHED), ("C°7", Kind.DIMINISHED),
    ],
)  # fmt: skip
def test_kinds(symbol: str, kind: Kind) -> None:
    assert kind_of(read_symbol(symbol)) is kind


@pytest.mark.parametrize("symbol", ["Gm7/C", "Bb/C", "Bbmaj7/C", "Gm7(b5)/C", "Db/C"])
def test_upper_chords_that_make_a_suspended_dominant_on_the_bass(symbol: str) -> None:
    chord = read_symbol(symbol)
    assert kind_of(chord) is Kind.SUSPENDED
    assert sounding_root(chord) == Name.parse("C").pc


@pytest.mark.parametrize("symbol", ["C/E", "C/G", "C7/Bb", "D/C", "Db7/C"])
def test_other_slashes_keep_their_root(symbol: str) -> None:
    chord = read_symbol(symbol)
    assert chord.root is not None
    assert sounding_root(chord) == chord.root.pc


def test_silence_is_heard_as_nothing() -> None:
    silence = read_symbol("N.C.")
    with pytest.raises(ValueError, match=r"N\.C\."):
        kind_of(silence)
    with pytest.raises(ValueError, match=r"N\.C\."):
        sounding_root(silence)
    assert events_of(chart("N.C.|N.C.").bars) == ()


def test_held_chords_are_one_event_and_struck_ones_are_two() -> None:
    held = events_of(chart("C7|%|F7|F7 F7").bars)
    assert [(e.root, e.duration, e.again) for e in held] == [
        (0, 8, False),
        (5, 6, False),
        (5, 2, True),
    ]


def test_cut_parts_a_held_chord() -> None:
    bars = chart("C7|%|%").bars
    parted = events_of(bars, frozenset({bars[1].start}))
    assert [(e.duration, e.again) for e in parted] == [(4, False), (8, False)]
