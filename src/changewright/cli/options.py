"""Options that several verbs share."""

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, TypeVar

import typer

from changewright.errors import UnknownName

__all__ = ["Cache", "Fresh", "Instruments", "OwnLevel", "one_of"]

Choice = TypeVar("Choice", bound=str)

Instruments = Annotated[
    Path | None,
    typer.Option("--instruments", help="A TOML file with instruments of your own."),
]
"""A file of a player's own instruments, see docs/theory.md."""

OwnLevel = Annotated[
    Path | None,
    typer.Option("--own-level", help="A TOML file with a level of your own, for --level."),
]
"""A file with a teacher's own level, see docs/composing.md."""

Cache = Annotated[
    Path | None,
    typer.Option(
        "--cache", help="The folder where finished work is kept; the platform's own if none."
    ),
]
"""Where stems and results of books are kept."""

Fresh = Annotated[
    bool, typer.Option("--fresh", help="Sound everything anew, and keep nothing of it.")
]
"""Leave the shelf of stems alone."""


def one_of(kind: str, name: str, known: Iterable[Choice]) -> Choice:
    """One of a few names as typed, in any case; raises :class:`UnknownName` listing them."""
    choices = tuple(known)
    for one in choices:
        if one == name.lower():
            return one
    raise UnknownName(kind, name, choices)
