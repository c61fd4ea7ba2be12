"""Options that several verbs share."""

from pathlib import Path
from typing import Annotated

import typer

__all__ = ["Instruments"]

Instruments = Annotated[
    Path | None,
    typer.Option("--instruments", help="A TOML file with instruments of your own."),
]
"""A file of a player's own instruments, see docs/theory.md."""
