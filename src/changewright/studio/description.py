"""What the studio answers to, as an OpenAPI 3.1 description; made from the routes themselves.

Source: OpenAPI Specification 3.1.1. Pages are HTML; the description says which addresses there are,
what may stand in them, and what their forms and bodies hold.
"""

import re
from collections.abc import Iterable
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from changewright import __version__
from changewright.studio.guard import MOST_BYTES
from changewright.studio.shapes import BOOK, KEY, LESSON, NAME, PLAYER

__all__ = ["ROUTES", "description_of"]

_TEXT: dict[str, Any] = {"type": "string", "maxLength": 400}
_NUMBER: dict[str, Any] = {"type": "integer", "minimum": 0, "maximum": 999_999}
_SOUND = {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}}


def _shape(pattern: re.Pattern[str]) -> dict[str, Any]:
    return {"type": "string", "pattern": f"^(?:{pattern.pattern})$"}


_PARAMETERS: dict[str, dict[str, Any]] = {
    "lesson": _shape(LESSON),
    "player": _shape(PLAYER),
    "key": _shape(KEY),
    "name": _shape(NAME),
    "book": _shape(BOOK),
    "edition": _shape(NAME),
    "feel": _shape(NAME),
    "exercise": {"type": "integer", "minimum": 1, "maximum": 9},
    "piece": {"type": "integer", "minimum": 0, "maximum": 400},
    "stem": {"type": "string", "enum": ["count-in", "drums", "bass", "comping", "line"]},
    "token": {"type": "string", "pattern": "^[A-Za-z0-9_-]{22}$"},
    "label": _TEXT,
    "face": _TEXT,
}
_PLAYER = {
    "nickname": _TEXT,
    "instrument": _TEXT,
    "level": _NUMBER,
    "age_band": _TEXT,
    "minutes": _NUMBER,
    "day": {"type": "array", "items": {"type": "integer", "minimum": 0, "maximum": 6}},
    "lesson_day": _NUMBER,
    "home_key": _TEXT,
    "goals": _TEXT,
    "constraints": _TEXT,
    "tune": _TEXT,
    "concert": _TEXT,
}
_LESSON = {
    "chart": _TEXT,
    "player": _TEXT,
    "instrument": _TEXT,
    "level": _NUMBER,
    "key": _TEXT,
    "tempo": _NUMBER,
    "seed": _NUMBER,
    "family": {"type": "array", "items": _TEXT},
}
_FORMS: dict[str, dict[str, Any]] = {
    "/login": {"password": _TEXT},
    "/lessons": _LESSON,
    "/lessons/{lesson}/change": {"way": _TEXT, "key": _TEXT},
    "/lessons/{lesson}/{exercise}/phrases": {"phrase": _TEXT},
    "/players": _PLAYER,
    "/players/{player}": _PLAYER,
    "/players/{player}/consent": {"given_by": _TEXT},
    "/players/{player}/notes": {"text": _TEXT},
    "/players/{player}/week": {"sore": _TEXT, "hold": _TEXT},
    "/players/{player}/erase": {"sure": _TEXT},
    "/takes/{key}/word": {"words": _TEXT, "bar-1": _TEXT, "bar-5": _TEXT},
    "/shelf/save": {"text": _TEXT},
    "/exercise/{label}": {"player": _TEXT},
}
_FILES = {
    "/books": "book",
    "/lessons/{lesson}/{exercise}/recordings": "recording",
    "/shelf/import": "score",
}
_BODIES: dict[str, dict[str, Any]] = {
    "/shelf/read": {"text/plain": {"schema": _TEXT}},
    "/shelf/pin": {"text/plain": {"schema": _TEXT}},
    "/lessons/{lesson}/{exercise}/takes": _SOUND,
    "/lessons/{lesson}/{exercise}/takes/{key}/pieces/{piece}": _SOUND,
    "/lessons/{lesson}/{exercise}/takes/{key}/whole": {
        "application/json": {"schema": {"type": "object"}}
    },
}
_QUERIES: dict[str, dict[str, dict[str, Any]]] = {
    "/": {"chart": _TEXT},
    "/week": {"from": _TEXT},
    "/books/new": {"of": _PARAMETERS["book"]},
    "/shelf/read": {"bars": _TEXT},
    "/shelf/pin": {"bar": _TEXT, "key": _TEXT},
    "/shelf/{name}": {"version": _NUMBER, "said": _TEXT},
    "/shelf/{name}/audition": {"version": _NUMBER},
    "/join/{token}": {"lesson": _TEXT},
    "/lessons/{lesson}/{exercise}": {"tempo": _NUMBER, "in": _TEXT},
    "/lessons/{lesson}/{exercise}/part": {"tempo": _NUMBER, "in": _TEXT},
    "/lessons/{lesson}/{exercise}/systems": {"tempo": _NUMBER, "in": _TEXT, "bars": _NUMBER},
    "/lessons/{lesson}/{exercise}/stems/{stem}": {"tempo": _NUMBER, "in": _TEXT},
    "/lessons/{lesson}/{exercise}/takes": {"key": _PARAMETERS["key"], "tempo": _NUMBER},
}
_ANSWERS = {
    "200": "What was asked for.",
    "202": "It is kept, and being worked at.",
    "204": "Done; there is nothing to show.",
    "303": "Done; look there.",
    "400": "A name by which the studio isn't called, or a broken request.",
    "401": "Log in first.",
    "403": "From another site, or the wrong password.",
    "404": "There is no such thing.",
    "405": "That can't be done here.",
    "409": "Pieces of the take are missing.",
    "413": "More than a request may hold.",
    "422": "It can't be used, and the page says why.",
    "429": "Too often. Wait a minute.",
}


