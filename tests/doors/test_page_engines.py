"""The real engraver and typesetter, through the room's own doors."""

import io
import subprocess
import sys
import threading
from datetime import date

import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

from changewright.errors import EngineError
from changewright.page import lesson_pdf, sheet_svg
from changewright.page._typst import typeset_pdf
from changewright.page._verovio import engrave
from tests.unit.page.sheets import LETTERS, random_rhythms, sheet_of

PROGRAM = """
import sys
from changewright.page import lesson_pdf
from tests.unit.page.sheets import LETTERS, random_rhythms, sheet_of
sheets = [sheet_of(labels=LETTERS), sheet_of(rhythm=random_rhythms(5), seed=5)]
for _ in range({before}):
    lesson_pdf(sheets[1:], title="something else first")
sys.stdout.buffer.write(lesson_pdf(sheets, title="Same bytes", for_whom="Clarinet, Thursday"))
"""


def elsewhere(before: int) -> bytes:
    command = [sys.executable, "-c", PROGRAM.format(before=before)]
    return subprocess.run(command, check=True, capture_output=True).stdout


def test_two_processes_give_the_same_bytes_whatever_they_printed_before():
    first, second = elsewhere(0), elsewhere(2)
    assert first.startswith(b"%PDF")
    assert first == second


def test_threads_engrave_side_by_side():
    sheets = [sheet_of(rhythm=random_rhythms(n), seed=n) for n in range(1, 5)]
    alone = [sheet_svg(s, embed_fonts=False) for s in sheets]
    together: dict[int, tuple[str, ...]] = {}

    def draw(n: int) -> None:
        together[n] = sheet_svg(sheets[n], embed_fonts=False)

    threads = [threading.Thread(target=draw, args=(n,)) for n in range(len(sheets))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [together[n] for n in range(len(sheets))] == alone


@pytest.mark.parametrize("look", ["plain", "handwritten"])
def test_no_missing_glyph_is_printed(look):
    """Glyph 0 of a font is its box for what it lacks; no text may show it."""
    hard = sheet_of(
        [("C°7", 4), ("Dbm7(b5)", 4), ("F#7(#5,#9)", 4), ("Gm6/9", 4), ("N.C.", 4), ("Bb+", 4)],
        key="Db",
        title="Été – ½ “quoted” 中文 🎷",
    )
    data = lesson_pdf([hard], title="ÄÖÜ ß œ Ω ж", for_whom="{|}~ é", look=look)
    reader = PdfReader(io.BytesIO(data))
    shown = 0
    for page in reader.pages:
        for operands, operator in ContentStream(page.get_contents(), reader).operations:
            if operator not in (b"Tj", b"TJ"):
                continue
            parts = operands[0] if operator == b"TJ" else operands
            for text in (p for p in parts if hasattr(p, "original_bytes")):
                raw = text.original_bytes
                codes = [raw[i : i + 2] for i in range(0, len(raw), 2)]
                assert b"\0\0" not in codes
                shown += len(codes)
    assert shown > 200
    assert "\ufffd" not in "".join(p.extract_text() for p in reader.pages)


def test_a_dated_lesson_says_that_it_is_fit_for_archives():
    # by the typesetter's own checks, which refuse what breaks the standard
    data = lesson_pdf([sheet_of()], title="For keeps", dated=date(2025, 1, 9))
    xmp = PdfReader(io.BytesIO(data)).xmp_metadata
    assert xmp is not None
    text = xmp.rdf_root.toxml()
    assert "pdfaid" in text
    assert "pdfuaid" in text


def test_the_typesetter_s_refusals_are_ours_to_explain():
    with pytest.raises(EngineError, match="typesetter"):
        typeset_pdf("lesson.typ", {"lesson": "{}"})


def test_the_engraver_s_refusals_are_ours_to_explain():
    with pytest.raises(EngineError, match="engraver"):
        engrave("not music at all", "Leland")


def test_a_hundred_pages_leave_no_trace_in_the_next():
    sheet = sheet_of(labels=LETTERS)
    first = sheet_svg(sheet, embed_fonts=False)
    for seed in range(1, 30):
        sheet_svg(sheet_of(rhythm=random_rhythms(seed), seed=seed), embed_fonts=False)
    assert sheet_svg(sheet, embed_fonts=False) == first
