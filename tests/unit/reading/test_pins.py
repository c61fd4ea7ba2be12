"""The author's own readings hold, and the rest is read round them."""

from dataclasses import replace
from fractions import Fraction

from changewright.chart.model import Form, Pin
from changewright.reading.analyse import analyse
from changewright.theory.key import Key
from changewright.theory.pitch import Name
from changewright.theory.scale import scale_kind
from tests.unit.reading.forms import chart

TEXT = "Cmaj7|%|Fm7|Bb7|Cmaj7|%|Dm7|G7"


def pinned(form: Form, *pins: Pin) -> Form:
    return replace(form, pins=pins)


def in_key(start: int, end: int, key: str) -> Pin:
    return Pin(Fraction(start), Fraction(end), key=Key.parse(key))


def test_pinned_key_holds_where_it_is_pinned() -> None:
    form = chart(TEXT)
    assert str(analyse(form).changes[2].key) == "C"
    read = analyse(pinned(form, in_key(8, 16, "Eb"))).changes
    assert [f"{c.key} {c.numeral}" for c in read[2:4]] == ["Eb iim7", "Eb V7"]
    assert [c.pinned for c in read] == [False, False, True, True, False, False, False, False]


def test_rest_is_read_round_the_pin() -> None:
    """A pinned bar in the middle of a chain changes what the chord before it leads to."""
    form = chart("Ebmaj7|%|Fm7|Bb7|Fm7|Bb7|Cmaj7|%", "Eb")
    before = analyse(form).changes
    after = analyse(pinned(form, in_key(16, 32, "C"))).changes
    assert [str(c.key) for c in before[:2]] == [str(c.key) for c in after[:2]] == ["Eb", "Eb"]
    assert [str(c.local_tonic) for c in after[4:]] == ["C"] * 4


def test_pin_cuts_a_held_chord() -> None:
    form = chart("Cmaj7|%|%|%")
    read = analyse(pinned(form, in_key(8, 16, "G"))).changes
    assert [c.numeral for c in read] == ["Imaj7", "Imaj7", "IVmaj7", "IVmaj7"]


def test_pinned_scale_comes_first_and_says_so() -> None:
    form = chart(TEXT)
    scale = scale_kind("altered").on(Name.parse("G"))
    read = analyse(pinned(form, Pin(Fraction(28), Fraction(32), scale=scale))).changes
    assert read[7].scales[0].scale == scale
    assert read[7].scales[0].rule == "pin"
    assert read[7].pinned
    assert not read[6].pinned
    assert scale not in [s.scale for s in read[7].scales[1:]]


def test_pins_may_be_given_apart_from_the_form() -> None:
    form = chart(TEXT)
    pin = in_key(8, 16, "Eb")
    assert analyse(form, pins=[pin]) == analyse(pinned(form, pin))
    assert analyse(pinned(form, pin), pins=[]) == analyse(form)
