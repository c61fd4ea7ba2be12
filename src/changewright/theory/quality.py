"""The chord qualities that players name, from one table."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree, Name

__all__ = ["Quality", "qualities"]


@dataclass(frozen=True, slots=True)
class Quality:
    """A chord without a root: an id such as ``7b9``, its degrees, and a name in words."""

    id: str
    degrees: tuple[Degree, ...]
    words: str

    def on(self, root: Name) -> Chord:
        """The chord on a root."""
        return Chord(root, self.degrees)


@cache
def qualities() -> Mapping[str, Quality]:
    """All qualities by id, simple ones first. Source: common practice, no source."""
    table = files("changewright.theory").joinpath("tables/chords.tsv").read_text("utf-8")
    rows = csv.DictReader(table.splitlines(), delimiter="\t")
    return MappingProxyType(
        {
            row["id"]: Quality(
                row["id"], tuple(map(Degree.parse, row["degrees"].split())), row["words"]
            )
            for row in rows
        }
    )
