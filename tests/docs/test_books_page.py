"""The page about books tells the truth: its file makes a book, its snippet and example run."""

import json
import re
from pathlib import Path

import pytest

from changewright.usecases.book_file import read_book

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "books.md"
TEXT = PAGE.read_text("utf-8")


def fenced(kind: str) -> str:
    (found,) = re.findall(rf"```{kind}\n(.*?)```", TEXT, re.S)
    return found


@pytest.fixture(scope="module")
def made(tmp_path_factory) -> Path:
    """The folder in which the page's own snippet made the page's own book."""
    folder = tmp_path_factory.mktemp("page")
    (folder / "two-keys.toml").write_text(fenced("toml"), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        exec(fenced("python").replace("Workers()", "Workers(1)"), {})
    return folder / "two-keys"


def test_the_files_are_there_as_named(made):
    told = re.findall(r"^\| `([^`]+)`", TEXT, re.M)
    assert len(told) == 6
    for name in told:
        assert (made / name).is_file() or name.startswith("audio/"), name


def test_the_book_is_whole(made):
    manifest = json.loads((made / "book.json").read_text("utf-8"))
    assert [e["name"] for e in manifest["editions"]] == [
        "C treble", "B-flat", "C bass", "Clarinet in Bb",
    ]  # fmt: skip
    assert len(manifest["exercises"]) == 6
    assert manifest["warnings"] == []


def test_the_page_names_every_key_of_the_file():
    from changewright.usecases import book_file

    for key in (*book_file.BOOK_KEYS, *book_file.ENTRY_KEYS):
        assert re.search(rf"\b{key}\b", fenced("toml")), key


def test_the_examples_make_books():
    examples = sorted((ROOT / "examples").glob("*.toml"))
    assert examples
    for path in examples:
        assert len(list(read_book(path).pieces())) > 1


def test_its_picture_exists():
    for picture in re.findall(r"\((images/[^)]+)\)", TEXT):
        assert (PAGE.parent / picture).stat().st_size > 10_000
