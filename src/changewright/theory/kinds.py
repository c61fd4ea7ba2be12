"""A chord as MusicXML says it: kind, degrees, bass and text, both ways without loss.

Values only; reading and writing of XML lies above. A kind is read as players play it: an
eleventh over a dominant has no third, a thirteenth over a major third no eleventh, and both are
written with a hidden "subtract" for those who take the schema by the letter.

Source: W3C MusicXML 4.0, ``kind-value`` and ``degree`` (W3C Community Final Specification
Agreement); an added degree counts from a dominant chord, an altered one from the kind's own.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from changewright.errors import ChordError
from changewright.theory.chord import NO_CHORD, Chord, normal_form
from changewright.theory.pitch import Degree, Name
from changewright.theory.symbol_writing import Style, tail_of
from changewright.theory.symbols import read_symbol

__all__ = ["KINDS", "Edit", "Harmony", "HarmonyDegree", "chord_of", "harmonies_of"]

Edit = Literal["add", "alter", "subtract"]

_KINDS = {
    "major": "1 3 5", "minor": "1 b3 5", "augmented": "1 3 #5", "diminished": "1 b3 b5",
    "dominant": "1 3 5 b7", "major-seventh": "1 3 5 7", "minor-seventh": "1 b3 5 b7",
    "diminished-seventh": "1 b3 b5 bb7", "augmented-seventh": "1 3 #5 b7",
    "half-diminished": "1 b3 b5 b7", "major-minor": "1 b3 5 7", "major-sixth": "1 3 5 6",
    "minor-sixth": "1 b3 5 6", "dominant-ninth": "1 3 5 b7 9", "major-ninth": "1 3 5 7 9",
    "minor-ninth": "1 b3 5 b7 9", "dominant-11th": "1 3 5 b7 9 11", "major-11th": "1 3 5 7 9 11",
    "minor-11th": "1 b3 5 b7 9 11", "dominant-13th": "1 3 5 b7 9 11 13",
    "major-13th": "1 3 5 7 9 11 13", "minor-13th": "1 b3 5 b7 9 11 13",
    "suspended-second": "1 2 5", "suspended-fourth": "1 4 5", "pedal": "1", "power": "1 5",
    "Neapolitan": "1 3 5", "Italian": "1 3 b7", "French": "1 3 b5 b7", "German": "1 3 5 b7",
    "Tristan": "1 b3 b5 b7", "other": "1", "none": "",
}  # fmt: skip
KINDS: dict[str, tuple[Degree, ...]] = {
    kind: tuple(map(Degree.parse, degrees.split())) for kind, degrees in _KINDS.items()
}
"""The 33 kinds with their degrees by the schema; functional kinds by common usage, augmented
sixths as the seventh chords they sound like."""

_FUNCTIONAL = ("Neapolitan", "Italian", "French", "German", "Tristan", "other", "none")
_LEFT_OUT = {"dominant-11th": Degree(3), "dominant-13th": Degree(11), "major-13th": Degree(11)}
_ALTERED = tuple(map(Degree.parse, ("1", "3", "b7", "b9", "#9", "#11", "b13")))
# What it costs to say a thing by an edit, so that the plainest kind wins.
_COSTS = {"add": 10, "alter": 21, "subtract": 12}
_ALTERED_FIFTH = 11


@dataclass(frozen=True, slots=True)
class HarmonyDegree:
    """A ``degree`` element: what is done, to which degree, by how many semitones."""

    edit: Edit
    value: int
    alter: int = 0
    hidden: bool = False


@dataclass(frozen=True, slots=True)
class Harmony:
    """One chord of a ``harmony`` element; ``text`` is what stands on the page behind the root."""

    root: Name | None
    kind: str
    text: str = ""
    degrees: tuple[HarmonyDegree, ...] = ()
    bass: Name | None = None


def harmonies_of(chord: Chord, style: Style = "abbreviated") -> tuple[Harmony, ...]:
    """A chord as MusicXML: one harmony, or two for a polychord, the upper first.

    >>> harmonies_of(read_symbol("F7(b9)"))[0].degrees
    (HarmonyDegree(edit='add', value=9, alter=-1, hidden=False),)
    """
    if chord.root is None:
        return (Harmony(None, "none", "N.C."),)
    kind, edits = _said(chord.degrees)
    own = Harmony(chord.root, kind, tail_of(chord.degrees, style), edits, chord.bass)
    return (own,) if chord.upper is None else (*harmonies_of(chord.upper, style), own)


def chord_of(harmonies: Sequence[Harmony]) -> Chord:
    """The chord that one or two harmonies mean; raises :class:`ChordError` for an unknown kind.

    Where no degrees are given, a text that says more than its kind is believed: programs write
    ``dominant`` with the text ``7alt``.
    """
    chords = [_chord(harmony) for harmony in harmonies]
    if not 1 <= len(chords) <= 2:
        raise ChordError(f"a harmony has one or two chords, not {len(chords)}")
    if len(chords) == 1:
        return chords[0]
    upper, lower = chords
    return replace(lower, upper=upper)


def _chord(harmony: Harmony) -> Chord:
    if harmony.kind == "none" or harmony.root is None:
        return NO_CHORD
    return Chord(harmony.root, _degrees(harmony), harmony.bass)


def _degrees(harmony: Harmony) -> tuple[Degree, ...]:
    said = _degrees_of_text(harmony)
    if harmony.kind not in KINDS or (harmony.kind == "other" and not harmony.degrees):
        if said is None:
            what = f"can't read the harmony kind {harmony.kind!r} with the text {harmony.text!r}"
            raise ChordError(what, remedy=f"Known kinds: {', '.join(KINDS)}.")
        return said
    base = _as_played(harmony.kind)
    if not harmony.degrees:
        says_more = said is not None and _without_fifth(base) < _without_fifth(said)
        return said if said is not None and says_more else normal_form(base)
    return _edited(base, harmony.degrees)


def _degrees_of_text(harmony: Harmony) -> tuple[Degree, ...] | None:
    if not harmony.text.strip():
        return None
    try:
        return read_symbol(f"C{harmony.text}").degrees
    except ChordError:
        return None


def _without_fifth(degrees: Iterable[Degree]) -> frozenset[Degree]:
    return frozenset(d for d in degrees if d.number != 5)


def _as_played(kind: str) -> tuple[Degree, ...]:
    return tuple(d for d in KINDS[kind] if d != _LEFT_OUT.get(kind))


def _from_dominant(value: int, alter: int) -> Degree:
    """A degree counted from a dominant chord, where the 7 is a minor seventh."""
    return Degree(value, alter - 1 if value % 7 == 0 else alter)


def _edited(base: Iterable[Degree], edits: Iterable[HarmonyDegree]) -> tuple[Degree, ...]:
    """Apply edits. PITFALL: what to alter or subtract may be missing in the chord as played."""
    found = list(base)
    for edit in edits:
        present = [d for d in found if d.number == edit.value]
        if edit.edit == "subtract":
            found = [d for d in found if d not in present[:1]]
        elif edit.edit == "alter" and present:
            moved = Degree(edit.value, present[0].alter + edit.alter)
            found = [moved if d == present[0] else d for d in found]
        else:
            found.append(_from_dominant(edit.value, edit.alter))
    return normal_form(found)


@lru_cache(maxsize=4096)
def _said(degrees: tuple[Degree, ...]) -> tuple[str, tuple[HarmonyDegree, ...]]:
    """The plainest kind with the edits that lead from it to these degrees."""
    named = [(kind, _edits(kind, degrees)) for kind in _candidates(degrees)]
    named.sort(key=lambda pair: sum(map(_cost, pair[1])))
    kind, edits = next((k, e) for k, e in named if _edited(_as_played(k), e) == degrees)
    return kind, _hidden(kind, edits, degrees)


def _candidates(degrees: tuple[Degree, ...]) -> list[str]:
    """Kinds to try. A sus chord stays one, and a seventh is not added to an augmented triad."""
    numbers = {d.number for d in degrees}
    if numbers & {2, 4}:
        return ["suspended-second", "suspended-fourth", "power"]
    skipped = _FUNCTIONAL + (("augmented", "power", "pedal") if 7 in numbers else ())
    return [kind for kind in KINDS if kind not in skipped]


def _cost(edit: HarmonyDegree) -> int:
    if edit.edit == "alter" and edit.value == 5:
        return _ALTERED_FIFTH
    return _COSTS[edit.edit]


def _edits(kind: str, degrees: tuple[Degree, ...]) -> tuple[HarmonyDegree, ...]:
    base = _as_played(kind)
    edits: list[HarmonyDegree] = []
    for number in sorted({d.number for d in (*base, *degrees)}):
        own = [d for d in base if d.number == number]
        wanted = [d for d in degrees if d.number == number]
        kept = [d for d in own if d in wanted]
        left = [d for d in wanted if d not in kept]
        if own and not kept:
            edits.append(_replaced(own[0], left))
            left = left[1:]
        edits += [HarmonyDegree("add", number, _above_dominant(d)) for d in left]
    return tuple(edits)


def _replaced(own: Degree, wanted: list[Degree]) -> HarmonyDegree:
    if not wanted:
        return HarmonyDegree("subtract", own.number)
    return HarmonyDegree("alter", own.number, wanted[0].alter - own.alter)


def _above_dominant(degree: Degree) -> int:
    return degree.alter + 1 if degree.number == 7 else degree.alter


def _hidden(
    kind: str, edits: tuple[HarmonyDegree, ...], degrees: tuple[Degree, ...]
) -> tuple[HarmonyDegree, ...]:
    """Keep from print what the text says or players leave out anyway."""
    if degrees == _ALTERED:
        return tuple(replace(edit, hidden=True) for edit in edits)
    left_out = _LEFT_OUT.get(kind)
    if left_out is None:
        return edits
    return (HarmonyDegree("subtract", left_out.number, hidden=True), *edits)
