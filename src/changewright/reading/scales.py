"""Choose scales for a chord by what it does and where it goes, each with a reason in words."""

import csv
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from changewright.reading.house import HouseRules
from changewright.reading.model import ScaleChoice
from changewright.theory.chord import Chord
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Name
from changewright.theory.scale import Scale, scale_kind, scale_kinds

__all__ = ["Place", "scales_for"]

_BLANK = re.compile(r"\{([^}]+)\}")


@dataclass(frozen=True, slots=True)
class Place:
    """A chord in its place: the rule that fits it, its keys, and the chord that comes next."""

    chord: Chord
    symbol: str
    rule: str
    home: Key
    key: Key
    next_symbol: str


@dataclass(frozen=True, slots=True)
class _Row:
    first: str
    others: tuple[tuple[str, str], ...]
    care: tuple[Degree, ...]
    because: str


@cache
def _rows() -> dict[str, _Row]:
    here = files("changewright.reading").joinpath("tables/reasons.tsv").read_text("utf-8")
    reasons = {r["rule"]: r["because"] for r in csv.DictReader(here.splitlines(), delimiter="\t")}
    table = files("changewright.theory").joinpath("tables/chord_scales.tsv").read_text("utf-8")
    return {
        row["id"]: _Row(
            row["first_choice"],
            tuple(_other(text) for text in row["alternatives"].split(";")),
            tuple(Degree.parse(d) for d in row["handle_with_care"].split() if d != "-"),
            reasons[row["id"]],
        )
        for row in csv.DictReader(table.splitlines(), delimiter="\t")
    }


def _other(text: str) -> tuple[str, str]:
    name, _, when = text.strip().partition(":")
    return name.strip(), when.strip()


def scales_for(place: Place, house: HouseRules) -> tuple[ScaleChoice, ...]:
    """The scales that fit, the first choice first."""
    if place.chord.root is None:
        return ()
    row = _rows()[place.rule]
    first = scale_kind(row.first).on(place.chord.root)
    choices = [ScaleChoice(first, _because(place, row, first), row.care, place.rule)]
    for name, when in row.others:
        scale = _named(name, place)
        if scale is not None and _allowed(when, house):
            words = f"{scale}: {when or 'fits as well'}"
            choices.append(ScaleChoice(scale, words, (), place.rule))
    return tuple(choices)


def _allowed(when: str, house: HouseRules) -> bool:
    return "level 5" not in when or house.level >= 5


def _named(name: str, place: Place) -> Scale | None:
    words = name.split()
    if not words or words[0] not in scale_kinds() or place.chord.root is None:
        return None
    kind = scale_kind(words[0])
    if "key" in name.lower():
        return kind.on(place.home.tonic)
    return kind.on(place.chord.root) if len(words) == 1 else None


def _because(place: Place, row: _Row, scale: Scale) -> str:
    root = place.chord.root
    notes = {} if root is None else _notes(root)
    names = notes | {
        "chord": place.symbol,
        "key": place.key.words,
        "target": place.key.words,
        "next": place.next_symbol,
    }
    return f"{scale}: {_BLANK.sub(lambda blank: names[blank[1]], row.because)}"


def _notes(root: Name) -> dict[str, str]:
    degrees = ("b2", "2", "#2", "3", "4", "#4", "#5", "b6", "6", "b7", "7")
    return {d: str(root + Degree.parse(d).interval) for d in degrees}
