"""The library of phrases: a starting set of our own, and folders of a teacher's."""

from functools import lru_cache
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

from changewright.chart.chart import Chart
from changewright.chart.load import decode_chart, load_chart
from changewright.chart.model import Form
from changewright.chart.unroll import unroll
from changewright.errors import InputError, Place
from changewright.lesson.phrase import Phrase, phrase_of

__all__ = ["own_phrases", "phrase_charts", "read_phrases"]

_MOST_FILES = 2000
_ENDINGS = (".txt", ".musicxml", ".xml", ".mxl")


@lru_cache(maxsize=8)
def own_phrases(chords: int = 1) -> tuple[Phrase, ...]:
    """The starting set, composed for this project, by name: those over so many ``chords`` at
    least. Only they are understood, which takes most of the time of a first chorus."""
    return tuple(_understood(name) for name, form in _own_forms().items() if _count(form) >= chords)


@lru_cache(maxsize=1)
def _own_forms() -> dict[str, Form]:
    folder = files("changewright.lesson").joinpath("phrases")
    entries = sorted((e for e in folder.iterdir() if e.name.endswith(".txt")), key=lambda e: e.name)
    return {
        e.name.rpartition(".")[0]: unroll(decode_chart(e.read_bytes(), e.name)) for e in entries
    }


def _count(form: Form) -> int:
    """How many chords a phrase is played over, at most: equal neighbours are one."""
    texts = [change.text for bar in form.bars for change in bar.changes]
    return sum(a != b for a, b in pairwise(["", *texts]))


@lru_cache(maxsize=256)
def _understood(name: str) -> Phrase:
    return phrase_of(_own_forms()[name], name)


def read_phrases(folder: Path) -> tuple[Phrase, ...]:
    """Every phrase of a folder: charts with a melody, as text or MusicXML, one phrase a file.

    Raises :class:`InputError` for a folder that isn't there and for the first file that is no
    phrase.
    """
    return tuple(phrase_of(unroll(chart), name) for name, chart in phrase_charts(folder))


def phrase_charts(folder: Path) -> tuple[tuple[str, Chart], ...]:
    """The charts of a folder of phrases by name, as they are read; raises :class:`InputError`."""
    where = Place(file=str(folder))
    if not folder.is_dir():
        raise InputError("there is no such folder of phrases", where=where, remedy="Make it first.")
    paths = sorted(p for p in folder.iterdir() if p.suffix.lower() in _ENDINGS)
    if not paths or len(paths) > _MOST_FILES:
        raise InputError(
            f"a folder of phrases holds 1 to {_MOST_FILES:,} files, not {len(paths):,}",
            where=where,
            remedy="Put phrases into it with 'changewright phrases take'.",
        )
    return tuple((path.stem, load_chart(path)) for path in paths)
