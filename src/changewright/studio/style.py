"""The parts that pages are made of, each shown once, for whoever builds another page."""

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from changewright.chart.shelf import shelf_chart
from changewright.chart.writer import write_chart
from changewright.errors import InputError
from changewright.studio.faults import fault_view
from changewright.studio.pages import page
from changewright.studio.shelf import reading_view

__all__ = ["COLOURS", "ROUTES"]

COLOURS = {
    "paper": "the ground of every page",
    "leaf": "what is written on: fields, plain buttons",
    "ink": "words and music",
    "soft": "what is said beside",
    "line": "between things",
    "edge": "round what can be pressed or filled in",
    "accent": "the one accent: where one goes, and what asks for a look",
    "lit": "the bar that sounds",
}
"""Each colour of the stylesheet with what it is for; none says what kind a note is."""


def _style(request: Request) -> Response:
    reading = reading_view(write_chart(shelf_chart("quayside-blues")))
    try:
        reading_view("title: A fault\n\n| F7 | Bbb77 |\n")
        fault = fault_view(None)
    except InputError as wrong:
        fault = fault_view(wrong)
    return page(request, "style.html", colours=COLOURS, rows=reading["rows"][:1], fault=fault)


ROUTES = [Route("/style", _style)]
