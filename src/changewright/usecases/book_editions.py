"""Editions of a book: a part for a family of instruments, or for one."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from changewright.errors import UnknownName
from changewright.theory.instrument import STAGES, Clef, Instrument, Span, Stage, instrument
from changewright.theory.pitch import Interval

__all__ = ["GROUPS", "Edition", "edition", "shared_span"]

_LEAST_COMFORT = 12  # semitones; a group's comfort is not worth the name below an octave


@dataclass(frozen=True, slots=True)
class Edition:
    """A part of the book: ``id`` names its files, ``instrument`` is who reads it."""

    id: str
    name: str
    instrument: Instrument


@dataclass(frozen=True, slots=True)
class _Group:
    name: str
    reader: str
    clef: Clef
    written_up: str
    gm_program: int
    members: tuple[str, ...]


GROUPS: dict[str, _Group] = {
    "c-treble": _Group(
        "C treble", "Instruments in C, treble clef", "treble", "P1", 73,
        ("flute", "violin", "guitar", "piano"),
    ),
    "c-bass": _Group(
        "C bass", "Instruments in C, bass clef", "bass", "P1", 57,
        ("trombone", "cello", "double bass", "electric bass"),
    ),
    "b-flat": _Group(
        "B-flat", "Instruments in Bb", "treble", "M2", 56,
        ("trumpet", "flugelhorn", "soprano saxophone", "tenor saxophone"),
    ),
    "e-flat": _Group(
        "E-flat", "Instruments in Eb", "treble", "M6", 65,
        ("alto saxophone", "baritone saxophone"),
    ),
    "f": _Group("F", "Instruments in F", "treble", "P5", 60, ("horn",)),
}  # fmt: skip
"""Editions for several instruments at once: what they read lies well for every member.

Source: common practice, no source (the four or five parts of a mixed group). The clarinet's low
register shares too little with brass and saxophones; it gets an edition of its own.
"""

_OTHER_NAMES = {"bb": "b-flat", "b♭": "b-flat", "eb": "e-flat", "e♭": "e-flat", "c": "c-treble"}


def edition(name: str, among: Mapping[str, Instrument] | None = None) -> Edition:
    """An edition by the name of a group or of an instrument; raises :class:`UnknownName`.

    ``among`` is the table of instruments to look in, the built-in one by default.
    """
    wanted = "-".join(name.strip().lower().replace("_", " ").split())
    wanted = _OTHER_NAMES.get(wanted, wanted)
    if wanted in GROUPS:
        return _group_edition(wanted)
    try:
        found = instrument(name, among)
    except UnknownName as fault:
        known = (*(g.name for g in GROUPS.values()), *fault.known)
        raise UnknownName("edition", name, known) from fault
    return Edition(re.sub(r"\W+", "-", found.id), found.name, found)


@cache
def _group_edition(group_id: str) -> Edition:
    group = GROUPS[group_id]
    reader = Instrument(
        id=group_id,
        name=group.reader,
        aliases=(),
        clef=group.clef,
        written_up=Interval.parse(group.written_up),
        written=tuple(_ranges([instrument(m) for m in group.members])),
        breath_s=_shortest_breath([instrument(m) for m in group.members]),
        gm_program=group.gm_program,
        awkward="",
    )
    return Edition(group_id, group.name, reader)


def _ranges(members: list[Instrument]) -> Iterator[tuple[Stage, Span]]:
    """What all members can read at each stage; their comfort where that is an octave at least."""
    shared: dict[Stage, Span] = {}
    for stage in STAGES:
        spans = [one.written_range(stage) for one in members]
        low = max((s.low for s in spans), key=lambda p: p.midi)
        high = min((s.high for s in spans), key=lambda p: p.midi)
        if high.midi > low.midi:
            shared[stage] = Span(low, high)
    comfort = shared.get("comfort")
    if comfort is None or comfort.high.midi - comfort.low.midi < _LEAST_COMFORT:
        shared["comfort"] = shared["beginner"]
    yield from ((stage, shared[stage]) for stage in STAGES)


def _shortest_breath(members: list[Instrument]) -> tuple[float, float, float] | None:
    breaths = [one.breath_s for one in members if one.breath_s is not None]
    if not breaths:
        return None
    first, second, third = (min(stage) for stage in zip(*breaths, strict=True))
    return first, second, third


def shared_span(spans: list[Span]) -> tuple[Span, tuple[int, ...]] | None:
    """A range that suits several readers, each an octave or more away from the first if need be.

    Spans are at concert pitch; returns the range as the first reader has it, and by how many
    octaves each reader's line moves from there. None where nothing is left in common.
    """
    low, high = spans[0].low.midi, spans[0].high.midi
    bottom, top = spans[0].low, spans[0].high
    octaves = [0]
    for span in spans[1:]:
        moves = sorted(range(-4, 5), key=lambda k: (-_overlap(span, k, low, high), abs(k), k))
        move = moves[0]
        if _overlap(span, move, low, high) <= 0:
            return None
        octaves.append(move)
        if span.low.midi - 12 * move > low:
            bottom, low = span.low - Interval(0, move), span.low.midi - 12 * move
        if span.high.midi - 12 * move < high:
            top, high = span.high - Interval(0, move), span.high.midi - 12 * move
    return Span(bottom, top), tuple(octaves)


def _overlap(span: Span, octaves: int, low: int, high: int) -> int:
    """Semitones in common once the reader's line stands ``octaves`` from the first reader's."""
    return min(high, span.high.midi - 12 * octaves) - max(low, span.low.midi - 12 * octaves)
