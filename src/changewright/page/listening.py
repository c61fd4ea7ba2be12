"""What a teacher will listen for, in words: the sheet's promises gathered into a few clauses."""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import groupby

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
from changewright.page.language import Language, language
from changewright.page.symbol import figure_text
from changewright.theory.pitch import Degree

__all__ = ["listening_clauses"]

_MOST_CLAUSES = 4
_LARGEST_STEP = 2  # semitones; a promise of more is none to listen for
_MOST_DEGREES = 3  # a landing on any of more is no landing to listen for
_SCALE = 5  # tones from which on a pool is a scale rather than a few notes
_MOST_RUNS = 7  # more stretches than these are counted, not listed
_APPROACHES = {
    (-1,): "semitone_below",
    (1,): "semitone_above",
    (-2,): "tone_below",
    (2,): "tone_above",
    (-2, -1): "two_below",
    (2, 1): "two_above",
}


def listening_clauses(sheet: Sheet, in_language: str = "en") -> list[tuple[str, str]]:
    """What to listen for and where, the commonest first: ``land on 1``, ``bars 1–12``.

    Empty where the sheet promises nothing that is heard note by note.
    """
    words = language(in_language)
    bars: dict[str, set[int]] = {}
    for promise in sheet.promises:
        clause = _clause(promise, sheet, words)
        if clause:
            bars.setdefault(clause, set()).update(_bars(promise, sheet))
    ranked = sorted(bars.items(), key=lambda item: -len(item[1]))
    everywhere = {bar.number for bar in sheet.bars if bar.number}
    return [
        (clause, words.listening("throughout") if at >= everywhere else _spans(at, words))
        for clause, at in ranked[:_MOST_CLAUSES]
    ]


def _clause(promise: Promise, sheet: Sheet, words: Language) -> str:
    match promise:
        case Lands(degrees=degrees) if len(degrees) <= _MOST_DEGREES:
            return words.listening("land", degrees=_or(degrees, words))
        case Steps(most=most) if most <= _LARGEST_STEP:
            return words.listening(f"step_{most}")
        case Holds(least=least):
            beats = f"{float(least):g}".replace(".", words.listening("point"))
            return words.listening("hold_one" if least == 1 else "hold", beats=beats)
        case Stays():
            return _staying(promise, sheet, words)
        case Rests():
            return words.listening("rest")
        case Climbs(up=up):
            return words.listening("up" if up else "down")
        case Approached(offsets=offsets):
            return words.listening(_APPROACHES.get(offsets, "both"))
        case _:
            return ""


def _staying(promise: Stays, sheet: Sheet, words: Language) -> str:
    chord = sheet.change_at(promise.start).chord
    if set(promise.degrees) <= set(chord.degrees):
        return words.listening("chord_tones")
    if len(promise.degrees) >= _SCALE:
        return words.listening("scale")
    return words.listening("only", degrees=" ".join(map(figure_text, promise.degrees)))


def _or(degrees: tuple[Degree, ...], words: Language) -> str:
    said = [figure_text(d) for d in degrees]
    if len(said) == 1:
        return said[0]
    return f"{', '.join(said[:-1])} {words.listening('or')} {said[-1]}"


def _bars(promise: Promise, sheet: Sheet) -> Iterator[int]:
    start = promise.start
    end = getattr(promise, "end", start + Fraction(1, 64))
    yield from (b.number for b in sheet.bars if b.start < end and b.end > start)


def _spans(numbers: Iterable[int], words: Language) -> str:
    """``bars 1–4, 7``: neighbours are gathered."""
    runs: list[list[int]] = []
    for _, run in groupby(enumerate(sorted(numbers)), key=lambda pair: pair[1] - pair[0]):
        runs.append([n for _, n in run])
    if len(runs) > _MOST_RUNS:
        return words.listening("in_bars", count=sum(map(len, runs)))
    bars = ", ".join(str(r[0]) if len(r) == 1 else f"{r[0]}–{r[-1]}" for r in runs)
    single = len(runs) == 1 and len(runs[0]) == 1
    return words.listening("bar" if single else "bars", bars=bars)
