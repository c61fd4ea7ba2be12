"""``changewright roster`` for one player: consent, what was given and heard, marks, the Path."""

from datetime import UTC, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from changewright.cli.home import HOME, AsJson, Database, Home, On, Who, day, opened
from changewright.cli.roster import app
from changewright.cli.speak import console, print_json
from changewright.errors import RosterError, UnknownName
from changewright.music.document import Document

if TYPE_CHECKING:
    from changewright.plan.progress import Standing

__all__ = ["app", "consent", "give", "mark", "note", "path", "take"]


@app.command()
def consent(
    player: Who,
    by: Annotated[str, typer.Option(help="Who agreed, such as 'the mother'.")],
    withdraw: Annotated[bool, typer.Option("--withdraw", help="The consent ends.")] = False,
    on: On = None,
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Note a guardian's written consent to recordings, or its end."""
    from changewright.store.records import Consent

    with opened(home, database) as store:
        student = store.student(player)
        if withdraw:
            given = [c for c in store.all(Consent, student=student.id) if c.withdrawn is None]
            if not given:
                raise RosterError(f"no consent for {student.nickname!r} is on file")
            for one in given:
                store.edit(one, withdrawn=day(on))
        else:
            store.add(Consent(student.id, "recording", by, day(on)))
    told = "ends" if withdraw else "is noted"
    _say({"player": student.nickname, "consent": told}, f"The consent of {by} {told}.", as_json)


@app.command()
def give(
    player: Who,
    lesson: Annotated[Path, typer.Argument(help="A folder that 'changewright lesson' wrote.")],
    on: On = None,
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Note the exercises of a lesson as given to a player."""
    from changewright.usecases.roster import give_lesson

    with opened(home, database) as store:
        given = give_lesson(store, store.student(player), lesson, day(on))
    labels = [one.label for one in given]
    _say({"given": labels}, f"Given: {', '.join(labels)}", as_json)


@app.command()
def take(
    player: Who,
    recording: Annotated[Path, typer.Argument(help="A recording of one melodic instrument.")],
    lesson: Annotated[Path, typer.Option(help="The lesson's folder.")],
    exercise: Annotated[int, typer.Option(help="The number of the exercise, from 1.")],
    my_ears: Annotated[str, typer.Option(help="What the player says of it.")] = "",
    on: On = None,
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Keep a take, hear it, and let it count for the player's Path."""
    from changewright.cli.hear import print_hearing
    from changewright.ear.document import hearing_document
    from changewright.usecases.roster import take_in

    at = datetime.combine(day(on), time(12), UTC) if on else datetime.now(UTC)
    with opened(home, database) as store:
        heard = take_in(
            store, store.student(player), recording, lesson, exercise, at=at, my_ears=my_ears
        )
    if as_json:
        print_json({"take": heard.take.id, "hearing": hearing_document(heard.hearing)})
        return
    print_hearing(heard.hearing)
    console().print(f"\nKept as take {heard.take.id}.", markup=False)


@app.command()
def mark(
    player: Who,
    family: Annotated[str, typer.Argument(help="A family of exercises.")],
    over: Annotated[str, typer.Argument(help="A progression, such as blues.")],
    stand: Annotated[str, typer.Argument(help="solid, shaky, untried or forgotten.")],
    key: Annotated[str | None, typer.Option(help="In this concert key only.")] = None,
    tempo: Annotated[int | None, typer.Option(help="Up to this tempo only.")] = None,
    words: Annotated[str, typer.Option(help="Why.")] = "",
    withdraw: Annotated[bool, typer.Option("--withdraw", help="Take the mark away.")] = False,
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """The teacher's own word on a skill: it stands against any take until it is withdrawn."""
    from changewright.lesson.family import family as family_named
    from changewright.plan.progress import Stand
    from changewright.plan.skill import Strand, progression
    from changewright.store.records import TeacherMark
    from changewright.usecases.roster import mark_skill

    if stand not in {s.value for s in Stand}:
        raise UnknownName("standing", stand, [s.value for s in Stand])
    name, kind = family_named(family)[0].id, progression(over).id
    with opened(home, database) as store:
        student = store.student(player)
        if withdraw:
            found = store.all(
                TeacherMark, student=student.id, family=name, progression=kind, standing=stand
            )
            if not found:
                raise RosterError(f"there is no such mark for {student.nickname!r}")
            store.delete(found[-1])
        else:
            strand = Strand(student.level, name, kind)
            mark_skill(
                store,
                student,
                strand,
                Stand(stand),
                at=datetime.now(UTC),
                key=key,
                tempo_bpm=tempo,
                words=words,
            )
    told = "withdrawn" if withdraw else "noted"
    _say({"mark": stand, "is": told}, f"{name} over {kind}: {stand}, {told}.", as_json)


@app.command()
def note(
    player: Who,
    text: Annotated[str, typer.Argument(help="A line to remember at the next lesson.")],
    on: On = None,
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Write a line about a lesson."""
    from changewright.store.records import LessonNote

    with opened(home, database) as store:
        kept = store.add(LessonNote(store.student(player).id, day(on), text))
    _say({"note": kept.id}, "Noted.", as_json)


@app.command()
def path(
    player: Who,
    on: On = None,
    home: Home = HOME,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Show how a player's skills stand, and why: solid, shaky, forgotten, and what comes next."""
    from changewright.plan.ladder import next_rung
    from changewright.usecases.plans import climb_of
    from changewright.usecases.roster import progress_of

    with opened(home, database) as store:
        student = store.student(player)
        progress = progress_of(store, student)
    standings, rung = progress.path(day(on)), next_rung(progress, climb_of(student))
    coming = None if rung is None else {"skill": rung.skill.words, "because": rung.because}
    if as_json:
        print_json({"path": [_standing(s) for s in standings], "next": coming})
        return
    out = console()
    for standing in standings:
        out.print(f"{standing.stand.value:<10} {standing.skill.words}", markup=False)
        for why in standing.because:
            out.print(f"{'':<10} {why}", markup=False)
    if coming is not None:
        out.print(f"next       {coming['skill']}: {coming['because']}", markup=False)


def _standing(standing: "Standing") -> Document:
    from changewright.plan.skill import skill_document

    return {
        **skill_document(standing.skill),
        "standing": standing.stand.value,
        "chance": standing.chance,
        "due": standing.due.isoformat() if standing.due else None,
        "takes": list(standing.takes),
        "because": list(standing.because),
    }


def _say(document: dict[str, Any], words: str, as_json: bool) -> None:
    if as_json:
        print_json(document)
    else:
        console().print(words, markup=False)