def description_of(routes: Iterable[BaseRoute]) -> dict[str, Any]:
    """Describe the routes of an application."""
    paths: dict[str, dict[str, Any]] = {}
    for route in routes:
        if isinstance(route, Route):
            path = re.sub(r":\w+\}", "}", route.path)
            for method in sorted((route.methods or set()) - {"HEAD"}):
                paths.setdefault(path, {})[method.lower()] = _operation(path, method)
    return {
        "openapi": "3.1.1",
        "info": {
            "title": "The studio",
            "version": __version__,
            "description": f"Requests up to {MOST_BYTES // 1_000_000} MB; what changes something "
            "must come from a page of the studio's own.",
        },
        "paths": paths,
    }


def _operation(path: str, method: str) -> dict[str, Any]:
    told: dict[str, Any] = {
        "parameters": [
            {"name": name, "in": "path", "required": True, "schema": _PARAMETERS[name]}
            for name in re.findall(r"\{(\w+)\}", path)
        ],
        "responses": {code: {"description": words} for code, words in _ANSWERS.items()},
    }
    told["parameters"] += [
        {"name": name, "in": "query", "schema": schema}
        for name, schema in _QUERIES.get(path, {}).items()
    ]
    content = _content(path) if method != "GET" else {}
    return told | ({"requestBody": {"content": content}} if content else {})


def _content(path: str) -> dict[str, Any]:
    if path in _BODIES:
        return _BODIES[path]
    if path in _FILES:
        fields = {
            "key": _TEXT,
            "agree": _TEXT,
            "text": _TEXT,
            _FILES[path]: {"type": "string", "format": "binary"},
        }
        return {"multipart/form-data": {"schema": {"type": "object", "properties": fields}}}
    if path in _FORMS:
        schema = {"type": "object", "properties": _FORMS[path]}
        return {"application/x-www-form-urlencoded": {"schema": schema}}
    return {}


def _described(request: Request) -> Response:
    return JSONResponse(description_of(request.app.routes))


ROUTES = [Route("/openapi.json", _described)]
