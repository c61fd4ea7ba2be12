"""The Stand's page: one exercise, its band and the microphone. What comes of a recording is in
:mod:`changewright.studio.takes`."""

import json
from secrets import token_hex
from typing import Any

from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from changewright.errors import NotKept
from changewright.page import screen_svg
from changewright.studio.pages import page
from changewright.studio.studio import studio_of
from changewright.usecases.lesson_folder import Assignment, load_assignment, load_manifest

__all__ = ["ROUTES", "score_times"]

_STEMS = ("count-in", "drums", "bass", "comping", "line")


def score_times(asked: Assignment) -> dict[str, Any]:
    """When each bar sounds, in seconds from the first sample of the stems."""
    sheet, clock = asked.sheet, asked.clock
    return {
        "lead_s": float(clock.lead_in) * clock.quarter_s,
        "bars": [
            {
                "number": bar.number,
                "start_s": round(clock.to_seconds(bar.start), 6),
                "end_s": round(clock.to_seconds(bar.end), 6),
            }
            for bar in sheet.bars
        ],
    }


def _stand(request: Request) -> Response:
    studio, (lesson_id, number) = studio_of(request), _place(request)
    folder = studio.folder
    asked = folder.asked(lesson_id)
    assignment = load_assignment(folder.lesson(lesson_id), number)
    manifest = load_manifest(folder.lesson(lesson_id))
    stems = manifest["exercises"][number - 1]["files"]["stems"]
    base = f"/lessons/{lesson_id}/{number}"
    told = {
        **score_times(assignment),
        "base": base,
        "stems": [name for name in _STEMS if name in stems],
        "consent": folder.has_consent(lesson_id),
    }
    return page(
        request,
        "stand.html",
        asked=asked,
        id=lesson_id,
        number=number,
        count=len(manifest["exercises"]),
        title=manifest["title"],
        key=manifest["key"],
        sheet=assignment.sheet,
        systems=screen_svg(assignment.sheet),
        told=json.dumps(told),
        stems=told["stems"],
        consent=told["consent"],
        base=base,
        new_key=token_hex(16),
        takes=folder.takes(lesson_id, number),
    )


def _place(request: Request) -> tuple[str, int]:
    return request.path_params["lesson"], request.path_params["exercise"]


def _stem(request: Request) -> Response:
    lesson_id, number = _place(request)
    folder = studio_of(request).folder.lesson(lesson_id)
    exercises = load_manifest(folder)["exercises"]
    stems = exercises[number - 1]["files"]["stems"] if 1 <= number <= len(exercises) else {}
    name = request.path_params["stem"]
    if name not in stems:
        raise NotKept(f"there is no stem {name[:40]!r}", remedy="Open the Stand again.")
    return FileResponse(folder / stems[name], media_type="audio/flac")


_AT = "/lessons/{lesson}/{exercise:int}"
ROUTES = [
    Route(_AT, _stand),
    Route(_AT + "/stems/{stem}", _stem),
]
