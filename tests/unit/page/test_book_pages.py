"""Every page of reference books, checked as a copyist, a teacher and a screen reader would."""

import io
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from changewright.jobs.kept import Kept
from changewright.jobs.running import Workers
from changewright.usecases.book import Book, make_book
from changewright.usecases.book_file import read_book
from changewright.usecases.book_pages import Layout
from tests.unit.page.book_checker import (
    Area,
    Page,
    faults,
    font_faults,
    missing_glyphs,
    read_pages,
)
from tests.unit.page.pdf_clauses import accessible_faults, archived_faults, unreadable_codes
from tests.unit.page.pdf_outlines import missing_boxes, path_count

EDWIN = {"Edwin-Roman", "Edwin-Bold", "Edwin-Italic"}
ATKINSON = {"AtkinsonHyperlegible-Regular", "AtkinsonHyperlegible-Bold"}
MIXED = """title = "Tides, rocks & ropes (first half)"
author = "Quayside workshop"
keys = ["F", "Gb", "A"]
editions = ["C treble", "E-flat", "C bass"]
note = "first edition"
date = 2026-01-08

[[exercises]]
charts = ["quayside-blues"]
levels = [2]
families = ["root-up", "targets"]

[[exercises]]
charts = ["chandlery-ledger"]
levels = [4]
families = ["approach-notes", "planned-phrase"]
"""
LARGE = """title = "Große Schrift"
author = "Quayside workshop"
language = "de"
print = "{size}"
look = "{look}"
paper = "letter"
keys = ["Db", "Ab"]
editions = ["tenor saxophone", "trombone"]

[[exercises]]
charts = ["quayside-blues"]
levels = [3]
families = ["targets", "approach-notes", "chord-scales"]
"""


def made(folder: Path, text: str) -> tuple[Book, dict[str, bytes]]:
    path = folder / "book.toml"
    path.write_text(text, encoding="utf-8")
    kept = Kept(folder / "kept")
    with Workers(1) as workers:
        book = make_book(read_book(path), kept, workers)
    return book, {edition.id: kept.read(key, "pdf") for edition, key in book.pdfs}


@pytest.fixture(scope="module")
def mixed(tmp_path_factory) -> tuple[Book, dict[str, bytes]]:
    return made(tmp_path_factory.mktemp("mixed"), MIXED)


@pytest.fixture(scope="module")
def pages(mixed):
    return {edition: read_pages(pdf) for edition, pdf in mixed[1].items()}


def test_no_page_has_a_fault(pages):
    found = {
        (edition, page.number): faults(page)
        for edition, all_pages in pages.items()
        for page in all_pages
    }
    assert {where: what for where, what in found.items() if what} == {}


def test_each_page_can_be_searched_for_its_number_and_its_running_head(mixed, pages):
    book, _ = mixed
    for all_pages in pages.values():
        assert len(all_pages) == book.layout.count
        for page in all_pages[1:]:
            assert str(page.number) in page.text.split()
            assert "Tides, rocks & ropes" in page.text
            assert "first edition · 2026-01-08" in page.text


def test_page_and_bar_numbers_are_the_same_in_all_editions(mixed, pages):
    book, _ = mixed
    for number in book.layout.pages_of:
        page = book.layout.page_of(number)
        title = book.layout.titles[number].partition(" · ")[0]
        for all_pages in pages.values():
            assert f"{number}. {title}" in all_pages[page - 1].text
    shapes = {
        edition: [[s.bars for s in page.systems] for page in all_pages]
        for edition, all_pages in pages.items()
    }
    assert shapes["c-treble"] == shapes["e-flat"] == shapes["c-bass"]


def test_the_index_of_phrases_names_the_page_of_the_bar(mixed, pages):
    book, _ = mixed
    places = [place for found in book.layout.phrases.values() for place in found]
    assert places
    index = pages["c-treble"][book.layout.indexes["phrases"] - 1].text
    for number, bar in places:
        page = book.layout.page_of(number, bar)
        assert bar in [n for system in pages["c-treble"][page - 1].systems for n in system.bars]
        assert f"No. {number}, bar {bar} {page}" in " ".join(index.split())


def test_a_bar_is_on_the_last_page_that_begins_before_it():
    layout = Layout((), {8: ((10, 1), (11, 13)), 9: ((12, 0),)}, {}, {}, 1, {}, 12)
    assert [layout.page_of(8, bar) for bar in (1, 12, 13, 16)] == [10, 10, 11, 11]
    assert (layout.page_of(8), layout.page_of(9)) == (10, 12)


def test_an_exercise_that_fits_is_never_split(mixed, pages):
    # 12 bars fit on any page; the 32 bars of the other chart may need two.
    for all_pages in pages.values():
        for page in all_pages:
            bars = [bar for system in page.systems for bar in system.bars]
            assert bars.count(1) == bars.count(12) or 32 in bars or max(bars, default=0) > 12


