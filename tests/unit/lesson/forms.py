"""Common forms for the tests of composing. Source: Steedman 1984 and common practice."""

from functools import cache

from changewright.chart.model import Form, form_of
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Name

FORMS = {
    "three-chord blues": "1:7|1:7|1:7|1:7|4:7|4:7|1:7|1:7|5:7|4:7|1:7|5:7",
    "jazz blues": ("1:7|4:7|1:7|5:m7,1:7|4:7|#4:°7|1:7|6:7(b9)|2:m7|5:7|1:7,6:7(b9)|2:m7,5:7"),
    "ending on a half-diminished": "1:m7|1:m7|4:m7|4:m7|1:m7|1:m7|2:m7(b5)|2:m7(b5)",
    "two five one": "2:m7|5:7|1:maj7|1:maj7|2:m7(b5)|5:7(b9)|1:m6|1:m6",
    "aaba": "|".join(
        ["1:maj7,6:m7|2:m7,5:7|1:maj7,6:m7|2:m7,5:7|1:maj7,1:7|4:maj7,4:m6|1:maj7|1:maj7"] * 2
        + ["3:7|3:7|6:7|6:7|2:7|2:7|5:7|5:7"]
        + ["1:maj7,6:m7|2:m7,5:7|1:maj7,6:m7|2:m7,5:7|1:maj7,1:7|4:maj7,4:m6|1:maj7|1:maj7"]
    ),
}
KEYS = ("F", "Bb", "Eb", "Ab", "C", "Db", "G", "Gb", "D", "A", "B", "E")


def form(name: str, key: str = "F") -> Form:
    """One of the forms in a key."""
    home = Key.parse(key)
    symbols: list[tuple[str, int]] = []
    for bar in FORMS[name].split("|"):
        chords = bar.split(",")
        symbols += [(_symbol(home, c), 4 // len(chords)) for c in chords]
    return form_of(symbols, key=home, title=name)


@cache
def reading(name: str, key: str = "F") -> Reading:
    """The form, read."""
    return analyse(form(name, key))


def _symbol(home: Key, chord: str) -> str:
    degree, quality = chord.split(":")
    root = home.tonic + Degree.parse(degree).interval
    turns = (root.fifths + 6) // 12 if abs(root.fifths) > 6 else 0
    return f"{Name(root.fifths - 12 * turns)}{quality}"


def names(notes) -> str:
    """The note names without octaves."""
    return " ".join(str(n.pitch.name) for n in notes)


def bar_names(sheet, number: int) -> str:
    """The note names of one bar."""
    bar = next(b for b in sheet.bars if b.number == number)
    return names(n for n in sheet.line.notes if bar.start <= n.onset < bar.end)
