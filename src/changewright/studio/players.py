"""A player's page at the Desk: the next lesson, the week, takes, notes, consent, and leaving."""

from dataclasses import replace
from datetime import date
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from changewright.errors import InputError, NotKept, PlanError
from changewright.lesson.family import families
from changewright.lesson.level import levels
from changewright.page.plan_sheet import PlanSheet, plan_pdf
from changewright.plan.lesson_plan import LessonPlan
from changewright.plan.printed import lesson_page, week_page
from changewright.plan.progress import Stand
from changewright.plan.week import WEEKDAYS, Week
from changewright.store.leaving import erase_student, export_student
from changewright.store.records import AGE_BANDS, Consent, LessonNote, Student, Tune
from changewright.studio.desk import choices, take_lines, title_of
from changewright.studio.filing import RECORDING
from changewright.studio.forms import day, form_of, number, words
from changewright.studio.leaving import forget_player
from changewright.studio.links import link_view
from changewright.studio.pages import page, see_other
from changewright.studio.shapes import PLAYER, name_of
from changewright.studio.studio import Studio, studio_of
from changewright.usecases.plans import latest_week, lesson_for, week_for
from changewright.usecases.roster import add_player, check_player, progress_of, tune_for

__all__ = ["ROUTES", "player_of"]

_MOST_WORDS = 2000
_EDITED = (
    "nickname",
    "instrument",
    "level",
    "age_band",
    "minutes",
    "days",
    "lesson_day",
    "home_key",
    "goals",
    "constraints",
)


def player_of(request: Request) -> Student:
    """The player whom an address names; raises :class:`NotKept`."""
    told = request.path_params["player"]
    found = studio_of(request).store.all(Student, id=told) if PLAYER.fullmatch(told) else ()
    if not found:
        raise NotKept("this player is not on the roster", remedy="Choose one at the Desk.")
    return found[0]


def _player(request: Request) -> Response:
    return _shown(request, None)


def _shown(request: Request, link: dict[str, str] | None) -> Response:
    studio, player = studio_of(request), player_of(request)
    today = studio.filing.today()
    plan = lesson_for(studio.store, player, today)
    return page(
        request,
        "player.html",
        player=player,
        link=link,
        links=0 if studio.door is None else studio.door.guests.count(player.id),
        consent=studio.filing.consent(player),
        plan=plan,
        theme=next((s.skill for s in plan.segments if s.skill), None),
        chosen_chart=_chart_for(studio, player),
        chosen_families=_families_for(plan, player),
        week=_week_kept(studio, player),
        standing=_standing(studio, player, today),
        takes=take_lines(studio, studio.filing.of_player(player)),
        notes=studio.store.all(LessonNote, student=player.id)[::-1],
        lessons=[
            {"id": a.id, "title": title_of(studio.folder, a), "asked": a}
            for a in studio.folder.lessons(player.id)
        ],
        tune=studio.store.get(Tune, player.tune) if player.tune else None,
        **_form_choices(studio),
    )


def _form_choices(studio: Studio) -> dict[str, Any]:
    return {**choices(studio.folder), "weekdays": WEEKDAYS, "age_bands": AGE_BANDS}


def _chart_for(studio: Studio, player: Student) -> str:
    """The chart to make the next lesson of: the player's tune, where it is on the Shelf."""
    if player.tune is None:
        return "quayside-blues@0"
    name = name_of(studio.store.get(Tune, player.tune).title)
    return f"{name}@{next(iter(studio.folder.versions(name)), 0)}"


def _families_for(plan: LessonPlan, player: Student) -> tuple[str, ...]:
    """The families of exercises that the plan speaks of, as far as the player's level has them."""
    known = families()
    told = [s.family.partition(".")[0] for s in plan.segments if s.family]
    fitting = [f for f in dict.fromkeys(told) if f in known and known[f].since <= player.level]
    return tuple(fitting) or levels()[player.level].first_families


def _week_kept(studio: Studio, player: Student) -> Week | None:
    try:
        return latest_week(studio.store, player)
    except PlanError:
        return None


def _standing(studio: Studio, player: Student, on: date) -> dict[str, list[Any]]:
    """How things stand, in the order in which they ask for attention."""
    path = progress_of(studio.store, player).path(on)
    order = (Stand.FORGOTTEN, Stand.SHAKY, Stand.SOLID)
    return {stand.value: [s for s in path if s.stand is stand] for stand in order}


def _new(request: Request) -> Response:
    return page(request, "player_new.html", **_form_choices(studio_of(request)))


async def _add(request: Request) -> Response:
    studio, form = studio_of(request), await form_of(request)

    def added() -> str:
        return add_player(studio.store, _read(form, Student("", ""))).id

    return see_other(f"/players/{await run_in_threadpool(added)}")


async def _edit(request: Request) -> Response:
    studio, form = studio_of(request), await form_of(request)

    tune, concert = words(form, "tune"), words(form, "concert")
    on = day(concert, "the day of the concert") if concert else None

    def edited() -> str:
        player = player_of(request)
        checked = check_player(_read(form, player))
        source = _source(studio, tune) if tune else ""
        changes = {name: getattr(checked, name) for name in _EDITED}
        if any(getattr(player, name) != value for name, value in changes.items()):
            player = studio.store.edit(player, **changes)
        if source:
            tune_for(studio.store, player, source, None, on)
        elif on != player.concert:
            studio.store.edit(player, concert=on)
        return player.id

    return see_other(f"/players/{await run_in_threadpool(edited)}")


