"""A lesson sheet and the clauses of the standards; what the checker must see is planted."""

from datetime import date

import pytest

from changewright.page import lesson_pdf
from tests.unit.page.pdf_clauses import accessible_faults, archived_faults, unreadable_codes
from tests.unit.page.sheets import LETTERS, sheet_of


@pytest.fixture(scope="module")
def sheet() -> bytes:
    return lesson_pdf(
        [sheet_of(labels=LETTERS, seed=0, blank=(2, 4))],
        title="Week 3",
        answer_key=True,
        dated=date(2026, 1, 8),
        studio="https://studio.example",
    )


def test_a_dated_sheet_keeps_the_clauses_of_both_standards(sheet):
    assert accessible_faults(sheet) == []
    assert archived_faults(sheet) == []
    assert unreadable_codes(sheet) == []


def test_a_sheet_without_a_date_is_accessible_all_the_same():
    data = lesson_pdf([sheet_of()], title="Week 3", look="handwritten", size="large")
    assert accessible_faults(data) == []
    assert any("6.6.4" in fault for fault in archived_faults(data))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("there", "planted", "clause"),
    [
        (b"/Lang(en)", b"/Lung(en)", "7.2"),
        (b"/S/H2", b"/S/H4", "7.4"),
        (b"/S/H2", b"/S/Hx", "7.1"),
        (b"pdfuaid:part>1<", b"pdfuaid:part>3<", "5:"),
        (b"/Marked true", b"/Merked true", "7.1"),
        (b"/DisplayDocTitle", b"/DisplayDocTutle", "7.1"),
        (b"/Tabs/S", b"/Tabs/R", "7.18.3"),
        (b"/Alt(", b"/Alx(", "7.3"),
        (b"/K[0", b"/K[9", "one to one"),
        (b"/Contents(", b"/Cxntents(", "7.18.5"),
        (b"/StructParent ", b"/StructPxrent ", "7.18.5"),
        (b"pdfaid:part>2<", b"pdfaid:part>1<", "6.6.4"),
        (b"/GTS_PDFA1", b"/GTS_PDFX1", "6.2.3"),
        (b"%PDF-1.7", b"%PDF-2.0", "6.1.2"),
        (b"/Subtype/Link", b"/Subtype/Link", ""),
    ],
)
def test_the_checker_sees_what_is_planted(sheet, there, planted, clause):
    assert there in sheet
    faults = accessible_faults(sheet.replace(there, planted))
    faults += archived_faults(sheet.replace(there, planted))
    assert any(clause in fault for fault in faults) == bool(clause)
