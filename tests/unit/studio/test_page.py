"""The studio's page says what is true: its options, its folder, its figures."""

import re
from pathlib import Path

import pytest
from typer.main import get_command

from changewright.cli.main import app as commands
from changewright.jobs.bounded import LONGEST_S, MOST_MEMORY
from changewright.studio.door import _SESSION_S, _TRIES, _WITHIN_S
from changewright.studio.guard import MOST_BYTES
from changewright.studio.guests import VALID_S
from changewright.studio.pages import HERE
from changewright.studio.style import COLOURS
from tests.unit.studio.manners import Made

STYLE = (Path(__file__).parents[3] / "docs" / "style.md").read_text("utf-8")
PAGE = (Path(__file__).parents[3] / "docs" / "studio.md").read_text("utf-8")


def test_the_options_are_those_of_the_verb() -> None:
    verb = get_command(commands).commands["studio"]  # type: ignore[attr-defined]
    options = {name for param in verb.params for name in param.opts}
    rows = [line for line in PAGE.splitlines() if line.startswith("| `--")]
    named = {o for row in rows for o in re.findall(r"`(--[a-z-]+)", row.split("|")[1])}
    assert named == options - {"--help"}
    assert f"| {verb.params[0].default} |" in PAGE


@pytest.mark.parametrize("part", ["lessons", "requests"])
def test_what_is_kept_lies_where_it_says(with_lesson: Made, part: str) -> None:
    assert f"\nstudio/{part}/" in PAGE
    assert (with_lesson.root / part).is_dir()


def test_the_figures_are_those_of_the_code() -> None:
    assert MOST_BYTES == 40_000_000
    assert "above 40 MB" in PAGE
    assert (LONGEST_S, MOST_MEMORY) == (120, 6 * 2**30)
    assert "two minutes" in PAGE
    assert (_TRIES, _WITHIN_S, _SESSION_S) == (5, 60, 12 * 3600)
    assert "five tries a minute, sessions of twelve hours" in PAGE
    assert VALID_S == 90 * 24 * 3600
    assert "ninety days" in PAGE


def test_the_colours_on_the_style_page_are_those_of_the_stylesheet() -> None:
    sheet = (HERE / "static" / "studio.css").read_text("utf-8")
    paper, stage = re.findall(r":root[^{]*\{([^}]*)\}", sheet)[:2]
    rows = re.findall(r"^\| (\w+) \| `(#\w+)` \| `(#\w+)` \|", STYLE, re.M)
    assert [name for name, _, _ in rows] == list(COLOURS)
    for name, light, dark in rows:
        assert f"--{name}: {light}" in paper
        assert f"--{name}: {dark}" in stage
