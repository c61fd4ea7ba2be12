"""What a book is made of, as a teacher asks for it, and the exercises that follow from it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from changewright.chart.chart import Chart
from changewright.page.book_style import BookStyle
from changewright.theory.key import Key, shortest_spelling
from changewright.theory.pitch import Name
from changewright.usecases.book_editions import Edition

__all__ = ["ORDERS", "BookPlan", "Entry", "Piece", "keys_in_order"]

ORDERS = ("fourths", "chromatic")
"""Orders of the twelve keys: up a fourth each, or up a semitone each."""

_STEPS = {"fourths": -1, "chromatic": 7}
_CIRCLE = {n % 12: n for n in range(-6, 6)}  # G flat to B on the line of fifths


@dataclass(frozen=True, slots=True)
class Entry:
    """Exercises that come in every key: each family at each level over each chart.

    ``line`` is where the book's file asks for them. ``tempo_bpm`` is in quarters a minute, None
    for the level's own. ``relax`` loosens the least where no line exists.
    """

    charts: tuple[Chart, ...]
    levels: tuple[int, ...]
    families: tuple[str, ...]
    seed: int = 1
    tempo_bpm: int | None = None
    relax: bool = False
    line: int = 0


@dataclass(frozen=True, slots=True)
class BookPlan:
    """A whole book. ``tonics`` are those of its chapters in order; a chart in minor is read in the
    minor key of the tonic. ``extras`` are what comes with the pages: musicxml, midi, audio."""

    title: str
    author: str
    entries: tuple[Entry, ...]
    tonics: tuple[Name, ...]
    editions: tuple[Edition, ...]
    style: BookStyle
    subtitle: str = ""
    note: str = ""
    rights: str = ""
    foreword: str = ""
    dated: date | None = None
    answers: bool = True
    scales: bool = True
    extras: tuple[str, ...] = ()
    file: str = "book.toml"

    @property
    def charts(self) -> tuple[Chart, ...]:
        """Each chart once, in order."""
        return tuple(dict.fromkeys(chart for entry in self.entries for chart in entry.charts))

    @property
    def unknown_rights(self) -> tuple[str, ...]:
        """The titles of charts whose owner is not known."""
        return tuple(c.title for c in self.charts if c.rights.partition(",")[0] == "unknown")

    def pieces(self) -> Iterator["Piece"]:
        """All exercises, chapter by chapter, numbered through."""
        number = 0
        for chapter, tonic in enumerate(self.tonics):
            for entry in self.entries:
                for chart in entry.charts:
                    for level in entry.levels:
                        for family in entry.families:
                            number += 1
                            yield Piece(
                                number, chapter, chart, key_on(chart, tonic), level, family, entry
                            )


@dataclass(frozen=True, slots=True)
class Piece:
    """One exercise to be composed: where it stands and what it is over."""

    number: int
    chapter: int
    chart: Chart
    key: Key
    level: int
    family: str
    entry: Entry


def key_on(chart: Chart, tonic: Name) -> Key:
    """The key of a chart moved to a tonic, in its shortest spelling."""
    mode = chart.key.mode if chart.key is not None else "major"
    return shortest_spelling(Key(tonic, mode))


def keys_in_order(order: str, first: Name) -> tuple[Name, ...]:
    """The twelve tonics from a first one: ``fourths`` or ``chromatic``."""
    step = _STEPS[order]
    names = [first.fifths + step * n for n in range(12)]
    return (first, *(Name(_CIRCLE[n % 12]) for n in names[1:]))
