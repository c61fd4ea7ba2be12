"""Instruments by name: those of the table, and a player's own from a TOML file."""

from collections.abc import Mapping
from pathlib import Path

from changewright.errors import InputError, Place
from changewright.theory.instrument import Instrument, instrument, instruments
from changewright.theory.own_instruments import instruments_from_toml

__all__ = ["MOST_BYTES", "known_instruments", "named_instrument"]

MOST_BYTES = 200_000
"""The largest file of instruments that is opened."""


def known_instruments(own: Path | None = None) -> Mapping[str, Instrument]:
    """The built-in instruments by id, with those of a player's own TOML file.

    Raises :class:`InputError` with file, line and what to write.
    """
    if own is None:
        return instruments()
    return instruments_from_toml(_text(own), own.name)


def named_instrument(name: str, own: Path | None = None) -> Instrument:
    """One instrument by id, name or alias; raises :class:`UnknownName` listing what there is."""
    return instrument(name, known_instruments(own))


def _text(path: Path) -> str:
    where = Place(file=path.name)
    if not path.is_file():
        raise InputError("there is no such file of instruments", where=where)
    with path.open("rb") as file:
        content = file.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        raise InputError(f"more than {MOST_BYTES:,} bytes are too many", where=where)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = content.count(b"\n", 0, fault.start) + 1
        raise InputError(
            "this isn't text in UTF-8",
            where=Place(file=path.name, line=line),
            remedy="Save the file as plain text in UTF-8.",
        ) from None
