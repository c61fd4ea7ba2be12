"""The Shelf: charts to read, to type, to keep in versions, and to bring in from a score."""

import asyncio
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import Route

from changewright.band.feel import feels
from changewright.chart.load import MOST_BYTES, decode_chart
from changewright.chart.reader import read_chart
from changewright.chart.shelf import shelf
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.errors import ChangewrightError, InputError, NotKept
from changewright.jobs.bounded import Hand, Stopped
from changewright.page import changes_svg
from changewright.reading.analyse import analyse
from changewright.reading.difficulty import difficulty_of
from changewright.reading.model import ReadChange, Reading
from changewright.studio.books import finished_books
from changewright.studio.faults import fault_view
from changewright.studio.folder import Folder
from changewright.studio.forms import number
from changewright.studio.pages import page, see_other
from changewright.studio.shapes import name_of
from changewright.studio.studio import studio_of
from changewright.usecases.audition import write_audition
from changewright.usecases.phrases import list_phrases
from changewright.usecases.pins import pin_bar

__all__ = ["ROUTES", "ChartLine", "chart_lines", "reading_view"]

LONGEST_TEXT = 200_000
"""The longest chart that is typed, in bytes: many times the longest tune."""

_PINS = (
    *("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"),
    *("Cm", "C#m", "Dm", "Ebm", "Em", "Fm", "F#m", "Gm", "G#m", "Am", "Bbm", "Bm"),
)
"""The keys that a bar can be pinned to by a click."""

_SHOWN = ("three-channel-lamps", "rowlock-waltz")
"""What a feel is shown on: four bars of four, and for the waltz twelve of three."""

_START = """title: Untitled
key: F
meter: 4/4
tempo: 120
feel: swing
rights: own work

| F7 | Bb7 | F7 | % |
"""


@dataclass(frozen=True, slots=True)
class ChartLine:
    """A chart as the list tells it; ``version`` is 0 for one of the starting shelf."""

    name: str
    title: str
    key: str
    meter: str
    feel: str
    bars: int
    version: int


def chart_lines(folder: Folder) -> list[ChartLine]:
    """The teacher's own charts, then those of the starting shelf that he has no version of."""
    own = folder.own_charts()
    named = [(name, next(iter(folder.versions(name)), 0)) for name in own]
    named = [one for one in named if one[1]]
    kept = {name for name, _ in named}
    named += [(name, 0) for name in shelf() if name not in kept]
    return [_line(folder, name, version) for name, version in named]


def _line(folder: Folder, name: str, version: int) -> ChartLine:
    chart = folder.chart(name, version)
    key = "" if chart.key is None else chart.key.words
    return ChartLine(name, chart.title, key, str(chart.meter), chart.feel, len(chart.bars), version)


def reading_view(text: str, bars_a_row: int = 4) -> dict[str, Any]:
    """A chart's text as its reading is shown; raises :class:`ChartError` at the bar."""
    form = unroll(read_chart(text, "chart"))
    reading = analyse(form)
    grade = difficulty_of(reading, form.tempo_bpm)
    return {
        "title": reading.title,
        "key": reading.key.words,
        "bars": len(reading.bars),
        "rows": changes_svg(reading, bars_a_row=bars_a_row),
        "changes": _changes(reading),
        "cadences": list(
            dict.fromkeys(f"{c.kind.value} in {c.key}, bar {c.first_bar}" for c in reading.cadences)
        ),
        "passages": [f"bars {p.first_bar} to {p.last_bar}: {p.words}" for p in reading.passages],
        "level": grade.level,
        "hardest": [f"bar {bar.bar}: {', '.join(bar.reasons)}" for bar in grade.hardest],
    }


def _changes(reading: Reading) -> list[dict[str, str]]:
    """What each chord does, once, with the bars where it does so; a chord that goes on is not
    counted again."""
    places: dict[tuple[str, ...], list[str]] = {}
    before: ReadChange | None = None
    for one in reading.changes:
        if before is None or before.change.chord != one.change.chord:
            places.setdefault(_told(one), []).append(str(one.bar))
        before = one
    names = ("chord", "tones", "does", "scale", "because")
    return [
        {"bars": ", ".join(dict.fromkeys(where)), **dict(zip(names, told, strict=True))}
        for told, where in places.items()
    ]


def _told(one: ReadChange) -> tuple[str, ...]:
    chord = one.change.chord
    tones = " ".join(str(tone) for tone in chord.tones)
    if not one.scales:
        return one.change.text, tones, one.doing, "", ""
    scale, because = str(one.scales[0].scale), one.scales[0].because
    does = f"{one.numeral} in {one.key}"
    return one.change.text, tones, does, scale, because.removeprefix(f"{scale}: ")


async def _feel(request: Request) -> Response:
    """The band plays a few bars in a feel; they are sounded when they are first listened to."""
    wanted = request.path_params["feel"]
    if wanted not in feels():
        raise NotKept("there is no such feel", remedy="Choose one on the Shelf.")
    target = studio_of(request).folder.root / "auditions" / "feels" / f"{wanted}.flac"
    return await _played(request, target, _SHOWN[wanted == "jazz-waltz"], wanted)


async def _audition(request: Request) -> Response:
    """The band plays a chart once; it is sounded when it is first listened to."""
    studio, name = studio_of(request), request.path_params["name"]
    asked = request.query_params.get("version", "0")
    version = int(asked) if asked.isascii() and asked.isdecimal() and len(asked) < 6 else 0
    source = await run_in_threadpool(studio.folder.source, name, version)
    target = studio.folder.root / "auditions" / f"{name_of(name)}-{version}.flac"
    return await _played(request, target, source, None)


