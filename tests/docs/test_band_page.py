"""The page on the band is true: its snippets run, and its feel plays."""

import re
from pathlib import Path

from changewright.band.feel import PIECES

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "band.md").read_text("utf-8")


def test_the_snippets_of_the_band_page_run() -> None:
    snippets = re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL)
    [toml] = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    assert len(snippets) == 3
    names: dict[str, object] = {"TOML": toml}
    for snippet in snippets:
        exec(compile(snippet, "docs/band.md", "exec"), names)
    assert names["boat_shed"]


def test_the_page_names_every_piece() -> None:
    [listed] = re.findall(r"named as in the file: ([^.]*)\.", PAGE)
    assert set(re.split(r",\s+", listed)) | {"brush-slap"} == set(PIECES)
