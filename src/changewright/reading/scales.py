"""Choose scales for a chord by what it does and where it goes, each with a reason in words."""

import csv
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files

from changewright.reading.house import HouseRules
from changewright.reading.model import ScaleChoice
from changewright.theory.chord import Chord
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Interval, Name
from changewright.theory.scale import Scale, scale_kind, scale_kinds

__all__ = ["Place", "scales_for"]

_BLANK = re.compile(r"\{([^}]+)\}")
_DEGREES = ("b2", "2", "#2", "3", "4", "#4", "#5", "b6", "6", "b7", "7")
# Where the symbol itself puts the natural fifth aside (the table's D15, D17 and D19). The altered
# and the whole-tone scale replace it anywhere.
_FIFTH_ASIDE = ("D15", "D16", "D17", "D19")
# What to try where no scale of the row holds every note of the symbol.
_FALLBACKS = (
    "ionian", "lydian", "mixolydian", "lydian_dom", "dorian", "aeolian", "melodic_minor",
    "mixo_b13", "mixo_b9b13", "half_whole", "altered", "phrygian", "locrian", "locrian_n2",
    "harmonic_minor", "lydian_aug", "whole_tone", "whole_half", "dorian_b2", "locrian_n6",
)  # fmt: skip
# Places where an alternative of the table is the better first choice (its "when" is met).
_FIRST_BY_PLACE = {"T9/dark": "aeolian", "D19/minor": "altered"}
_ANOTHER_ROOT = {"on the 5th": "P5", "a major 3rd below": "-M3", "of the paired V7": "P4"}


@dataclass(frozen=True, slots=True)
class Place:
    """A chord in its place: its verdict, its keys, the chord that comes next, and the melody's
    held notes as pitch classes."""

    chord: Chord
    root: Name
    text: str
    verdict: str
    key: Key
    goal: Key
    following: str
    melody: frozenset[int] = frozenset()

    @property
    def row(self) -> str:
        """The row of the table."""
        return self.verdict.partition("/")[0]


@dataclass(frozen=True, slots=True)
class _Row:
    first: str
    others: tuple[tuple[str, str], ...]
    care: tuple[Degree, ...]


def _table(package: str, name: str) -> Iterator[dict[str, str]]:
    text = files(package).joinpath(f"tables/{name}.tsv").read_text("utf-8")
    return csv.DictReader(text.splitlines(), delimiter="\t")


@cache
def _rows() -> dict[str, _Row]:
    return {
        row["id"]: _Row(
            row["first_choice"],
            tuple(_other(text) for text in row["alternatives"].split(";")),
            tuple(Degree.parse(d) for d in row["handle_with_care"].split() if d != "-"),
        )
        for row in _table("changewright.theory", "chord_scales")
    }


@cache
def _reasons() -> dict[str, str]:
    return {r["rule"]: r["because"] for r in _table("changewright.reading", "reasons")}


@cache
def _colours() -> dict[str, tuple[int, str]]:
    rows = _table("changewright.reading", "colours")
    return {r["scale"]: (int(r["level"]), r["because"]) for r in rows}


def _other(text: str) -> tuple[str, str]:
    name, _, when = text.strip().partition(":")
    return name.strip(), when.strip()


@lru_cache(maxsize=4096)
def scales_for(place: Place, house: HouseRules) -> tuple[ScaleChoice, ...]:
    """The scales that fit, the first choice first.

    The row's first choice comes first unless the teacher's house rules, the symbol's own notes
    or the melody's held notes speak against it.
    """
    offered = list(_offered(place, house))
    usual = offered[0]
    first = min(offered, key=lambda scale: _against(place, scale))
    if _missing(place, first):
        first = min([*offered, *_fallbacks(place)], key=lambda scale: _against(place, scale))
    fitting = (s for s in offered if not _missing(place, s) or _is_small(s))
    others = [scale for scale in fitting if scale != first]
    return (
        ScaleChoice(first, _because(place, first, usual), _care(place, first), place.row),
        *(ScaleChoice(s, _colour(place, s), _care(place, s), place.row) for s in others),
    )


def _offered(place: Place, house: HouseRules) -> Iterable[Scale]:
    """The row's scales for this teacher and level, in order of preference."""
    row = _rows()[place.row]
    preferred = house.preferred(place.row) or _by_place(place, house)
    names = [row.first, *(name for name, _ in row.others)]
    scales = [scale for name in names if (scale := _named(name, place)) is not None]
    if preferred is not None:
        scales.insert(0, scale_kind(preferred).on(place.root))
    first, *others = dict.fromkeys(scales)
    return [first, *(s for s in others if _colours()[s.kind.id][0] <= house.level)]


