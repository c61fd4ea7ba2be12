"""Charts for the tests of this room, from plain lines such as ``"Dm7 G7|Cmaj7|%"``."""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from changewright.chart.model import Form, form_of
from changewright.music.bar import Meter
from changewright.theory.key import Key

__all__ = ["SHARED", "KnownForm", "chart", "known_forms"]

SHARED = Path(__file__).resolve().parents[4] / "shared"


def chart(text: str, key: str | None = None, beats: int = 4) -> Form:
    """A form from bars between strokes; chords share a bar evenly, ``%`` repeats the last."""
    symbols: list[tuple[str, int]] = []
    for bar in text.split("|"):
        chords = bar.split()
        if chords == ["%"]:
            chords = [symbols[-1][0]]
        symbols += [(chord, beats // len(chords)) for chord in chords]
    return form_of(symbols, Key.parse(key) if key else None, Meter(beats, 4))


@dataclass(frozen=True)
class KnownForm:
    """A form that every teacher knows, with its numerals in its key."""

    name: str
    form: Form
    romans: tuple[str, ...]


def known_forms() -> Iterator[KnownForm]:
    """The forms of the domain reference, section 4; none where the reference isn't at hand."""
    path = SHARED / "domain" / "forms.tsv"
    if not path.exists():
        return
    for row in csv.DictReader(path.read_text("utf-8").splitlines(), delimiter="\t"):
        romans = row["romans"].replace("|", " ").split()
        minor = romans[0].startswith("im") or "-i minor" in row["form"]
        key = row["example_key"] + ("m" if minor else "")
        beats = 3 if "3/4" in row["form"] else 4
        yield KnownForm(row["form"], chart(row["example"], key, beats), tuple(romans))
