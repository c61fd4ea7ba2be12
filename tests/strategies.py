"""Hypothesis strategies shared by all laws."""

from hypothesis import strategies as st

from changewright.theory.chord import NO_CHORD, Chord, normal_form
from changewright.theory.instrument import Instrument, instruments
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Interval, Name, Pitch
from changewright.theory.scale import Scale, scale_kinds
from changewright.theory.symbols import read_symbol

QUALITIES = ("", "m", "7", "maj7", "m7", "m7(b5)", "°7", "6", "m6", "7(b9)", "7alt", "7sus4")

names = st.integers(-6, 6).map(Name)
keys = st.builds(Key, names, st.sampled_from(["major", "minor"]))
pitches = st.builds(lambda name, octave: name.at(octave), names, st.integers(1, 6))
intervals = st.builds(Interval, st.integers(-5, 6), st.integers(-3, 3))
common_chords = st.builds(
    lambda name, quality: read_symbol(f"{name}{quality}"), names, st.sampled_from(QUALITIES)
)
all_instruments = st.sampled_from(sorted(instruments())).map(lambda i: instruments()[i])

_THIRDS = ("3", "b3", "", "4", "2", "2 4", "#4", "b2")
_FIFTHS = ("5", "5", "b5", "#5", "", "b5 #5")
_SEVENTHS = ("", "b7", "7", "bb7", "bb7 7", "6", "b6")
_NINTHS = ("", "9", "b9", "#9", "b9 #9", "b9 9")
_ELEVENTHS = ("", "11", "#11", "11 #11")
_THIRTEENTHS = ("", "13", "b13", "b13 13")


def _meaning(parts: tuple[str, ...]) -> tuple[Degree, ...]:
    return normal_form(Degree.parse(d) for part in ("1", *parts) for d in part.split())


meanings = st.tuples(
    *(
        st.sampled_from(choices)
        for choices in (_THIRDS, _FIFTHS, _SEVENTHS, _NINTHS, _ELEVENTHS, _THIRTEENTHS)
    )
).map(_meaning)
"""All degrees that a chord symbol can mean, in normal form."""

_single_chords = st.builds(Chord, names, meanings, st.none() | names)
all_chords = (
    _single_chords
    | st.builds(Chord, names, meanings, st.none(), st.builds(Chord, names, meanings))
    | st.just(NO_CHORD)
)
"""Every chord that can be written: with a bass, as a polychord, or N.C."""

scales = st.builds(Scale, names, st.sampled_from(list(scale_kinds().values())))

__all__ = [
    "QUALITIES",
    "Chord",
    "Instrument",
    "Pitch",
    "all_chords",
    "all_instruments",
    "common_chords",
    "intervals",
    "keys",
    "meanings",
    "names",
    "pitches",
    "scales",
]