def test_contents_and_bookmarks_lead_to_their_pages(mixed):
    book, pdfs = mixed
    reader = PdfReader(io.BytesIO(pdfs["c-bass"]), strict=True)
    marks = [m for m in flat(reader.outline) if m.title[0].isdigit()]
    assert len(marks) == len(book.pieces)
    for mark in marks:
        page = reader.get_destination_page_number(mark)
        assert mark.title.partition(" · ")[0] in reader.pages[page].extract_text()
    targets = {
        reader.get_page_number(link.get_object()["/Dest"][0].get_object()) + 1
        for link in reader.pages[3]["/Annots"]
    }
    assert {book.layout.page_of(number) for number in book.layout.pages_of} <= targets


def flat(outline) -> list:
    return [x for one in outline for x in (flat(one) if isinstance(one, list) else [one])]


def test_fonts_are_ours_and_embedded_and_lack_nothing(mixed):
    for pdf in mixed[1].values():
        assert font_faults(pdf, EDWIN) == []
    assert missing_glyphs(mixed[1]["e-flat"]) == []


@pytest.mark.slow
def test_the_other_editions_lack_nothing_either(mixed):
    for edition in ("c-treble", "c-bass"):
        assert missing_glyphs(mixed[1][edition]) == []


def test_no_outline_is_the_box_of_a_missing_sign(mixed):
    for pdf in mixed[1].values():
        assert path_count(pdf) > 3000
        assert missing_boxes(pdf) == []


@pytest.mark.slow
def test_a_joined_book_keeps_the_clauses_of_both_standards(mixed):
    pdf = mixed[1]["c-bass"]
    assert accessible_faults(pdf) == []
    assert archived_faults(pdf) == []
    assert unreadable_codes(pdf) == []


def test_the_checker_sees_what_it_looks_for():
    upper, lower = Area(50, 500, 550, 560, "Bar 1: F7"), Area(50, 450, 550, 490, "Bar 5: B flat 7")
    word = tuple((c, 60.0 + 6 * n, 510.0, 65.0 + 6 * n, 518.0) for n, c in enumerate("Listen"))
    fine = Page(7, 595, 842, "Tides page 7", (upper, lower), ())
    assert faults(fine) == []
    assert "meets" in faults(replace(fine, systems=(upper, replace(lower, high=505))))[0]
    assert "leaves" in faults(replace(fine, systems=(upper, replace(lower, right=590))))[0]
    assert "alone" in faults(replace(fine, systems=(upper,)))[0]
    assert "empty" in faults(replace(fine, text="7"))[0]
    assert "inside" in faults(replace(fine, letters=word))[0]
    assert "edge" in faults(replace(fine, letters=(("g", 60, 495, 65, 503),)))[0]
    assert "leaves" in faults(replace(fine, letters=(("g", 590, 300, 597, 308),)))[0]


def test_the_checker_sees_a_missing_glyph():
    import typst

    bare = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True)
    compiler = typst.Compiler(
        b'#set text(font: "Libertinus Serif", fallback: false)\nfine \\u{E0A4}', font_paths=bare
    )
    assert missing_glyphs(compiler.compile(format="pdf")) == ["page 1"]


def test_the_book_holds_what_a_publisher_asks_for(mixed, pages):
    book, pdfs = mixed
    all_text = "\n".join(page.text for page in pages["e-flat"])
    for wanted in (
        "Rights and thanks", "Before you play", "Contents", "Answers", "Index of exercises",
        "Index of phrases", "Scales", "own work", "85 dB(A)", "rest five", "needs its owner’s",
        "Concert F · read in D", "Concert A · read in", "mixolydian",
        "Edition for instruments in E♭", "SIL Open Font License",
    ):  # fmt: skip
        assert wanted.lower() in " ".join(all_text.split()).lower(), wanted
    assert any(len(p["phrases"]) for one in book.pieces for p in [one.told["e-flat"]])
    for pdf in pdfs.values():
        assert b"pdfaid:part>2<" in pdf
        assert b"pdfuaid:part>1<" in pdf


@pytest.mark.parametrize(
    ("size", "look"), [("large", "handwritten"), ("easy", "plain"), ("usual", "handwritten")]
)
def test_other_prints_and_looks_in_a_second_language(tmp_path, size, look):
    _, pdfs = made(tmp_path, LARGE.format(size=size, look=look))
    assert [missing_boxes(pdf) + missing_glyphs(pdf) for pdf in pdfs.values()] == [[], []]
    pdf = pdfs["tenor-saxophone"]
    pages = read_pages(pdf)
    assert {p.number: faults(p) for p in pages if faults(p)} == {}
    hand = {"PetalumaScript"} if look == "handwritten" else set()
    assert font_faults(pdf, EDWIN | ATKINSON | hand) == []
    text = "\n".join(page.text for page in pages)
    for wanted in (
        "Inhalt",
        "Lösungen",
        "Vor dem Spielen",
        "Klingend D♭",
        "Annäherungstöne",
        "Ausgabe für Tenorsaxophon",
    ):
        assert wanted in text
    assert PdfReader(io.BytesIO(pdf)).trailer["/Root"]["/Lang"] == "de"
    widest = max(len(system.bars) for page in pages for system in page.systems)
    assert widest <= (4 if size == "usual" else 2)
