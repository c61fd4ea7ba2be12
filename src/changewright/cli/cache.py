"""``changewright cache``: what is kept because it can be made again."""

from typing import Annotated

import typer

from changewright.cli.options import Cache
from changewright.cli.speak import console

__all__ = ["cache"]


def cache(
    folder: Cache = None,
    empty: Annotated[bool, typer.Option("--empty", help="Throw it all away.")] = False,
) -> None:
    """Say how much finished work is kept on this machine, or throw it away.

    Stems and pages of books are kept so that the same thing isn't made twice. Both are bounded,
    and everything in the folder can be made again.
    """
    from changewright.jobs.kept import usual_folder
    from changewright.usecases.cache import empty_cache, held_in

    home = folder or usual_folder()
    held = empty_cache(home) if empty else held_in(home)
    out = console()
    out.print(f"{'Thrown away from' if empty else 'Kept in'} {home}:", markup=False, soft_wrap=True)
    out.print(f"  {held.stems} performances as stems, {_mb(held.stem_bytes)}", markup=False)
    out.print(f"  {held.results} results for books, {_mb(held.result_bytes)}", markup=False)


def _mb(count: int) -> str:
    return f"{count / 1e6:.1f} MB"
