"""Pages from templates: one way to render, one way to say that something is wrong."""

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from changewright.errors import ChangewrightError, EngineError, NotKept
from changewright.studio.faults import fault_view
from changewright.studio.guests import is_guest

__all__ = ["HERE", "fault_page", "page", "see_other"]

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
    """Render a template; every page knows who is looking, and how long recordings are kept."""
    studio = request.app.state.studio
    html = (
        _templates()
        .get_template(template)
        .render(
            has_door=studio.door is not None,
            guest=is_guest(request.scope),
            path=request.url.path,
            keep_days=studio.filing.keep_for.days,
            **told,
        )
    )
    return HTMLResponse(html, status)


def see_other(address: str) -> RedirectResponse:
    """After a form was taken: look there. Source: RFC 9110, 303 See Other."""
    return RedirectResponse(address, 303)


async def fault_page(request: Request, fault: Exception) -> Response:
    """Answer for something that we say on purpose; 404 for what we don't have, 422 for
    input that we can't use, 500 for an engine's fault."""
    if not isinstance(fault, ChangewrightError):
        raise fault
    kinds = ((EngineError, 500), (NotKept, 404))
    status = next((code for kind, code in kinds if isinstance(fault, kind)), 422)
    bare = request.headers.get("x-fragment") == "1"
    template = "_fault.html" if bare else "fault.html"
    told = fault_view(fault)
    if str(request.app.state.studio.folder.root) in told["where"]:
        told["where"] = ""  # where things lie on this machine is nobody's business
    return page(request, template, status=status, fault=told)
