"""Fixtures that several suites share, each made once."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from changewright.usecases.demo import Demo, run_demo

# The same examples on every machine, so that a red test was red before too. New ones are sought
# by `make explore`.
settings.register_profile("settled", derandomize=True, deadline=None, print_blob=True)
settings.register_profile("exploring", deadline=None, print_blob=True)
settings.load_profile(os.environ.get("CHANGEWRIGHT_EXAMPLES", "settled"))


@pytest.fixture(scope="session", autouse=True)
def _kept_apart(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Finished work of the tests doesn't lie among the user's own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CHANGEWRIGHT_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """The whole demo, run once for all suites."""
    return run_demo(tmp_path_factory.mktemp("walk") / "quayside")


@pytest.fixture(scope="session")
def lesson_folder(demo: Demo) -> Path:
    return demo.folder / "lesson"
