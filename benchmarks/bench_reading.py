"""Reading the changes: agreement with annotators, and speed beside a toolkit's key finder."""

import importlib
from collections.abc import Callable, Iterable
from typing import Any

from benchmarks.figure import Figure, core_ms, paired_ms
from benchmarks.harmony import (
    Sequence,
    agreement,
    by_degree,
    by_resolution,
    common_practice,
    ours,
    sequences,
)
from benchmarks.shaken import shaken
from changewright.chart.model import Form, form_of
from changewright.reading.analyse import analyse
from changewright.reading.document import reading_document

__all__ = ["figures"]

# An invented AABA of 32 bars, two chords a bar in its A sections.
_START = "Bbmaj7 G7(b9) Cm7 F7 Dm7 G7(b9) Cm7 F7 Fm7 Bb7 Ebmaj7 Ebm6"
_AROUND, _HOME = "Dm7 G7(b9) Cm7 F7", "Cm7 F7 Bb6 Bb6"
_SHAKES = range(6)
_BRIDGE = "D7 G7 C7 F7"


def figures() -> Iterable[Figure]:
    """Agreement on the development and the test part and on our own, then speed."""
    tunes = sequences()
    if tunes:
        yield from _agreements(
            {
                "dev": tuple(t for t in tunes if t.part == "dev"),
                "test": tuple(t for t in tunes if t.part == "test"),
                "blues": tuple(t for t in tunes if t.is_blues),
                "not_blues": tuple(t for t in tunes if not t.is_blues),
            }
        )
        yield from _shaken(tunes)
    yield from _agreements({"practice": common_practice()})
    yield from _speeds()


def _agreements(parts: dict[str, tuple[Sequence, ...]]) -> Iterable[Figure]:
    for part, own in parts.items():
        for known in (False, True):
            name = f"reading.{part}{'.key_given' if known else ''}"
            we = agreement(ours, own, known)
            degree, resolution = (agreement(r, own, known) for r in (by_degree, by_resolution))
            yield Figure(f"{name}.both", we.both, "share", "profile+degrees", degree.both)
            yield Figure(f"{name}.both", we.both, "share", "profile+resolution", resolution.both)
            yield Figure(f"{name}.tonic", we.tonic, "share", "profile+resolution", resolution.tonic)
            yield Figure(
                f"{name}.function", we.function, "share", "profile+resolution", resolution.function
            )
            if not known:
                yield Figure(f"{name}.home", we.home, "share", "key profile", resolution.home)


def _shaken(tunes: tuple[Sequence, ...]) -> Iterable[Figure]:
    """The worst of several readings with all weights shaken at once."""
    for part in ("dev", "test"):
        own = tuple(tune for tune in tunes if tune.part == part)
        found = []
        for seed in _SHAKES:
            with shaken(seed):
                found.append(agreement(ours, own, False).both)
        yield Figure(f"reading.shaken.{part}.mean", sum(found) / len(found), "share")
        yield Figure(f"reading.shaken.{part}.least", min(found), "share")


def _speeds() -> Iterable[Figure]:
    form = _tune()
    finder = _key_finder(form)
    we, peer = paired_ms(lambda: analyse(form), finder)
    yield Figure("reading.tune_ms", we, "ms", "music21 key finder", peer)
    yield Figure("reading.vs_key_finder", peer / we, "times as fast")
    whole, _ = paired_ms(lambda: reading_document(analyse(form)), finder, times=3)
    yield Figure("reading.document_ms", whole, "ms")
    yield from _growth(form)


def _growth(form: Form) -> Iterable[Figure]:
    """A chart of 2,016 bars, and how much longer it takes than seven of 288: 1 is linear."""
    short, long = (form_of([(c.text, c.duration) for c in form.changes] * n) for n in (9, 63))
    few, many = core_ms(lambda: analyse(short), 3), core_ms(lambda: analyse(long), 3)
    yield Figure("reading.2016_bars_s", many / 1000, "s")
    yield Figure("reading.growth", many / (7 * few), "times")


def _tune() -> Form:
    around, home = f"{_START} {_AROUND}".split(), f"{_START} {_HOME}".split()
    halves = [[(symbol, 2) for symbol in part] for part in (around, home, home)]
    bridge = [(symbol, 8) for symbol in _BRIDGE.split()]
    return form_of([*halves[0], *halves[1], *bridge, *halves[2]])


def _key_finder(form: Form) -> Callable[[], object]:
    """A general-purpose toolkit's key finder on the same chords, its stream made beforehand."""
    music21: Any = importlib.import_module("music21")
    part = music21.stream.Part()
    for change in form.changes:
        sounding = music21.chord.Chord([tone.at(4).midi for tone in change.chord.tones])
        sounding.quarterLength = float(change.duration)
        part.append(sounding)
    return lambda: part.analyze("key")
