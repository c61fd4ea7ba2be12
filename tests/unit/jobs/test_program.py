import json
import subprocess
import sys

import pytest

from changewright.jobs import program
from changewright.jobs.program import program_digest, program_files

PAGES, TRACKS = "changewright.usecases.book_work", "changewright.usecases.book_tracks"
_LOADED = """
import json, sys
from changewright.jobs.kept import Kept
from changewright.page.book_style import BookStyle
from changewright.chart.shelf import shelf_chart
from changewright.chart.writer import write_chart
from changewright.usecases.book_editions import edition
from changewright.usecases.book_work import ExerciseTask, set_exercise
task = ExerciseTask(write_chart(shelf_chart("quayside-blues")), "F", 2, "root-up", 1, None, False,
    (edition("clarinet"),), BookStyle("plain", "usual", "a4", "en", True), True,
    ("musicxml", "midi"))
set_exercise(task, Kept(None))
print(json.dumps(sorted(m for m in sys.modules if m.startswith("changewright."))))
"""


def test_all_that_a_work_loads_counts():
    ran = subprocess.run([sys.executable, "-c", _LOADED], capture_output=True, check=True)
    files = set(program_files(PAGES))
    asked = {"usecases", "jobs"}  # their packages, and what this test itself asked for
    for module in json.loads(ran.stdout):
        path = module.removeprefix("changewright.").replace(".", "/")
        assert {f"{path}.py", f"{path}/__init__.py"} & files or path in asked, module


def test_pages_depend_on_tables_and_fonts_and_not_on_ears_or_doors():
    files = program_files(PAGES)
    for wanted in (
        "theory/tables/chords.tsv",
        "lesson/families/root_up.py",
        "page/fonts/edwin-roman.otf",
        "page/templates/book.typ",
        "usecases/book_lines.py",
        "errors.py",
    ):
        assert wanted in files
    rooms = {path.partition("/")[0] for path in files}
    assert rooms.isdisjoint({"ear", "sound", "plan", "store", "studio", "cli"})
    assert "usecases/book.py" not in files


def test_tracks_depend_on_the_sound_too():
    assert "sound/stems.py" in program_files(TRACKS)
    assert set(program_files(PAGES)) < set(program_files(TRACKS))


def test_work_from_outside_may_depend_on_the_whole_package():
    files = program_files(__name__)
    assert {"cli/main.py", "ear/__init__.py", "page/mei.py"} <= set(files)


@pytest.mark.parametrize(
    ("changed", "anew"), [("page/mei.py", True), ("studio/app.py", False), ("ear/hear.py", False)]
)
def test_a_change_tells_only_on_what_depends_on_it(monkeypatch, changed, anew):
    def digest(path):
        return program._inside(path).encode() + (b"!" if program._inside(path) == changed else b"")

    monkeypatch.setattr(program, "_digest", lambda path: program._inside(path).encode())
    before = program_digest.__wrapped__(PAGES)
    monkeypatch.setattr(program, "_digest", digest)
    assert (program_digest.__wrapped__(PAGES) != before) == anew
