"""The ladder: which strand comes when, in which keys, at which tempos."""

from collections.abc import Sequence
from functools import cache
from itertools import islice

from changewright.errors import UnknownName
from changewright.lesson.family import families
from changewright.lesson.level import level
from changewright.plan.skill import Strand, progression, table
from changewright.theory.key import Key, shortest_spelling
from changewright.theory.pitch import Interval

__all__ = ["KEY_ORDERS", "goal_bpm", "key_order", "keys_for", "rungs", "strands"]

_HORNS = ["F", "Bb", "Eb", "Ab", "C", "Db", "G", "Gb", "D", "A", "B", "E"]
_STRINGS = ["C", "G", "F", "D", "A", "Bb", "E", "Eb", "Ab", "B", "Db", "Gb"]
KEY_ORDERS = ("horns", "strings", "fourths", "chromatic", "friendly", "major-thirds")
"""Source: domain reference 5.1, key orders (teaching practice)."""
STEP = 1.08
"""A rung is at most this much faster than the one below it. Source: domain reference 10.2: tempo
rises in small steps; the figure is common practice, no source."""
START = 0.75  # of the goal tempo: where something new begins. common practice, no source


@cache
def strands(number: int) -> tuple[Strand, ...]:
    """The strands of a level in order; a family that the table doesn't know comes at the end of
    its first level, over a blues. One that wants a melody has no place until a tune is chosen, and
    one that checks what others teach is no strand.

    Source: domain reference 5.5, default order (teaching practice).
    """
    rows = [row for row in table("order") if row["family"] in families()]
    listed = {row["family"] for row in rows}
    spare = [
        f
        for f in families().values()
        if f.id not in listed and f.since == number and not (f.wants_melody or f.checks)
    ]
    return (
        *(
            Strand(number, row["family"], row["progression"])
            for row in rows
            if int(row["level"]) == number
        ),
        *(Strand(number, family.id, "blues") for family in spare),
    )


@cache
def key_order(name: str, home: str = "F") -> tuple[str, ...]:
    """The twelve major keys in an order by name, from a home key; each exactly once."""
    if name not in KEY_ORDERS:
        raise UnknownName("key order", name, KEY_ORDERS)
    if name in ("horns", "strings"):
        fixed = _HORNS if name == "horns" else _STRINGS
        start = fixed.index(_plain(home)) if _plain(home) in fixed else 0
        return tuple(fixed[start:] + fixed[:start]) if start else tuple(fixed)
    if name == "friendly":
        return _friendly(home)
    steps = {"fourths": (5,), "chromatic": (1,), "major-thirds": (4, 4, 5)}[name]
    return _walk(home, steps)


def keys_for(strand: Strand, order: Sequence[str], among: Sequence[str] = ()) -> tuple[str, ...]:
    """The twelve keys of a strand: the level's first, then the rest; minor where it is minor.

    The keys of ``among`` (an instrument's comfortable ones) come first within each half.
    """
    first = [k for k in order if k in _major(level(strand.level).keys)]
    ranked = sorted(first, key=lambda k: k not in among if among else False)
    rest = sorted((k for k in order if k not in first), key=lambda k: k not in among)
    keys = (*ranked, *rest)
    if progression(strand.progression).mode == "minor":
        return tuple(_minor(key) for key in keys)
    return keys


def goal_bpm(strand: Strand) -> int:
    """The tempo at which a strand is passed, in quarters a minute."""
    return level(strand.level).usual_tempo_bpm


@cache
def rungs(goal: int) -> tuple[int, ...]:
    """The tempo ladder up to a goal: even numbers from three quarters of it, small steps."""
    found, now = [], START * goal
    while now < goal / STEP**0.5:
        found.append(2 * round(now / 2))
        now *= STEP
    return (*dict.fromkeys(found), goal)


def _walk(home: str, steps: Sequence[int]) -> tuple[str, ...]:
    names: list[str] = []
    pc, index = Key.parse(home).tonic.pc, 0
    by_pc = {Key.parse(k).tonic.pc: k for k in _HORNS}
    while len(names) < 12:
        names.append(by_pc[pc % 12])
        pc += steps[index % len(steps)]
        index += 1
    return tuple(names)


def _friendly(home: str) -> tuple[str, ...]:
    """Three friendly, one new: the nearest keys by signature, every fourth a distant one."""
    near = sorted(_HORNS, key=lambda k: (_apart(k, home), _HORNS.index(k)))
    close, far = iter(near), iter(reversed(near))
    found: list[str] = []
    while len(found) < 12:
        found += [k for k in islice(close, 3) if k not in found]
        found += [k for k in islice(far, 1) if k not in found]
    return tuple(found[:12])


def _apart(key: str, home: str) -> int:
    turn = abs(Key.parse(key).signature - Key.parse(_plain(home)).signature) % 12
    return min(turn, 12 - turn)


def _plain(home: str) -> str:
    return str(Key.parse(home).tonic)


def _major(keys: Sequence[str]) -> set[str]:
    return {_plain(k) for k in keys}


def _minor(key: str) -> str:
    """The minor key on the same tonic, spelled with six signs at most."""
    minor = shortest_spelling(Key(Key.parse(key).tonic, "minor"))
    return str(minor.transpose(Interval(0, 0)))
