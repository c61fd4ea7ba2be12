"""What a teacher will listen for, in words: the sheet's promises gathered into a few clauses."""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import groupby

from changewright.music.bar import Quarters
from changewright.music.promise import (
    Approached,
    Climbs,
    Holds,
    Lands,
    Promise,
    Rests,
    Stays,
    Steps,
)
from changewright.music.sheet import Sheet
from changewright.page.symbol import figure_text
from changewright.theory.pitch import Degree

__all__ = ["listening_clauses"]

_MOST_CLAUSES = 4
_STEP_SIZES = {0: "on the same note", 1: "by a semitone at most", 2: "by a step at most"}
_MOST_DEGREES = 3  # a landing on any of more is no landing to listen for
_SCALE = 5  # tones from which on a pool is a scale rather than a few notes
_MOST_RUNS = 7  # more stretches than these are counted, not listed
_APPROACHES = {
    (-1,): "a semitone below",
    (1,): "a semitone above",
    (-2,): "a whole tone below",
    (2,): "a whole tone above",
    (-2, -1): "two semitones from below",
    (2, 1): "two semitones from above",
}


def listening_clauses(sheet: Sheet) -> list[tuple[str, str]]:
    """What to listen for and where, the commonest first: ``land on 1``, ``bars 1–12``.

    Empty where the sheet promises nothing that is heard note by note.
    """
    bars: dict[str, set[int]] = {}
    for promise in sheet.promises:
        clause = _clause(promise, sheet)
        if clause:
            bars.setdefault(clause, set()).update(_bars(promise, sheet))
    ranked = sorted(bars.items(), key=lambda item: -len(item[1]))
    everywhere = {bar.number for bar in sheet.bars if bar.number}
    return [
        (clause, "throughout" if at >= everywhere else _spans(at))
        for clause, at in ranked[:_MOST_CLAUSES]
    ]


def _clause(promise: Promise, sheet: Sheet) -> str:
    match promise:
        case Lands(degrees=degrees) if len(degrees) <= _MOST_DEGREES:
            return f"land on {_or(degrees)}"
        case Steps(most=most) if most in _STEP_SIZES:
            return f"move in {_STEP_SIZES[most]}"
        case Holds(least=least):
            return f"hold for {_beats(least)} or more"
        case Stays():
            return _staying(promise, sheet)
        case Rests():
            return "rest"
        case Climbs(up=up):
            return "go up" if up else "go down"
        case Approached(offsets=offsets):
            return f"approach from {_APPROACHES.get(offsets, 'both sides')}"
        case _:
            return ""


def _staying(promise: Stays, sheet: Sheet) -> str:
    chord = sheet.change_at(promise.start).chord
    if set(promise.degrees) <= set(chord.degrees):
        return "play only chord tones"
    if len(promise.degrees) >= _SCALE:
        return "stay in the chord's scale"
    return f"play only {' '.join(map(figure_text, promise.degrees))}"


def _or(degrees: tuple[Degree, ...]) -> str:
    words = [figure_text(d) for d in degrees]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _beats(length: Quarters) -> str:
    if length.denominator == 1:
        return f"{length} beat{'s' if length != 1 else ''}"
    return f"{float(length):g} beats"


def _bars(promise: Promise, sheet: Sheet) -> Iterator[int]:
    start = promise.start
    end = getattr(promise, "end", start + Fraction(1, 64))
    yield from (b.number for b in sheet.bars if b.start < end and b.end > start)


def _spans(numbers: Iterable[int]) -> str:
    """``bars 1–4, 7``: neighbours are gathered."""
    runs: list[list[int]] = []
    for _, run in groupby(enumerate(sorted(numbers)), key=lambda pair: pair[1] - pair[0]):
        runs.append([n for _, n in run])
    if len(runs) > _MOST_RUNS:
        return f"in {sum(map(len, runs))} bars"
    words = ", ".join(str(r[0]) if len(r) == 1 else f"{r[0]}–{r[-1]}" for r in runs)
    single = len(runs) == 1 and len(runs[0]) == 1
    return f"bar {words}" if single else f"bars {words}"
