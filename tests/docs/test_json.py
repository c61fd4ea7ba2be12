"""docs/json.md names every path that the verbs print, and no other."""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from typer.testing import CliRunner

from changewright.cli.main import app
from changewright.usecases.demo import Demo

PAGE = (Path(__file__).parents[2] / "docs" / "json.md").read_text("utf-8")


def _documented(verb: str) -> list[str]:
    section = PAGE.split(f"\n## {verb}\n")[1].split("\n## ")[0]
    return re.findall(r"^\| `([^`]+)` \|", section, re.MULTILINE)


def _paths(value: Any, path: str = "") -> Iterator[str]:
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from _paths(inner, f"{path}.{name}" if path else name)
    elif isinstance(value, list):
        yield from (p for inner in value for p in _paths(inner, f"{path}[]"))
        if not value:
            yield f"{path}[]"
    else:
        yield path


def _pattern(documented: str) -> re.Pattern[str]:
    """`.*` at the end is anything below; a star inside is one name."""
    if documented.endswith(".*"):
        return re.compile(re.escape(documented[:-2]) + r"\..+")
    return re.compile(re.escape(documented).replace(r"\*", r"[^.]+"))


def _check(verb: str, *documents: Any) -> None:
    patterns = {text: _pattern(text) for text in _documented(verb)}
    used: set[str] = set()
    for path in {p for document in documents for p in _paths(document)}:
        fitting = {text for text, pattern in patterns.items() if pattern.fullmatch(path)}
        assert fitting, f"docs/json.md doesn't name {path} of {verb}"
        used |= fitting
    missing = [t for t in patterns if t not in used and not _optional(t)]
    assert not missing, f"{verb} doesn't print {missing}"


def _optional(documented: str) -> bool:
    """Lists that may be empty, and what stands in them."""
    lists = ("homes", "others", "slips", "unsure", "extra", "passages", "cadences", "missed")
    moves = ("intonation", "folds", "given_up", "awkward", "beyond_bars", "refused")
    return any(name in documented for name in (*lists, *moves, "record")) or documented in (
        "bars[].asked[]",
        "bars[].met[]",
        "mistakes[].heard",
        "remarks.strength",
        "remarks.correction",
        "remarks.suggestion",
        "guide_lines[].notes[].instead",
    )


def _printed(*args: str) -> Any:
    result = CliRunner().invoke(app, [*args, "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_symbols() -> None:
    _check("symbols", _printed("symbols", "C7/E", "Bb7"))


def test_shelf() -> None:
    _check("shelf", _printed("shelf"))


def test_levels() -> None:
    _check("levels", _printed("levels"))


def test_read(tmp_path: Path) -> None:
    doubtful = tmp_path / "doubtful.txt"
    doubtful.write_text("title: Doubtful\nkey: F\n| F6 | Ab5 C2 | B° | F6 |\n")
    charts = ("lock-keepers-detour", "quayside-blues", str(doubtful))
    _check("read", *(_printed("read", chart) for chart in charts))


def test_chart(tmp_path: Path) -> None:
    charts = ("harbourmasters-round", "quayside-blues")
    written = _printed("chart", "quayside-blues", "--output", str(tmp_path / "blues.mxl"))
    _check("chart", *(_printed("chart", chart) for chart in charts), written)


def test_scales() -> None:
    _check("scales", _printed("scales", "Cmaj7"))
    _check("scales --of", _printed("scales", "--of", "C ionian", "--every-note"))


def test_parts(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('[instrument.whistle]\nclef = "treble"\nprofessional = "D5 G5"\n')
    readers = (f"--for={name}" for name in ("horn", "tuba", "E flat", "whistle"))
    options = ("--instruments", str(own), "--output", str(tmp_path / "parts"), "--family=root-up")
    _check("parts", _printed("parts", "quayside-blues", *readers, *options))


def test_lesson(demo: Demo) -> None:
    _check("lesson", json.loads(json.dumps(demo.manifest)))


def test_band(tmp_path: Path) -> None:
    names = iter(range(9))

    def played(*options: str) -> Any:
        folder = str(tmp_path / str(next(names)))
        return _printed("band", "quayside-blues", "-o", folder, "--tempo", "240", *options)

    _check(
        "band",
        played("--choruses", "1", "--intro", "2", "--ending", "held"),
        played("--bars", "1-2", "--times", "2", "--trade", "2", "--for", "flute"),
    )


def test_hear(demo: Demo) -> None:
    take, lesson = str(demo.folder / "take.wav"), str(demo.folder / "lesson")
    options = ("--lesson", lesson, "--exercise", "1")
    both = [(), ("--free",)]
    _check("hear", *(_printed("hear", take, *options, *free) for free in both))
    _check("hear --solo", *(_printed("hear", take, *options, "--solo", *free) for free in both))


def test_demo(tmp_path: Path) -> None:
    _check("demo", _printed("demo", "--output", str(tmp_path / "quayside")))


def test_phrases(tmp_path: Path) -> None:
    solo = tmp_path / "solo.txt"
    solo.write_text(
        "title: x\nkey: C\n| Dm7 | G7 | Cmaj7 |\n"
        "melody | D4 F4 A4 C5 | B4 A4 Ab4 F#4 | G4:2 -:2 |\n",
        "utf-8",
    )
    _check("phrases list", _printed("phrases", "list"))
    _check("phrases find", _printed("phrases", "find", "lock-keepers-detour"))
    _check("phrases take", _printed("phrases", "take", str(solo), "-o", str(tmp_path / "own")))
