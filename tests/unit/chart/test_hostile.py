"""Hostile files: one clear error, in bounded time and memory."""

import io
import time
import tracemalloc
import zipfile
import zlib
from collections.abc import Callable

import pytest

from changewright.chart.load import MOST_BYTES, load_chart
from changewright.chart.musicxml import read_musicxml
from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.errors import ChartError
from tests.unit.chart.test_musicxml_in import mxl, plain, score

XML = b'<?xml version="1.0"?>'
BILLION = (
    XML
    + b'<!DOCTYPE lolz [<!ENTITY a "lol">'
    + b"".join(
        f'<!ENTITY {b} "{f"&{a};" * 10}">'.encode()
        for a, b in zip("abcdefghi", "bcdefghij", strict=True)
    )
    + b"]><score-partwise>&j;</score-partwise>"
)
QUADRATIC = (
    XML
    + b'<!DOCTYPE x [<!ENTITY a "'
    + b"x" * 50_000
    + b'">]><score-partwise>'
    + b"&a;" * 50_000
    + b"</score-partwise>"
)
EXTERNAL = XML + (
    b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><score-partwise>&a;</score-partwise>'
)
DEEP = XML + b"<part>" * 100_000
WIDE = XML + b"<score-partwise>" + b"<part/>" * 250_000
MEASURES = XML + b"<score-partwise><part>" + b"<measure><harmony/></measure>" * 150_000
LONG_TEXT = XML + b"<score-partwise><work><work-title>" + b"x" * 5_000_000
ATTRIBUTES = XML + b"<score-partwise " + b" ".join(b'a%d="1"' % i for i in range(100_000)) + b"/>"


def bomb(name: str = "score.xml") -> bytes:
    return mxl(b"<!--" + b" " * 60_000_000, name)


def lying_bomb() -> bytes:
    """An archive that says that its member is small."""
    honest = bomb()
    size = (60_000_004).to_bytes(4, "little")
    return honest.replace(size, (100).to_bytes(4, "little"))


def many_files() -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for i in range(3000):
            archive.writestr(f"{i}.xml", b"")
    return packed.getvalue()


def lzma_bomb() -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_LZMA) as archive:
        archive.writestr("score.xml", b" " * 60_000_000)
    return packed.getvalue()


SCORES: dict[str, Callable[[], bytes]] = {
    "entities within entities": lambda: BILLION,
    "one entity many times": lambda: QUADRATIC,
    "another file": lambda: EXTERNAL,
    "a hundred thousand levels": lambda: DEEP,
    "a quarter of a million parts": lambda: WIDE,
    "a hundred and fifty thousand measures": lambda: MEASURES,
    "a title of five million letters": lambda: LONG_TEXT,
    "a hundred thousand attributes": lambda: ATTRIBUTES,
    "a zip bomb": bomb,
    "a zip bomb that lies": lying_bomb,
    "a container bomb": lambda: mxl(b"", container="<!--" + " " * 20_000_000),
    "three thousand files": many_files,
    "another packing": lzma_bomb,
    "a broken archive": lambda: mxl(score(plain("C")))[:-60],
    "a torn stream": lambda: mxl(zlib.compress(b"x"))[:40],
    "no score in it": lambda: mxl(b"", "readme.txt", "<container/>"),
}


@pytest.mark.parametrize("case", SCORES)
def test_hostile_scores_are_refused_soon_and_small(case: str) -> None:
    content = SCORES[case]()
    refused_within(lambda: read_musicxml(content, "hostile.mxl"), megabytes=120)


def refused_within(work: Callable[[], object], megabytes: float, seconds: float = 30) -> ChartError:
    tracemalloc.start()
    begun = time.process_time()
    try:
        with pytest.raises(ChartError) as caught:
            work()
        assert tracemalloc.get_traced_memory()[1] < megabytes * 1e6
    finally:
        tracemalloc.stop()
    assert time.process_time() - begun < seconds
    assert len(str(caught.value)) < 3000
    return caught.value


