"""The page about pages tells the truth: its snippet runs."""

import re
from datetime import date
from pathlib import Path

from changewright.chart.model import form_of
from changewright.reading.analyse import analyse
from changewright.theory.key import Key
from tests.unit.page.sheets import BLUES, sheet_of

PAGE = Path(__file__).parents[2] / "docs" / "pages.md"


def test_the_snippet_runs():
    (snippet,) = re.findall(r"```python\n(.*?)```", PAGE.read_text("utf-8"), re.S)
    form = form_of(BLUES, Key.parse("F"))
    names = {
        "sheets": [sheet_of(blank=(2,))],
        "form": form,
        "reading": analyse(form),
        "date": date,
    }
    exec(snippet, names)
    for name in ("pdf", "done", "back", "big", "hand", "kept", "whole", "codes"):
        assert names[name].startswith(b"%PDF")
    assert all(drawing.startswith("<svg") for drawing in names["drawings"])
    assert names["picture"].startswith(b"\x89PNG")


def test_its_pictures_exist():
    for picture in re.findall(r"\((images/[^)]+)\)", PAGE.read_text("utf-8")):
        assert (PAGE.parent / picture).stat().st_size > 10_000
