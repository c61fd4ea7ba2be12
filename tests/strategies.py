"""Hypothesis strategies shared by all laws."""

from hypothesis import strategies as st

from changewright.theory.chord import Chord
from changewright.theory.instrument import Instrument, instruments
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Name, Pitch
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

__all__ = [
    "QUALITIES",
    "Chord",
    "Instrument",
    "Pitch",
    "all_instruments",
    "common_chords",
    "intervals",
    "keys",
    "names",
    "pitches",
]
