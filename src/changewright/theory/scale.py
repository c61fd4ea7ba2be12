"""Scales as degrees on a root, from one table.

Source: the table's last column; degrees follow the primer chord/scale chart and the open
textbooks named there.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from changewright.errors import UnknownName
from changewright.theory.pitch import Degree, Interval, Name

__all__ = ["Scale", "ScaleKind", "scale_kind", "scale_kinds"]


@dataclass(frozen=True, slots=True)
class ScaleKind:
    """A scale without a root: an id such as ``mixolydian``, its name and its degrees.

    ``family`` says where it comes from (``5th mode of major``), ``note`` what else a player is
    told of it.
    """

    id: str
    name: str
    degrees: tuple[Degree, ...]
    family: str
    note: str = ""

    def on(self, root: Name) -> "Scale":
        """The scale on a root."""
        return Scale(root, self)


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale on a root; tones are spelled from the root.

    >>> " ".join(map(str, scale_kind("mixolydian").on(Name.parse("F")).tones))
    'F G A Bb C D Eb'
    """

    root: Name
    kind: ScaleKind

    @property
    def tones(self) -> tuple[Name, ...]:
        """The tones in ascending order from the root."""
        return tuple(self.root + d.interval for d in self.kind.degrees)

    @property
    def pcs(self) -> frozenset[int]:
        """The pitch classes."""
        return frozenset(t.pc for t in self.tones)

    def __str__(self) -> str:
        return f"{self.root} {self.kind.name}"

    def transpose(self, interval: Interval) -> "Scale":
        """Move the root; the kind stays."""
        return Scale(self.root + interval, self.kind)

    @classmethod
    def parse(cls, text: str) -> "Scale":
        """Read a root and a scale by id or name: ``F mixolydian``, ``Bb half_whole``.

        Raises :class:`UnknownName` for the scale, ``ValueError`` for the root.
        """
        root, _, name = text.strip().partition(" ")
        wanted = " ".join(name.lower().split())
        found = next((k.id for k in scale_kinds().values() if k.name.lower() == wanted), wanted)
        return cls(Name.parse(root), scale_kind(found))


@cache
def scale_kinds() -> Mapping[str, ScaleKind]:
    """All scales by id, in the table's order."""
    table = files("changewright.theory").joinpath("tables/scales.tsv").read_text("utf-8")
    rows = csv.DictReader(table.splitlines(), delimiter="\t")
    kinds = (
        ScaleKind(
            row["id"],
            row["name"],
            tuple(Degree.parse(d) for d in row["degrees"].split()),
            row["family"],
            row["note"],
        )
        for row in rows
    )
    return MappingProxyType({kind.id: kind for kind in kinds})


def scale_kind(scale_id: str) -> ScaleKind:
    """One scale by id; raises :class:`UnknownName` with the list of those we know."""
    kinds = scale_kinds()
    if scale_id not in kinds:
        raise UnknownName("scale", scale_id, kinds)
    return kinds[scale_id]
