"""The library of phrases: a starting set of our own, and folders of a teacher's."""

from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from changewright.chart.chart import Chart
from changewright.chart.load import decode_chart, load_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError, Place
from changewright.lesson.phrase import Phrase, phrase_of

__all__ = ["own_phrases", "phrase_charts", "read_phrases"]

_MOST_FILES = 2000
_ENDINGS = (".txt", ".musicxml", ".xml", ".mxl")


@lru_cache(maxsize=1)
def own_phrases() -> tuple[Phrase, ...]:
    """The starting set, composed for this project, by name."""
    folder = files("changewright.lesson").joinpath("phrases")
    entries = sorted((e for e in folder.iterdir() if e.name.endswith(".txt")), key=lambda e: e.name)
    return tuple(_understood(e.read_bytes(), e.name) for e in entries)


def _understood(content: bytes, name: str) -> Phrase:
    return phrase_of(unroll(decode_chart(content, name)), name.rpartition(".")[0])


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
