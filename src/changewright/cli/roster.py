"""``changewright roster``: who plays what, and everything kept of a player."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.table import Table

from changewright.cli.home import (
    HOME,
    AsJson,
    Database,
    Home,
    Who,
    day,
    opened,
    player_document,
)
from changewright.cli.speak import console, print_json
from changewright.errors import RosterError

if TYPE_CHECKING:
    from changewright.store.records import Student

__all__ = ["app"]

app = typer.Typer(
    help="The roster: players, what they were given, and how it stands.",
    no_args_is_help=True,
    rich_markup_mode=None,
)


@app.command("list")
def list_players(home: Home = HOME, database: Database = None, as_json: AsJson = False) -> None:
    """List the players."""
    from changewright.plan.week import WEEKDAYS
    from changewright.store.leaving import due_to_leave
    from changewright.store.records import Student

    with opened(home, database) as store:
        players = store.all(Student)
        leaving = due_to_leave(store, day(None))
    if as_json:
        print_json([player_document(p) for p in players])
        return
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("player", "instrument", "level", "minutes", "lesson", "goals"):
        table.add_column(title)
    for p in players:
        lesson = WEEKDAYS[p.lesson_day]
        table.add_row(p.nickname, p.instrument, str(p.level), str(p.minutes), lesson, p.goals)
    console().print(table)
    for p in leaving:
        told = "left more than 30 days ago: 'changewright roster erase' deletes what is kept"
        console().print(f"{p.nickname} {told}.", markup=False)


@app.command()
def add(
    nickname: Annotated[str, typer.Argument(help="Such as 'Clarinet, Thursday'.")],
    instrument: Annotated[str, typer.Argument(help="The instrument.")],
    level: Annotated[int, typer.Option(help="1 to 8.")] = 1,
    age: Annotated[str, typer.Option(help="under 13, 13 to 15, 16 to 17 or adult.")] = "adult",
    minutes: Annotated[int, typer.Option(help="Minutes a day.")] = 20,
    days: Annotated[str, typer.Option(help="Days of practice.")] = "Mon Tue Wed Fri Sat",
    lesson: Annotated[str, typer.Option(help="The lesson's day.")] = "Thursday",
    goals: Annotated[str, typer.Option(help="What for.")] = "",
    constraints: Annotated[str, typer.Option(help="What to mind.")] = "",
    home_key: Annotated[str, typer.Option(help="Concert key to start from.")] = "",
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Put a player on the roster."""
    from changewright.store.records import Student
    from changewright.usecases.roster import add_player
    from changewright.usecases.roster_csv import read_days

    student = Student(
        nickname=nickname,
        instrument=instrument,
        level=level,
        age_band=age,
        goals=goals,
        constraints=constraints,
        minutes=minutes,
        days=read_days(days),
        lesson_day=(*read_days(lesson), -1)[0],
        home_key=home_key,
    )
    with opened(home, database) as store:
        _said(add_player(store, student), "is on the roster", as_json)


@app.command()
def edit(
    player: Who,
    nickname: Annotated[str | None, typer.Option(help="Another nickname.")] = None,
    instrument: Annotated[str | None, typer.Option(help="Another instrument.")] = None,
    level: Annotated[int | None, typer.Option(help="Another level.")] = None,
    minutes: Annotated[int | None, typer.Option(help="Other minutes a day.")] = None,
    goals: Annotated[str | None, typer.Option(help="Other goals.")] = None,
    constraints: Annotated[str | None, typer.Option(help="Other constraints.")] = None,
    tune: Annotated[
        str | None, typer.Option(help="A tune to learn: a file or the shelf's.")
    ] = None,
    concert: Annotated[str | None, typer.Option(help="The day of the tune's concert.")] = None,
    ended: Annotated[str | None, typer.Option(help="The day on which tuition ended.")] = None,
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Change what is known of a player; 'undo' takes it back."""
    from changewright.usecases.roster import check_player, tune_for

    wanted: dict[str, Any] = {
        "nickname": nickname,
        "instrument": instrument,
        "level": level,
        "minutes": minutes,
        "goals": goals,
        "constraints": constraints,
        "ended": day(ended) if ended else None,
    }
    changes = {name: value for name, value in wanted.items() if value is not None}
    with opened(home, database) as store:
        student = store.student(player)
        if changes:
            from dataclasses import replace

            checked = check_player(replace(student, **changes))
            student = store.edit(student, **{n: getattr(checked, n) for n in changes})
        if tune is not None:
            student = tune_for(store, student, tune, None, day(concert) if concert else None)
        _said(student, "is changed", as_json)


@app.command()
def remove(
    player: Who, home: Home = HOME, database: Database = None, as_json: AsJson = False
) -> None:
    """Take a player off the roster; 'undo' brings everything back for a day."""
    with opened(home, database) as store:
        student = store.student(player)
        store.delete(student)
    _said(student, "is off the roster; 'changewright roster undo' brings everything back", as_json)


@app.command()
def undo(home: Home = HOME, database: Database = None, as_json: AsJson = False) -> None:
    """Take back the latest change made at this terminal."""
    with opened(home, database) as store:
        told = store.undo()
    if as_json:
        print_json({"undone": told})
    else:
        console().print(f"Taken back: {told}", markup=False)


@app.command()
def erase(
    player: Who,
    yes: Annotated[bool, typer.Option("--yes", help="Really; nothing brings it back.")] = False,
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Delete everything kept of a player for good: rows, recordings, lessons and links of the
    studio, traces on the disk."""
    from changewright.store.leaving import erase_student
    from changewright.studio.leaving import forget_player
    from changewright.studio.serve import FOLDER

    with opened(home, database) as store:
        student = store.student(player)
        if not yes:
            raise RosterError(
                f"this deletes everything of {student.nickname!r}, and nothing brings it back",
                remedy="Say --yes if you mean it. Backups that you keep still hold it.",
            )
        forget_player(home.expanduser() / FOLDER, student.id)
        erase_student(store, student)
    _said(student, "is deleted for good", as_json)


@app.command("export")
def export_player(
    player: Who,
    output: Annotated[Path, typer.Option("--output", "-o", help="The ZIP file.")],
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Write everything kept of a player into one file for him."""
    from changewright.store.leaving import export_student

    with opened(home, database) as store:
        packed = export_student(store, store.student(player))
    output.write_bytes(packed)
    if as_json:
        print_json({"written": str(output), "bytes": len(packed)})
    else:
        console().print(f"Written to {output}", markup=False)


@app.command("import")
def import_players(
    table: Annotated[Path, typer.Argument(help="A CSV file; its first line names the columns.")],
    keep_good: Annotated[
        bool, typer.Option("--keep-good", help="Bring in the good rows though others are bad.")
    ] = False,
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Bring players in from a CSV file; bad rows are told by their line."""
    from changewright.usecases.roster_csv import import_roster

    with opened(home, database) as store:
        came = import_roster(store, table, keep_good=keep_good)
    if as_json:
        print_json(
            {
                "added": [player_document(s) for s in came.added],
                "bad": [{"line": row.line, "fault": row.fault} for row in came.bad],
            }
        )
    else:
        for row in came.bad:
            console().print(f"{table.name}, line {row.line}: {row.fault}", markup=False)
        console().print(f"{len(came.added)} players came in, {len(came.bad)} rows are bad.")
    if came.bad:
        raise typer.Exit(2)


def _said(student: "Student", what: str, as_json: bool) -> None:
    if as_json:
        print_json(player_document(student))
    else:
        console().print(f"{student.nickname} {what}.", markup=False)
