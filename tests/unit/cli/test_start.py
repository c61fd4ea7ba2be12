import subprocess
import sys

import pytest

ENGINES = ("numpy", "scipy", "verovio", "typst", "soundfile", "onnxruntime", "swift_f0", "mido")
ROOMS = ("lesson.compose", "band.accompany", "page", "sound.stems", "ear.transcribe")


def _loaded_by(statement: str, wanted: tuple[str, ...]) -> str:
    code = f"import sys; {statement}; print([m for m in {wanted!r} if m in sys.modules])"
    return subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.strip()


def test_the_command_line_starts_without_any_engine() -> None:
    assert _loaded_by("import changewright.cli.main", ENGINES) == "[]"


@pytest.mark.parametrize("room", ROOMS)
def test_importing_a_room_loads_no_engine(room: str) -> None:
    engines = tuple(e for e in ENGINES if e not in ("numpy", "scipy", "mido"))
    assert _loaded_by(f"import changewright.{room}", engines) == "[]"
