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

__all__ = ["listening_words"]

_MOST_CLAUSES = 4
_STEP_SIZES = {0: "on the same note", 1: "by a semitone at most", 2: "by a step at most"}
_APPROACHES = {
    (-1,): "a semitone below",
    (1,): "a semitone above",
    (-2,): "a whole tone below",
    (2,): "a whole tone above",
    (-2, -1): "two semitones from below",
    (2, 1): "two semitones from above",
}


def listening_words(sheet: Sheet) -> str:
    """One sentence of clauses, the commonest first: ``land on 1 (bars 1–12); ...``.

    Empty where the sheet promises nothing that is heard note by note.
    """
    bars: dict[str, set[int]] = {}
    for promise in sheet.promises:
        clause = _clause(promise)
        if clause:
            bars.setdefault(clause, set()).update(_bars(promise, sheet))
    ranked = sorted(bars.items(), key=lambda item: -len(item[1]))
    return "; ".join(f"{clause} ({_spans(at)})" for clause, at in ranked[:_MOST_CLAUSES])


def _clause(promise: Promise) -> str:
    match promise:
        case Lands(degrees=degrees):
            return f"land on {_or(degrees)}"
        case Steps(most=most):
            return f"move in {_STEP_SIZES.get(most, f'by {most} semitones at most')}"
        case Holds(least=least):
            return f"hold for {_beats(least)} or more"
        case Stays(degrees=degrees):
            return f"play only {' '.join(map(figure_text, degrees))}"
        case Rests():
            return "rest"
        case Climbs(up=up):
            return "go up" if up else "go down"
        case Approached(offsets=offsets):
            return f"approach from {_APPROACHES.get(offsets, 'both sides')}"
        case _:
            return ""


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
    words = ", ".join(str(r[0]) if len(r) == 1 else f"{r[0]}–{r[-1]}" for r in runs)
    single = len(runs) == 1 and len(runs[0]) == 1
    return f"bar {words}" if single else f"bars {words}"
