"""Fixtures that several suites share, each made once."""

from pathlib import Path

import pytest

from changewright.usecases.demo import Demo, run_demo


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """The whole demo, run once for all suites."""
    return run_demo(tmp_path_factory.mktemp("walk") / "quayside")


@pytest.fixture(scope="session")
def lesson_folder(demo: Demo) -> Path:
    return demo.folder / "lesson"
