"""The studio out of the built wheel, away from its sources: pages and assets are all inside."""

import re
import subprocess
import sys
import urllib.request
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.slow


def test_the_wheel_serves_its_own_pages(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "-w", str(tmp_path)]
    subprocess.run([*command, str(ROOT)], check=True)
    with zipfile.ZipFile(next(tmp_path.glob("changewright-*.whl"))) as archive:
        archive.extractall(tmp_path / "site")
    code = (
        f"import sys; sys.path.insert(0, {str(tmp_path / 'site')!r}); "
        "import changewright; assert 'site' in changewright.__file__; "
        "from changewright.cli.main import main; main()"
    )
    options = ["studio", "--port", "0", "--no-open", "--home", str(tmp_path / "kept")]
    with subprocess.Popen(
        [sys.executable, "-c", code, *options], cwd=tmp_path, stdout=subprocess.PIPE, text=True
    ) as served:
        assert served.stdout is not None
        at = served.stdout.readline().split()[-1].rstrip("/")
        try:
            pages = [got(at, path) for path in ("/", "/shelf", "/shelf/quayside-blues")]
            assets = {
                a for page in pages for a in re.findall(r'(?:src|href)="(/static/[^"]+)"', page)
            }
            assert len(assets) >= 4
            for asset in assets:
                assert got(at, asset)
            assert "<svg" in pages[2]
        finally:
            served.terminate()


def got(at: str, path: str) -> str:
    with urllib.request.urlopen(at + path, timeout=20) as answer:
        assert answer.status == 200
        return str(answer.read().decode("utf-8"))
