"""Coverage-guided fuzzing of each reader, about twenty seconds each."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.fuzz.targets import TARGETS

ROOT = Path(__file__).parents[2]


@pytest.mark.longest
@pytest.mark.parametrize("target", TARGETS)
def test_a_guided_fuzzer_breaks_nothing(target: str, tmp_path: Path) -> None:
    pytest.importorskip("atheris")
    command = [sys.executable, "-m", "tests.fuzz.guided", target, "20", str(tmp_path)]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120)
    found = [path.read_bytes()[:2000] for path in tmp_path.glob("found-*")]
    assert not found, run.stderr[-3000:]
    assert run.returncode == 0, run.stderr[-3000:]
