"""Levels: one of the eight by number, or a teacher's own from a file."""

from importlib.resources import files
from pathlib import Path

from changewright.lesson.level import Level, level, levels
from changewright.lesson.own_level import read_level
from changewright.music.document import Document

__all__ = ["asked_level", "level_text", "levels_document"]


def asked_level(number: int, own: Path | None = None) -> Level:
    """The level that is asked for: that of the file ``own``, else one of the eight by number.

    Raises :class:`UnknownName` with the list, and :class:`InputError` for a file that can't be
    used.
    """
    return level(number) if own is None else read_level(own)


def level_text(number: int) -> str:
    """One of the eight levels as its TOML file, to copy; raises :class:`UnknownName`."""
    name = f"{level(number).number}.toml"
    return files("changewright.lesson").joinpath("levels", name).read_text("utf-8")


def levels_document() -> list[Document]:
    """The eight levels, as ``levels --json`` prints them."""
    return [
        {
            "number": one.number,
            "name": one.name,
            "who": one.who,
            "tempo_bpm": list(one.tempo_bpm),
            "keys": list(one.keys),
            "widest_leap": one.widest_leap,
            "first_families": list(one.first_families),
        }
        for one in levels().values()
    ]
