"""The typesetter behind one door: a template of ours and its content in, PDF or PNG out.

It sees no fonts but ours, no file but the template, no clock and no network.
"""

from collections.abc import Sequence
from contextlib import ExitStack
from functools import cache
from importlib.resources import as_file, files
from threading import Lock
from typing import Any, Literal

from changewright.errors import EngineError

__all__ = ["let_go", "typeset_pdf", "typeset_png"]

_ONE_AT_A_TIME = Lock()  # a compiler keeps its inputs between runs
_REMEMBERED_RUNS = 11
_KEPT = ExitStack()  # holds unpacked fonts for as long as the process lives


def typeset_pdf(template: str, inputs: dict[str, str], *, archival: bool = False) -> bytes:
    """Set a template as a tagged PDF with its fonts embedded: PDF/UA-1, and PDF/A-2a where
    ``archival`` (the template must then give a date)."""
    standards = ["ua-1", "a-2a"] if archival else ["ua-1"]
    return _typeset(template, inputs, "pdf", standards=standards)[0]


def typeset_png(template: str, inputs: dict[str, str], dots_an_inch: float) -> list[bytes]:
    """Set a template as pictures, one a page."""
    return _typeset(template, inputs, "png", ppi=dots_an_inch)


def let_go() -> None:
    """Give back the memory of what was typeset before, so that a long book needs no more than a
    short one.

    PITFALL: the typesetter remembers each page for ten more runs, in case it comes again.
    """
    with _ONE_AT_A_TIME:
        for _ in range(_REMEMBERED_RUNS):
            _compiler("empty.typ").compile(format="svg")


def _typeset(
    template: str,
    inputs: dict[str, str],
    form: Literal["pdf", "png"],
    *,
    ppi: float | None = None,
    standards: Sequence[str] = (),
) -> list[bytes]:
    import typst

    try:
        with _ONE_AT_A_TIME:
            made, warnings = _compiler(template).compile_with_warnings(
                format=form,
                ppi=ppi,
                sys_inputs=inputs,
                timestamp=0,
                pdf_standards=list(standards),
            )
    except typst.TypstError as error:
        raise EngineError(f"the typesetter refused the page: {error.message}") from error
    if warnings:
        raise EngineError(f"the typesetter has doubts about the page: {warnings[0].message}")
    return [made] if isinstance(made, bytes) else list(made)


@cache
def _compiler(template: str) -> Any:
    import typst

    folder = _KEPT.enter_context(as_file(files("changewright.page")))
    fonts = typst.Fonts(
        include_system_fonts=False,
        include_embedded_fonts=False,
        font_paths=[folder / "fonts"],
    )
    return typst.Compiler(folder / "templates" / template, root=folder, font_paths=fonts)
