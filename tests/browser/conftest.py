"""A studio at work and a real browser before it.

``tools/browser.sh`` fetches what is needed. Without it these tests are skipped, unless
``CHANGEWRIGHT_BROWSER`` is set, as it is where they must run.
"""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import pytest

from changewright.sound.files import write_take
from changewright.sound.stems import render
from changewright.usecases.demo import BLEED, DEMO, PLANTED, play_with_mistakes
from changewright.usecases.lesson import plan_lesson

AXE = Path(sys.prefix) / "share" / "axe.min.js"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
_RUN = "from changewright.cli.main import main; main()"
_ARGS = ["--no-sandbox", "--autoplay-policy=no-user-gesture-required", "--mute-audio"]

Open = Callable[..., AbstractContextManager[Any]]


@pytest.fixture(scope="session")
def chromium() -> str:
    """Where the browser is."""
    pytest.importorskip("playwright.sync_api")
    if CHROMIUM is None or not AXE.is_file():
        told = "no Chromium or no axe-core here: run 'sh tools/browser.sh .venv'"
        if os.environ.get("CHANGEWRIGHT_BROWSER"):
            pytest.fail(told)
        pytest.skip(told)
    return CHROMIUM


@pytest.fixture(scope="module")
def studio(chromium: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a studio over an empty folder, served by the verb as a user would."""
    folder = tmp_path_factory.mktemp("studio")
    command = [sys.executable, "-c", _RUN, "studio", "--port", "0", "--no-open"]
    with subprocess.Popen(
        [*command, "--home", str(folder)], stdout=subprocess.PIPE, text=True
    ) as served:
        assert served.stdout is not None
        yield served.stdout.readline().split()[-1].rstrip("/")
        served.terminate()


@pytest.fixture(scope="session")
def browser(chromium: str) -> Open:
    """Open a page: ``with browser(studio, width=390, look="stage") as page``.

    The page fails the test where it logs an error, breaks its own policy, or asks anybody but the
    studio for anything.
    """
    from playwright.sync_api import sync_playwright

    @contextmanager
    def opened(
        studio: str,
        *,
        width: int = 1280,
        height: int = 800,
        look: str = "paper",
        mic: Path | None = None,
    ) -> Iterator[Any]:
        args = [*_ARGS, *(_microphone(mic) if mic else ())]
        wrong: list[str] = []
        with sync_playwright() as tool:
            shown = tool.chromium.launch(executable_path=chromium, args=args)
            view = {"width": width, "height": height}
            context = shown.new_context(viewport=view, base_url=studio, accept_downloads=True)
            context.add_init_script(f"localStorage.setItem('look', '{look}')")
            page = context.new_page()
            page.on("pageerror", lambda fault: wrong.append(str(fault)))
            page.on("console", lambda said: _note(said, wrong))
            page.on("request", lambda asked: _stranger(asked.url, studio, wrong))
            yield page
            shown.close()
        assert wrong == []

    return opened


def _note(said: Any, wrong: list[str]) -> None:
    """PITFALL: Chromium logs each answer of 4xx as an error; those are looked at by the tests."""
    if said.type == "error" and "Failed to load resource" not in said.text:
        wrong.append(said.text)


def _stranger(url: str, studio: str, wrong: list[str]) -> None:
    if not url.startswith((studio, "data:", "blob:")):
        wrong.append(f"asked for {url}")


def _microphone(take: Path) -> list[str]:
    return [
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={take}%noloop",
    ]


@pytest.fixture(scope="session")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's exercise, played with three mistakes on purpose, as a microphone hears it."""
    exercise = plan_lesson(DEMO).exercises[0]
    stems = render(play_with_mistakes(exercise, PLANTED))
    line = stems["line"]
    path = tmp_path_factory.mktemp("take") / "take.wav"
    return write_take(path, line + BLEED * (stems.mix - line), stems.rate)
