"""The page on composing can't lie: its snippets run, in order, and its table is complete."""

import re
from pathlib import Path

from changewright.lesson.family import families

PAGE = Path(__file__).parents[2] / "docs" / "composing.md"


def test_the_snippets_run():
    source = PAGE.read_text("utf-8")
    space: dict[str, object] = {}
    snippets = re.findall(r"```python\n(.*?)```", source, re.DOTALL)
    assert len(snippets) >= 5
    for snippet in snippets:
        exec(compile(snippet, str(PAGE), "exec"), space)


def test_the_table_lists_every_family_with_its_level():
    rows = re.findall(r"^\| `([\w-]+)` \| (\d) \|", PAGE.read_text("utf-8"), re.MULTILINE)
    assert {name: int(since) for name, since in rows} == {
        f.id: f.since for f in families().values()
    }