def _read(form: FormData, player: Student) -> Student:
    days = [number(str(one), "day", 0, 6) for one in form.getlist("day")]
    return replace(
        player,
        nickname=words(form, "nickname", 200),
        instrument=words(form, "instrument"),
        level=number(words(form, "level") or "1", "level", 1, 99),
        age_band=words(form, "age_band"),
        minutes=number(words(form, "minutes") or "20", "minutes a day", 5, 240),
        days=tuple(days),
        lesson_day=number(words(form, "lesson_day") or "3", "day of the lesson", 0, 6),
        home_key=words(form, "home_key", 20),
        goals=words(form, "goals", 300),
        constraints=words(form, "constraints", 300),
    )


def _source(studio: Studio, tune: str) -> str:
    """What a chart of the form is opened by; raises :class:`NotKept`."""
    name, _, version = tune.partition("@")
    return studio.folder.source(name, number(version or "0", "version", 0, 9999))


async def _consent(request: Request) -> Response:
    """The teacher notes who agreed to recordings: a guardian, for a minor."""
    studio, form = studio_of(request), await form_of(request)
    given_by = words(form, "given_by")
    if not given_by:
        raise InputError("nobody was named", remedy="Write who agreed, such as 'the mother'.")

    def noted() -> str:
        player = player_of(request)
        today = studio.filing.today()
        studio.store.add(Consent(player.id, RECORDING, given_by, today))
        return player.id

    return see_other(f"/players/{await run_in_threadpool(noted)}#consent")


def _withdraw(request: Request) -> Response:
    """Consent ends: nothing more is recorded; what was recorded stays until it is deleted."""
    studio, player = studio_of(request), player_of(request)
    for given in studio.store.all(Consent, student=player.id, what=RECORDING):
        if given.withdrawn is None:
            studio.store.edit(given, withdrawn=studio.filing.today())
    return see_other(f"/players/{player.id}#consent")


async def _note(request: Request) -> Response:
    studio, form = studio_of(request), await form_of(request)
    text = words(form, "text", _MOST_WORDS)
    if not text:
        raise InputError("the note is empty", remedy="Write a line.")

    def noted() -> str:
        player = player_of(request)
        studio.store.add(LessonNote(player.id, studio.filing.today(), text))
        return player.id

    return see_other(f"/players/{await run_in_threadpool(noted)}#notes")


async def _plan_week(request: Request) -> Response:
    studio, form = studio_of(request), await form_of(request)
    sore, hold = words(form, "sore") == "yes", words(form, "hold") == "yes"

    def planned() -> str:
        player = player_of(request)
        week_for(studio.store, player, studio.filing.today(), sore=sore, hold=hold)
        return player.id

    return see_other(f"/players/{await run_in_threadpool(planned)}#week")


def _week_pdf(request: Request) -> Response:
    player = player_of(request)
    week = latest_week(studio_of(request).store, player)
    return _printed(week_page(week, player.nickname), "week")


def _plan_pdf(request: Request) -> Response:
    studio, player = studio_of(request), player_of(request)
    plan = lesson_for(studio.store, player, studio.filing.today())
    return _printed(lesson_page(plan, player.nickname), "lesson-plan")


def _printed(sheet: PlanSheet, name: str) -> Response:
    headers = {"content-disposition": f'attachment; filename="{name}.pdf"'}
    return Response(plan_pdf(sheet), media_type="application/pdf", headers=headers)


def _invite(request: Request) -> Response:
    return _shown(request, link_view(request, player_of(request).id))


def _revoke(request: Request) -> Response:
    studio, player = studio_of(request), player_of(request)
    if studio.door is not None:
        studio.door.guests.revoke(player.id)
    return see_other(f"/players/{player.id}#link")


def _export(request: Request) -> Response:
    """Everything kept of a player, for him to have."""
    packed = export_student(studio_of(request).store, player_of(request))
    headers = {"content-disposition": 'attachment; filename="player.zip"'}
    return Response(packed, media_type="application/zip", headers=headers)


async def _erase(request: Request) -> Response:
    """Delete a player for good: rows, recordings, lessons, links."""
    studio, form = studio_of(request), await form_of(request)
    if words(form, "sure") != "yes":
        raise InputError(
            "this deletes everything of a player, and nothing brings it back",
            remedy="Tick the box if you mean it.",
        )

    def erased() -> None:
        player = player_of(request)
        forget_player(studio.folder.root, player.id)
        erase_student(studio.store, player)

    await run_in_threadpool(erased)
    return see_other("/")


_AT = "/players/{player}"
ROUTES = [
    Route("/players/new", _new),
    Route("/players", _add, methods=["POST"]),
    Route(_AT, _player),
    Route(_AT, _edit, methods=["POST"]),
    Route(_AT + "/consent", _consent, methods=["POST"]),
    Route(_AT + "/consent/withdraw", _withdraw, methods=["POST"]),
    Route(_AT + "/notes", _note, methods=["POST"]),
    Route(_AT + "/week", _plan_week, methods=["POST"]),
    Route(_AT + "/week.pdf", _week_pdf),
    Route(_AT + "/lesson-plan.pdf", _plan_pdf),
    Route(_AT + "/invite", _invite, methods=["POST"]),
    Route(_AT + "/revoke", _revoke, methods=["POST"]),
    Route(_AT + "/export.zip", _export),
    Route(_AT + "/erase", _erase, methods=["POST"]),
]
