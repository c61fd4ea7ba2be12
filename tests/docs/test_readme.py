"""The README's commands and snippets run as they stand."""

import re
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from changewright.cli.main import app
from changewright.usecases.demo import CHART, Demo

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"```(\w+)\n(.*?)```", README, re.DOTALL)
PYTHON = [code for language, code in BLOCKS if language == "python"]
COMMANDS = [
    line.split("#")[0].strip()
    for language, code in BLOCKS
    if language == "sh"
    for line in code.splitlines()
    if line.startswith("changewright ")
]
MADE = re.findall(r"^make ([\w-]+)", README, re.MULTILINE)


@pytest.fixture(scope="module")
def workshop(demo: Demo, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the files that the README speaks of: a chart and a take."""
    folder = tmp_path_factory.mktemp("readme")
    shutil.copy(demo.folder / f"{CHART}.txt", folder / "blues.txt")
    shutil.copy(demo.folder / "take.wav", folder / "take.wav")
    return folder


def test_the_main_job_runs_as_written(workshop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(workshop)
    assert len(COMMANDS) >= 3
    for command in COMMANDS:
        result = CliRunner().invoke(app, shlex.split(command)[1:])
        assert result.exit_code == 0, (command, result.output, result.exception)
        assert result.stdout


@pytest.mark.parametrize("code", PYTHON)
def test_a_snippet_runs(code: str) -> None:
    exec(compile(code, "README.md", "exec"), {})


def test_the_make_targets_exist() -> None:
    makefile = (ROOT / "Makefile").read_text("utf-8")
    assert {"demo", "test"} <= set(MADE)
    for target in MADE:
        assert f"\n{target}:" in makefile


@pytest.mark.parametrize("page", sorted(p.relative_to(ROOT) for p in ROOT.glob("docs/**/*.md")))
def test_links_lead_somewhere(page: Path) -> None:
    _check_links(ROOT / page)


def test_the_readmes_links_lead_somewhere() -> None:
    for name in ("README.md", "CONTRIBUTING.md"):
        _check_links(ROOT / name)


def _check_links(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#\s]+)\)", page.read_text("utf-8")):
        if not target.startswith(("http://", "https://", "mailto:")):
            assert (page.parent / target).exists(), f"{page.name} links to {target}"
