"""Pages from templates: one way to render, one way to say that something is wrong."""

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from changewright.errors import ChangewrightError, EngineError, InputError, NotKept, Refusal
from changewright.studio.guests import is_guest

__all__ = ["HERE", "fault_page", "fault_view", "page", "see_other"]

HERE = Path(__file__).parent
"""Where templates and assets lie: inside the package, so that they are in the wheel."""


@cache
def _templates() -> Environment:
    return Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page(request: Request, template: str, *, status: int = 200, **told: Any) -> HTMLResponse:
    """Render a template; every page knows whether somebody is logged in."""
    html = (
        _templates()
        .get_template(template)
        .render(
            has_door=request.app.state.studio.door is not None,
            guest=is_guest(request.scope),
            path=request.url.path,
            **told,
        )
    )
    return HTMLResponse(html, status)


def see_other(address: str) -> RedirectResponse:
    """After a form was taken: look there. Source: RFC 9110, 303 See Other."""
    return RedirectResponse(address, 303)


def fault_view(fault: ChangewrightError) -> dict[str, Any]:
    """A fault as its page tells it: what, where, the line with a caret, and what to do."""
    if isinstance(fault, InputError):
        column = fault.where.column
        return {
            "what": fault.what,
            "where": str(fault.where),
            "line": fault.where.line,
            "column": column,
            "bar": fault.where.bar,
            "source": fault.source,
            "caret": " " * (column - 1) + "^" if fault.source and column else "",
            "remedy": fault.remedy,
        }
    told = {"where": "", "line": None, "column": None, "bar": None, "source": "", "caret": ""}
    if isinstance(fault, Refusal):
        first, _, repairs = str(fault).partition("\n")
        return {**told, "what": first, "remedy": repairs}
    return {**told, "what": str(fault), "remedy": ""}


async def fault_page(request: Request, fault: Exception) -> Response:
    """Answer for something that we say on purpose; 404 for what we don't have, 422 for
    input that we can't use, 500 for an engine's fault."""
    if not isinstance(fault, ChangewrightError):
        raise fault
    kinds = ((EngineError, 500), (NotKept, 404))
    status = next((code for kind, code in kinds if isinstance(fault, kind)), 422)
    bare = request.headers.get("x-fragment") == "1"
    template = "_fault.html" if bare else "fault.html"
    return page(request, template, status=status, fault=fault_view(fault))
