"""A book's file: what it may say, and faults that name line and key."""

from datetime import date
from pathlib import Path

import pytest

from changewright.errors import InputError
from changewright.usecases.book_file import read_book, with_paper

GOOD = """title = "Tides"
author = "Quayside workshop"
keys = ["F", "Bb"]
editions = ["B-flat"]

[[exercises]]
charts = ["quayside-blues"]
levels = [2]
families = ["root-up", "targets"]
"""


def write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "tides.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_short_file_makes_a_book(tmp_path):
    plan = read_book(write(tmp_path, GOOD))
    assert (plan.title, plan.author) == ("Tides", "Quayside workshop")
    assert [str(t) for t in plan.tonics] == ["F", "Bb"]
    assert [e.id for e in plan.editions] == ["b-flat"]
    assert len(list(plan.pieces())) == 4
    assert plan.entries[0].line == 6
    assert plan.style.paper == "a4"
    assert with_paper(plan, "Letter").style.paper == "letter"


def test_a_full_file_says_all(tmp_path):
    more = (
        'subtitle = "A year"\nnote = "second edition"\ndate = 2026-01-08\nrights = "Ours."\n'
        'foreword = "Slowly."\nlanguage = "de"\nlook = "handwritten"\nprint = "large"\n'
        'paper = "letter"\nseed = 3\nanswers = false\nscales = false\nlisten = true\n'
        'include = ["musicxml", "audio"]\n'
    )
    text = GOOD.replace('keys = ["F", "Bb"]', 'keys = "chromatic"\nfirst_key = "G"')
    plan = read_book(write(tmp_path, more + text))
    assert plan.dated == date(2026, 1, 8)
    assert (plan.style.language, plan.style.look, plan.style.size) == ("de", "handwritten", "large")
    assert plan.style.listen
    assert not plan.answers
    assert not plan.scales
    assert plan.extras == ("musicxml", "audio")
    assert [str(t) for t in plan.tonics][:3] == ["G", "Ab", "A"]
    assert plan.entries[0].seed == 3


def test_a_chart_lies_beside_the_book(tmp_path):
    chart = "title: Rope\nkey: C\nrights: unknown\n\nsection A\n| C | G7 |\n"
    (tmp_path / "rope.txt").write_text(chart)
    plan = read_book(write(tmp_path, GOOD.replace("quayside-blues", "rope.txt")))
    assert plan.unknown_rights == ("Rope",)


FAULTS = [
    ("keys = ", "keys ", 3, "not TOML"),
    ('title = "Tides"\n', "", None, "title: is missing"),
    ('"Tides"', "12", 1, "title: is not a text"),
    ('"Tides"', '""', 1, "title: is not a text"),
    ('["F", "Bb"]', '["F", "H"]', 3, "keys: can't read the key 'H'"),
    ('["F", "Bb"]', '"sideways"', 3, "keys: can't be 'sideways'.*\n.*fourths, chromatic"),
    ('["F", "Bb"]', '["F", 3]', 3, "keys: can't use 3"),
    ('["B-flat"]', '["kazoo"]', 4, "editions: unknown edition 'kazoo'"),
    ('["B-flat"]', "[]", 4, "editions: is not a list"),
    ('["B-flat"]', '["B-flat"]\npaper = "a5"', 5, "paper: can't be 'a5'.*\n.*a4, letter"),
    ('["B-flat"]', '["B-flat"]\nlanguage = "xx"', 5, "language: can't be 'xx'.*\n.*de, en"),
    ('["B-flat"]', '["B-flat"]\ncolour = "red"', 5, "colour: no such key here"),
    ('["B-flat"]', '["B-flat"]\nanswers = "yes"', 5, "answers: can't be 'yes'.*\n.*true or false"),
    ('["B-flat"]', '["B-flat"]\ndate = "soon"', 5, "date: can't be 'soon'"),
    ('["B-flat"]', '["B-flat"]\ninclude = ["video"]', 5, "include: can't use 'video'"),
    ('["B-flat"]', '["B-flat"]\nseed = -1', 5, "seed: can't be -1"),
    ("[[exercises]]", "[exercises]", 6, "exercises: are not tables"),
    ('["quayside-blues"]', '["no-such-tune"]', 7, "charts: there is no such file"),
    ('["quayside-blues"]', '"quayside-blues"', 7, "charts: is not a list"),
    ("[2]", "[9]", 8, "levels: unknown level '9'"),
    ("[2]", "[true]", 8, "levels: can't use True"),
    ('"targets"', '"target"', 9, "families: unknown family 'target'.*\n.*'targets'"),
    ('"targets"', '"enclosures"', 9, "families: enclosures begins at level 4.*\n.*Raise"),
    ("levels = [2]", "levels = [2]\ntempo = 9000", 9, "tempo: can't be 9000"),
    ("levels = [2]", "levels = [2]\nspeed = 90", 9, "speed: no such key here"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line", "told"), FAULTS)
def test_a_fault_names_its_line_its_key_and_what_to_write(tmp_path, old, new, line, told):
    assert old in GOOD
    path = write(tmp_path, GOOD.replace(old, new, 1))
    with pytest.raises(InputError, match=told) as caught:
        read_book(path)
    assert caught.value.where.file == str(path)
    assert caught.value.where.line == line
    assert caught.value.remedy


def test_no_file_no_utf8_and_no_end_are_told(tmp_path):
    with pytest.raises(InputError, match="can't read the book"):
        read_book(tmp_path / "missing.toml")
    path = tmp_path / "latin.toml"
    path.write_bytes(b'title = "\xe4"')
    with pytest.raises(InputError, match="UTF-8"):
        read_book(path)
    path.write_text("x = " + "[" * 100_000)
    with pytest.raises(InputError, match="not TOML"):
        read_book(path)
    path.write_text("#" * 1_000_001)
    with pytest.raises(InputError, match="too long"):
        read_book(path)


def test_a_book_has_an_end(tmp_path):
    entry = GOOD[GOOD.index("[[exercises]]") :].replace("[2]", "[2, 3, 4, 5, 6, 7, 8]")
    with pytest.raises(InputError, match="more than 5000 exercises"):
        read_book(write(tmp_path, GOOD.replace('["F", "Bb"]', '"fourths"') + entry * 40))
