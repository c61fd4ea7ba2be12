"""``changewright book``: a TOML file in, a book for every instrument of the class out."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TaskID,
    TextColumn,
    TimeElapsedColumn,
)

from changewright.cli.options import Cache
from changewright.cli.speak import console, print_json

if TYPE_CHECKING:
    from changewright.usecases.book import Progress as Heard

__all__ = ["book"]


def book(
    file: Annotated[Path, typer.Argument(help="The TOML file that describes the book.")],
    output: Annotated[
        Path, typer.Option("--output", "-o", help="The folder, or a name ending in .zip.")
    ] = Path("book"),
    edition: Annotated[
        list[str] | None,
        typer.Option(help="Only this edition of the file's; give it more than once."),
    ] = None,
    paper: Annotated[str | None, typer.Option(help="a4 or letter, in place of the file's.")] = None,
    workers: Annotated[
        int | None, typer.Option(help="Processes to work in; all cores if none.")
    ] = None,
    cache: Cache = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the manifest.")] = False,
) -> None:
    """Make a practice book: every edition of it, scores, tracks and a proof list.

    Stopped half-way, it goes on where it was; run again, it makes only what changed.
    """
    from changewright.jobs.kept import Kept, usual_folder
    from changewright.jobs.running import Workers
    from changewright.usecases.book import edition_of, make_book
    from changewright.usecases.book_file import read_book, with_paper
    from changewright.usecases.book_folder import write_book, write_book_zip

    plan = read_book(file)
    if paper is not None:
        plan = with_paper(plan, paper)
    wanted = [edition_of(plan, name) for name in edition or ()]
    kept = Kept(cache or usual_folder())
    try:
        with Workers(workers) as hands, _progress() as heard:
            made = make_book(plan, kept, hands, wanted, heard)
            write = write_book_zip if output.suffix == ".zip" else write_book
            manifest = write(made, kept, output)
    except KeyboardInterrupt:
        typer.echo(
            "changewright: stopped; nothing was left half-written. What is finished is kept: "
            "run the same command to go on.",
            err=True,
        )
        raise typer.Exit(130) from None
    kept.trim()
    for warning in made.warnings:
        typer.echo(f"changewright: warning: {warning}", err=True)
    if as_json:
        print_json(manifest)
    else:
        _print(manifest, output)


@contextmanager
def _progress() -> Iterator["Heard"]:
    """A bar for each step, on standard error; gone when the book is done."""
    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    steps: dict[str, TaskID] = {}

    def heard(step: str, done: int, total: int) -> None:
        if step not in steps:
            steps[step] = bar.add_task(step, total=total)
        bar.update(steps[step], completed=done)

    with bar:
        yield heard


def _print(manifest: dict[str, Any], output: Path) -> None:
    out = console()
    count = len(manifest["exercises"])
    out.print(f"{manifest['title']}: {count} exercises on {manifest['pages']} pages", markup=False)
    for one in manifest["editions"]:
        out.print(f"  {one['name']}: {one['pdf']}", markup=False)
    out.print(f"Written to {output}; what was respelled or moved: proof.txt", markup=False)
