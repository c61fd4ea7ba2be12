"""The built wheel holds everything: it runs the demo from an empty folder, without the sources."""

import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", str(out), str(ROOT)],
        check=True,
    )
    return next(out.glob("changewright-*.whl"))


@pytest.mark.slow
def test_the_wheel_runs_the_demo(wheel: Path, tmp_path: Path) -> None:
    """Only the package comes from the wheel; what it depends on is borrowed from here."""
    venv.create(tmp_path / "env", with_pip=False)
    python = tmp_path / "env" / "bin" / "python"
    borrowed = Path(pytest.__file__).parents[1]
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(tmp_path / "site")
    code = (
        f"import sys; sys.path[:0] = [{str(tmp_path / 'site')!r}]; "
        f"sys.path.append({str(borrowed)!r}); "
        "sys.argv = ['changewright', 'demo']; "
        "from changewright.cli.main import main; main()"
    )
    done = subprocess.run(
        [python, "-c", code], cwd=tmp_path, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "quayside" / "lesson" / "lesson.pdf").is_file()
    assert "NOT named" not in done.stdout


@pytest.mark.slow
def test_the_wheel_is_not_too_heavy_and_carries_the_notices(wheel: Path) -> None:
    # The band's audio may take 20 MB; everything else together little.
    assert wheel.stat().st_size < 22_000_000
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    for needed in ("LICENSE", "NOTICE", "bank/NOTICE.txt", "models/LICENSE", "edwin-OFL.txt"):
        assert any(name.endswith(needed) for name in names), needed
    assert not any("tests/" in name for name in names)