def _by_place(place: Place, house: HouseRules) -> str | None:
    """The scale that the verdict itself puts first, where the student is ready for it."""
    scale = _FIRST_BY_PLACE.get(place.verdict)
    return scale if scale is not None and _colours()[scale][0] <= house.level else None


def _fallbacks(place: Place) -> Iterable[Scale]:
    scales = (scale_kind(name).on(place.root) for name in _FALLBACKS)
    return (scale for scale in scales if not _missing(place, scale))


def _named(name: str, place: Place) -> Scale | None:
    """A scale as the table names it: alone, of the key, or on another note."""
    first, _, rest = name.partition(" ")
    if first not in scale_kinds():
        return None
    kind = scale_kind(first)
    if "key" in rest.lower():
        return kind.on(place.key.tonic)
    for words, interval in _ANOTHER_ROOT.items():
        if words in rest:
            return kind.on(place.root + Interval.parse(interval))
    return None if rest else kind.on(place.root)


def _against(place: Place, scale: Scale) -> tuple[int, int]:
    """How many notes of the symbol, and how many held notes of the melody, the scale leaves out.

    A scale of five or six notes never speaks for the whole chord.
    """
    if _is_small(scale):
        return 12, 0
    return _missing(place, scale), len(place.melody - scale.pcs)


def _is_small(scale: Scale) -> bool:
    """Five or six notes: a colour, which never speaks for the whole chord."""
    return scale.kind.family.startswith(("pentatonic", "blues"))


def _missing(place: Place, scale: Scale) -> int:
    own = {tone.pc for tone in place.chord.tones}
    replaced = scale.kind.id in ("altered", "whole_tone") and place.chord.is_dominant
    if place.row in _FIFTH_ASIDE or replaced:
        own.discard((place.root.pc + 7) % 12)
    return len(own - scale.pcs)


def _care(place: Place, scale: Scale) -> tuple[Degree, ...]:
    """Degrees to handle with care: the table's for its first choice, else a semitone over a chord
    tone, but not the b9 and b13 of a dominant, which are wanted. Source: domain reference 3.1."""
    row = _rows()[place.row]
    own = place.chord.pcs
    if scale.kind.id == row.first and scale.root == place.root:
        return tuple(d for d in row.care if (place.root + d.interval).pc not in own)
    wanted = (Degree(2, -1), Degree(6, -1)) if place.chord.is_dominant else ()
    return tuple(
        degree
        for degree, tone in zip(scale.kind.degrees, scale.tones, strict=True)
        if tone.pc not in own and (tone.pc - 1) % 12 in own and degree not in wanted
    )


def _because(place: Place, scale: Scale, usual: Scale) -> str:
    """The sentence for the first choice: the row's own, or why another scale comes first."""
    expected = _FIRST_BY_PLACE.get(place.verdict, _rows()[place.row].first)
    if scale == usual and scale.kind.id == expected:
        return f"{_said(scale)}: {_filled(_reasons()[place.verdict], place)}"
    if scale == usual:
        return f"{_said(scale)}: on {place.text}, {_words(scale)}"
    asked = [str(t) for t in place.chord.tones if t.pc not in usual.pcs]
    if asked:
        return f"{_said(scale)}: the symbol {place.text} asks for {' and '.join(asked)}"
    return f"{_said(scale)}: the melody asks for it here"


def _colour(place: Place, scale: Scale) -> str:
    when = dict(_rows()[place.row].others).get(scale.kind.id, "")
    return f"{_said(scale)}: {_words(scale)}" + (f" ({when})" if when else "")


def _words(scale: Scale) -> str:
    """What the scale brings, with its notes named."""
    words = _colours()[scale.kind.id][1]
    return _BLANK.sub(lambda blank: str(scale.root + _interval(blank[1])), words)


def _said(scale: Scale) -> str:
    """The scale's name without the table's remarks in brackets."""
    return str(scale).partition(" (")[0]


def _filled(words: str, place: Place) -> str:
    names = {d: str(place.root + _interval(d)) for d in _DEGREES} | {
        "chord": place.text,
        "key": place.key.words,
        "target": place.goal.words,
        "next": place.following,
    }
    return _BLANK.sub(lambda blank: names[blank[1]], words)


def _interval(degree: str) -> Interval:
    return Degree.parse(degree).interval
