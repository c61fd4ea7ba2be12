"""Scales as degrees on a root, from one table.

Source: the table's last column; degrees follow the primer chord/scale chart and the open
textbooks named there.
"""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from changewright.errors import UnknownName
from changewright.theory.pitch import Degree, Name

__all__ = ["Scale", "ScaleKind", "scale_kind", "scale_kinds"]


@dataclass(frozen=True, slots=True)
class ScaleKind:
    """A scale without a root: an id such as ``mixolydian``, its name and its degrees."""

    id: str
    name: str
    degrees: tuple[Degree, ...]
    family: str

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


@cache
def scale_kinds() -> dict[str, ScaleKind]:
    """All scales by id, in the table's order."""
    table = files("changewright.theory").joinpath("tables/scales.tsv").read_text("utf-8")
    rows = csv.DictReader(table.splitlines(), delimiter="\t")
    return {
        row["id"]: ScaleKind(
            row["id"],
            row["name"],
            tuple(Degree.parse(d) for d in row["degrees"].split()),
            row["family"],
        )
        for row in rows
    }


def scale_kind(scale_id: str) -> ScaleKind:
    """One scale by id; raises :class:`UnknownName` with the list of those we know."""
    kinds = scale_kinds()
    if scale_id not in kinds:
        raise UnknownName("scale", scale_id, kinds)
    return kinds[scale_id]
