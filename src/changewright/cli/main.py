"""The command line: one verb a module, errors to standard error, exit status 2 for bad input.

A verb imports its rooms when it runs, so that ``changewright read`` doesn't wait for the engines
of ``hear``.
"""

import sys

import typer

from changewright import __version__
from changewright.cli import (
    backup,
    band,
    book,
    cache,
    chart,
    demo,
    hear,
    lesson,
    levels,
    parts,
    phrases,
    picture,
    plan,
    player,
    read,
    scales,
    shelf,
    studio,
    symbols,
)
from changewright.errors import ChangewrightError, EngineError

__all__ = ["app", "main"]

app = typer.Typer(
    name="changewright",
    help="Changes in, the next right thing to play out, and an honest ear on what was played.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.command("read")(read.read)
app.command("chart")(chart.chart)
app.command("lesson")(lesson.lesson)
app.command("band")(band.band)
app.command("parts")(parts.parts)
app.command("picture")(picture.picture)
app.command("book")(book.book)
app.command("hear")(hear.hear)
app.command("demo")(demo.demo)
app.command("shelf")(shelf.shelf)
app.command("levels")(levels.levels)
app.command("studio")(studio.studio)
app.command("symbols")(symbols.symbols)
app.command("scales")(scales.scales)
app.add_typer(phrases.app, name="phrases")
app.add_typer(player.app, name="roster")
app.add_typer(plan.app, name="plan")
app.command("backup")(backup.backup)
app.command("restore")(backup.restore)
app.command("cache")(cache.cache)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"changewright {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version and stop."
    ),
) -> None:
    """Changes in, the next right thing to play out, and an honest ear on what was played."""


def main() -> None:
    """Run the verb on the command line and exit with its status.

    0 done; 1 a fault of ours or of an engine; 2 input that can't be used, the message says why;
    130 stopped by the user.
    """
    try:
        app()
    except KeyboardInterrupt:
        _leave(130, "stopped; nothing was left half-written")
    except EngineError as fault:
        _leave(1, str(fault))
    except (ChangewrightError, OSError) as fault:
        _leave(2, str(fault))


def _leave(status: int, message: str) -> None:
    print(f"changewright: {message}", file=sys.stderr)
    sys.exit(status)