async def _played(request: Request, target: Path, source: str, feel: str | None) -> Response:
    if not target.is_file():
        turn = studio_of(request).maker.ask(
            f"audition {target.name}", lambda hand: _sounded(hand, source, target, feel)
        )
        fault = await asyncio.shield(asyncio.wrap_future(turn))
        if fault:
            raise InputError(fault, remedy="Look at the chart, and try again.")
    return FileResponse(target, media_type="audio/flac")


def _sounded(hand: Hand, source: str, target: Path, feel: str | None) -> str:
    try:
        return hand.do(_sound, source, target, feel)
    except Stopped:
        return "the band took too long over this chart"


def _sound(source: str, target: Path, feel: str | None) -> str:
    """A fault travels as text: an error would not survive the way."""
    try:
        write_audition(source, target, feel)
    except ChangewrightError as fault:
        return str(fault)
    return ""


def _list(request: Request) -> Response:
    studio = studio_of(request)
    return page(
        request,
        "shelf.html",
        charts=chart_lines(studio.folder),
        books=finished_books(studio),
        phrases=list_phrases(),
        feels=list(feels().values()),
    )


def _new(request: Request) -> Response:
    return _editor(request, _START, "", 0, ())


def _open(request: Request) -> Response:
    folder, name = studio_of(request).folder, request.path_params["name"]
    versions = folder.versions(name)
    asked = request.query_params.get("version", "")
    version = int(asked) if asked.isdecimal() and len(asked) < 6 else next(iter(versions), 0)
    if not version and name not in shelf():
        raise NotKept(f"there is no chart {name!r}", remedy="Choose it on the Shelf.")
    return _editor(request, folder.chart_text(name, version), name, version, versions)


def _editor(
    request: Request, text: str, name: str, version: int, versions: tuple[int, ...]
) -> Response:
    said = request.query_params.get("said", "")
    try:
        reading, fault = reading_view(text), None
    except InputError as wrong:
        reading, fault = None, fault_view(wrong)
    return page(
        request,
        "chart.html",
        text=text,
        name=name,
        version=version,
        versions=versions,
        reading=reading,
        fault=fault,
        saved=said == "saved",
        keys=_PINS,
    )


async def _read(request: Request) -> Response:
    """The reading of what is being typed, as a piece of a page."""
    text = (await request.body())[: LONGEST_TEXT + 1]
    bars = 2 if request.query_params.get("bars") == "2" else 4
    reading = await run_in_threadpool(lambda: reading_view(_typed(text), bars))
    return page(request, "_reading.html", reading=reading)


def _typed(text: bytes) -> str:
    if len(text) > LONGEST_TEXT:
        raise InputError(
            f"more than {LONGEST_TEXT:,} bytes are too many for a chart",
            remedy="Type one tune at a time.",
        )
    try:
        return text.decode("utf-8").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        raise InputError("this is no text", remedy="Send it as UTF-8.") from fault


async def _pin(request: Request) -> Response:
    """What is being typed with a bar pinned to a key, or let go, as text."""
    text = (await request.body())[: LONGEST_TEXT + 1]
    told = request.query_params
    bar, key = number(told.get("bar", ""), "bar", 0, 9999), told.get("key", "")[:20]
    pinned = await run_in_threadpool(lambda: pin_bar(_typed(text), bar, key))
    return PlainTextResponse(pinned)


async def _save(request: Request) -> Response:
    async with request.form(max_files=0, max_fields=10, max_part_size=MOST_BYTES) as form:
        text = str(form.get("text", ""))
    return await run_in_threadpool(lambda: _saved(request, text))


def _saved(request: Request, text: str) -> Response:
    """Keep a chart that can be read; what can't is shown again with its fault, and nothing lost."""
    text = text.replace("\r\n", "\n")
    try:
        chart = read_chart(_typed(text.encode()), "chart")
        unroll(chart)
    except InputError:
        response = _editor(request, text, "", 0, ())
        response.status_code = 422
        return response
    name, version = studio_of(request).folder.save_chart(chart.title, text)
    return see_other(f"/shelf/{name}?version={version}&said=saved")


async def _import(request: Request) -> Response:
    async with request.form(max_files=1, max_fields=10) as form:
        upload = form.get("score")
        if not isinstance(upload, UploadFile) or not upload.filename:
            raise InputError("no file was chosen", remedy="Choose a MusicXML file or a chart.")
        content, name = await upload.read(MOST_BYTES + 1), upload.filename[-80:]
    if len(content) > MOST_BYTES:
        raise InputError(
            f"more than {MOST_BYTES // 1_000_000} MB are too many for a chart",
            remedy="Save the lead sheet alone.",
        )
    return await run_in_threadpool(lambda: _imported(request, content, name))


def _imported(request: Request, content: bytes, file: str) -> Response:
    chart = decode_chart(content, file)
    unroll(chart)
    name, version = studio_of(request).folder.save_chart(chart.title, write_chart(chart))
    return see_other(f"/shelf/{name}?version={version}&said=saved")


ROUTES = [
    Route("/shelf", _list),
    Route("/shelf/new", _new),
    Route("/shelf/feels/{feel}", _feel),
    Route("/shelf/read", _read, methods=["POST"]),
    Route("/shelf/pin", _pin, methods=["POST"]),
    Route("/shelf/save", _save, methods=["POST"]),
    Route("/shelf/import", _import, methods=["POST"]),
    Route("/shelf/{name}", _open),
    Route("/shelf/{name}/audition", _audition),
]