CHARTS = {
    "a million bars on a line": "| F7 " * 70_000 + "|",
    "sixty thousand lines of bars": "| F7 |\n" * 57_000,
    "a bar of a million words": "| " + "F " * 190_000 + "|",
    "a bar of many words": "| " + "F " * 1_900 + "|",
    "one long chord": "| " + "F" * 3_900 + " |",
    "nested repeats": "repeat\n" * 50_000 + "| F |",
    "a long number": "| F:" + "9" * 3_900 + " |",
    "a fraction of two long numbers": "| F:" + "9" * 1_900 + "/" + "7" * 1_900 + " |",
    "many times": "repeat " + "9" * 3_900 + " times\n| F |",
    "endings without end": "repeat\n| F |\nending " + "1 " * 1_900,
    "an endless form": "form: " + "A " * 1_900 + "\nsection A\n" + "| F | G | F | G |\n" * 500,
    "a form of long letters": "form: " + "A" * 3_900 + "\nsection A\n" + "| F | G |\n" * 900,
    "a forest of pins": "| F " + "<in F>" * 600 + " |",
    "an unclosed pin": "| F " + "<" * 3_900,
    "parentheses": "| F7" + "(" * 3_900 + " |",
    "a long heading": "title: " + "x" * 3_900 + "\n| F |",
    "a word without a meaning": "x" * 3_900,
    "headings without end": "".join(f"by{i}: x\n" for i in range(30_000)),
    "controls": "| F7 \x07 |",
    "too long": "#" * 400_001,
    "melody": "| F |\nmelody | " + "C4 " * 1_200 + "|",
    "lines": "\n" * 99_990 + "x",
    "colons": "| " + ":" * 3_900,
    "digits of another script": "tempo: ٣٤٥\n| F |",
}


@pytest.mark.parametrize("case", CHARTS)
def test_hostile_charts_are_refused_soon_and_small(case: str) -> None:
    refused_within(lambda: unroll(read_chart(CHARTS[case], "hostile.txt")), megabytes=100)


def test_repeats_that_explode_are_bounded() -> None:
    block = "repeat 64 times\n" + "| F | G | A | B |\n" * 100 + "end repeat\n"
    text = "form: " + "A " * 90 + "\nsection A\n" + block * 4
    refused_within(lambda: unroll(read_chart(text)), megabytes=120)


def test_a_hundred_megabytes_are_not_read(tmp_path) -> None:
    path = tmp_path / "big.txt"
    with path.open("wb") as file:
        file.truncate(100_000_000)
    error = refused_within(lambda: load_chart(path), megabytes=2.5 * MOST_BYTES / 1e6)
    assert "too many" in error.what


CONTENTS = {
    "latin": "title: Café\n| F |".encode("latin-1"),
    "half a character": "title: Café\n| F |".encode()[:11],
    "utf-16 without a mark": "title: X\n| F |".encode("utf-16-le"),
    "odd utf-16": b"\xff\xfet\x00i",
    "nulls": b"\x00" * 1000,
    "a picture": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
    "nothing": b"",
    "a zip of nothing": b"PK\x03\x04" + b"\x00" * 30,
}


@pytest.mark.parametrize("case", CONTENTS)
def test_wrong_encodings_are_refused(case: str, tmp_path) -> None:
    path = tmp_path / "chart.txt"
    path.write_bytes(CONTENTS[case])
    with pytest.raises(ChartError, match=r"chart\.txt"):
        load_chart(path)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_right_encodings_are_read(encoding: str, tmp_path) -> None:
    path = tmp_path / "chart.txt"
    path.write_bytes("title: Café\n| F♯7 |".encode(encoding))
    assert load_chart(path).title == "Café"


def test_what_is_no_file_is_refused(tmp_path) -> None:
    with pytest.raises(ChartError, match="there is no file"):
        load_chart(tmp_path / "missing.txt")
    with pytest.raises(ChartError, match="there is no file"):
        load_chart(tmp_path)
