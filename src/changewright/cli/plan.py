"""``changewright plan``: a week for a player, a lesson for the teacher, an hour for a class."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from changewright.cli.home import HOME, AsJson, Database, Home, On, Who, day, opened, paper_named
from changewright.cli.speak import console, print_json
from changewright.music.document import Document

if TYPE_CHECKING:
    from changewright.page.plan_sheet import PlanSheet

__all__ = ["app"]

app = typer.Typer(
    help="What to do next: a week, a lesson, a class.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Output = Annotated[
    Path | None, typer.Option("--output", "-o", help="Print the page into this PDF.")
]
Paper = Annotated[str, typer.Option(help="a4 or letter.")]


@app.command()
def week(
    player: Who,
    on: Annotated[str | None, typer.Option("--on", help="The first day; today if none.")] = None,
    minutes: Annotated[int | None, typer.Option(help="Minutes a day.")] = None,
    last_week: Annotated[
        int | None, typer.Option(help="Minutes really played last week; 0 after a break.")
    ] = None,
    sore: Annotated[
        bool, typer.Option("--sore", help="Half of it, and without new things.")
    ] = False,
    hold: Annotated[bool, typer.Option("--hold", help="Nothing new this week.")] = False,
    output: Output = None,
    paper: Paper = "a4",
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Plan a player's week of practice."""
    from changewright.plan.printed import week_page
    from changewright.plan.week import week_document
    from changewright.usecases.plans import week_for

    with opened(home, database) as store:
        student = store.student(player)
        planned = week_for(
            store,
            student,
            day(on),
            minutes=minutes,
            minutes_last_week=last_week,
            sore=sore,
            hold=hold,
        )
    _out(week_document(planned), week_page(planned, student.nickname), output, paper, as_json)


@app.command()
def missed(
    player: Who,
    days: Annotated[list[str], typer.Argument(help="Days that were missed, as 2026-03-07.")],
    on: On = None,
    output: Output = None,
    paper: Paper = "a4",
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Plan the rest of the week again after days that were missed; no other day grows."""
    from changewright.plan.printed import week_page
    from changewright.plan.week import week_document
    from changewright.usecases.plans import miss_day

    with opened(home, database) as store:
        student = store.student(player)
        planned = miss_day(store, student, [day(each) for each in days], day(on))
    _out(week_document(planned), week_page(planned, student.nickname), output, paper, as_json)


@app.command()
def lesson(
    player: Who,
    on: On = None,
    minutes: Annotated[int | None, typer.Option(help="How long.")] = None,
    output: Output = None,
    paper: Paper = "a4",
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Plan a lesson: the first one, or the next from what was heard."""
    from changewright.plan.lesson_plan import lesson_document
    from changewright.plan.printed import lesson_page
    from changewright.usecases.plans import lesson_for

    with opened(home, database) as store:
        student = store.student(player)
        planned = lesson_for(store, student, day(on), minutes)
    _out(lesson_document(planned), lesson_page(planned, student.nickname), output, paper, as_json)


@app.command("class")
def class_(
    chart: Annotated[str, typer.Argument(help="A chart file, or a chart of the shelf.")],
    players: Annotated[
        list[str] | None, typer.Option("--player", help="A player; all if none is named.")
    ] = None,
    key: Annotated[str | None, typer.Option(help="Concert key.")] = None,
    minutes: Annotated[int, typer.Option(help="How long.")] = 60,
    seed: Annotated[int, typer.Option(help="Another seed, other pages.")] = 1,
    folder: Annotated[
        Path | None, typer.Option(help="Print every player's page and background here.")
    ] = None,
    output: Output = None,
    paper: Paper = "a4",
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Plan a class on one tune: each at his own level, parts that fit together."""
    from changewright.plan.class_plan import class_document
    from changewright.plan.printed import class_page
    from changewright.store.records import Student
    from changewright.usecases.plans import plan_for_class, print_parts

    with opened(home, database) as store:
        seated = [store.student(name) for name in players] if players else store.all(Student)
    planned = plan_for_class(seated, chart, key=key, minutes=minutes, seed=seed)
    if folder is not None:
        print_parts(planned, folder, paper_named(paper))
    _out(class_document(planned), class_page(planned), output, paper, as_json)


def _out(
    document: Document, page: "PlanSheet", output: Path | None, paper: str, as_json: bool
) -> None:
    """Print the page where it is wanted, and say the plan."""
    from changewright.usecases.plans import print_plan

    if output is not None:
        print_plan(page, output, paper_named(paper))
    if as_json:
        print_json(document)
        return
    out = console()
    out.print(f"{page.title}\n{page.for_whom}", markup=False)
    for reason in page.because:
        out.print(reason, markup=False)
    for box in page.boxes:
        out.print(f"\n{box.title}  {box.note}", markup=False)
        for entry in box.entries:
            out.print(f"  {entry.minutes:>5}  {entry.title} {entry.tempos}".rstrip(), markup=False)
            for line in (entry.what, entry.because):
                if line:
                    out.print(f"         {line}", markup=False)
    if page.send:
        out.print(f"\n{page.send}", markup=False)
    if output is not None:
        out.print(f"\nPrinted to {output}", markup=False)
