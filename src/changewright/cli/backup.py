"""``changewright backup`` and ``restore``: the whole roster in one file, and back."""

from pathlib import Path
from typing import Annotated

import typer

from changewright.cli.home import HOME, AsJson, Database, Home, opened
from changewright.cli.speak import console, print_json

__all__ = ["backup", "restore"]


def backup(
    target: Annotated[Path, typer.Argument(help="The file to write, such as roster.zip.")],
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Write the whole roster with its recordings into one file."""
    from changewright.store.backup import backup as write

    with opened(home, database) as store:
        counts = write(store, target)
    _said(counts, f"Written to {target}", as_json)


def restore(
    source: Annotated[Path, typer.Argument(help="A file that 'changewright backup' wrote.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="Let it take the place of everything here.")
    ] = False,
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Bring a roster back from its backup, whole or not at all."""
    from changewright.store.backup import restore as read

    with opened(home, database) as store:
        counts = read(store, source, replace=replace)
    _said(counts, f"Restored from {source}", as_json)


def _said(counts: dict[str, int], head: str, as_json: bool) -> None:
    if as_json:
        print_json(counts)
        return
    told = ", ".join(f"{n} {name.replace('_', ' ')}" for name, n in counts.items() if n)
    console().print(f"{head}: {told or 'nothing yet'}", markup=False)
