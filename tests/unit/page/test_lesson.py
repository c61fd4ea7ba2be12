import io
import re

import pytest
from PIL import Image
from pypdf import PdfReader
from pypdf.generic import DictionaryObject, IndirectObject

from changewright.chart.model import form_of
from changewright.errors import UnknownName
from changewright.page import lesson_pdf, sheet_png, sheet_svg
from changewright.reading.analyse import analyse
from changewright.theory.symbols import STYLES
from tests.unit.page.book_checker import missing_glyphs
from tests.unit.page.pdf_outlines import missing_boxes, path_count
from tests.unit.page.sheets import LETTERS, random_rhythms, sheet_of

TITLE, PLAYER = "Quayside workshop: three-chord blues", "Clarinet, Thursday"
SHEETS = (
    sheet_of(instrument_id="clarinet", labels=LETTERS, seed=0),
    sheet_of(instrument_id="clarinet", rhythm=random_rhythms(4), title="All sorts", seed=4),
    sheet_of(instrument_id="clarinet", blank=(2, 4), title="Fill the blanks", seed=0),
)

KINDS = (
    "", "m", "°", "+", "sus4", "sus2", "5", "6", "m6", "6/9", "7", "maj7", "m7", "m(maj7)", "°7",
    "m7(b5)", "+7", "+maj7", "7(b9)", "7(#9)", "7(#11)", "7(b13)", "7alt", "9", "maj9", "m9", "11",
    "m11", "13", "maj13", "m13", "7sus4", "9sus4", "13(#11)", "7(b9,b13)", "add9", "m(add9)", "/E",
)  # fmt: skip
ROOTS = ("C", "Db", "F#", "Eb", "B", "Ab", "G#", "Bb", "Gb", "C#")


def printed(sheets=SHEETS, **options) -> PdfReader:
    return PdfReader(
        io.BytesIO(lesson_pdf(sheets, **{"title": TITLE, "for_whom": PLAYER, **options}))
    )


READER = printed()
TEXT = "\n".join(page.extract_text() for page in READER.pages)


def fonts(reader: PdfReader) -> dict[str, DictionaryObject]:
    """The descendant fonts of all resources in the file, by base name."""
    found = {}
    for number in range(1, int(reader.trailer["/Size"])):
        thing = IndirectObject(number, 0, reader).get_object()
        if isinstance(thing, dict) and thing.get("/Type") == "/Font" and "/FontDescriptor" in thing:
            found[str(thing["/BaseFont"]).partition("+")[2]] = thing
    return found


@pytest.mark.parametrize(
    "wanted",
    [
        TITLE,
        PLAYER,
        "1. Root-up chord tones",
        "2. All sorts",
        "Concert F major",
        "written G major for clarinet in B♭",
        "= 92",
        "Swing",
        "Say each chord tone before you play it",
        "Listen for: land on 1 (throughout)",
        "Stop if it hurts",
        SHEETS[0].recipe.label,
        SHEETS[2].recipe.label,
        "Page 1 / 3",
    ],
)
def test_the_page_says(wanted):
    assert wanted in " ".join(TEXT.split())


def test_symbols_and_figures_can_be_selected_as_text():
    flat = re.sub(r"\s", "", TEXT)
    for symbol in ("G7", "C7", "D7"):
        assert symbol in flat
    assert flat.count("♭7") >= 12


def test_only_our_fonts_are_used_and_each_is_embedded():
    used = fonts(READER)
    assert {name.removesuffix("-Identity-H") for name in used} <= {
        "Edwin-Roman",
        "Edwin-Bold",
        "Edwin-Italic",
    }
    for font in used.values():
        assert "/FontFile3" in font["/FontDescriptor"]


def test_the_handwritten_look_is_written_by_hand():
    used = fonts(printed(look="handwritten"))
    assert any("Petaluma" in name for name in used)


def test_it_is_tagged_outlined_and_titled():
    catalog = READER.trailer["/Root"]
    assert catalog["/MarkInfo"]["/Marked"]
    assert catalog["/Lang"] == "en"
    assert READER.metadata.title == TITLE
    titles = [o.title for o in _flat(READER.outline)]
    assert titles[0] == TITLE
    assert titles[1] == "1. Root-up chord tones"


def _flat(outline):
    for item in outline:
        if isinstance(item, list):
            yield from _flat(item)
        else:
            yield item


def test_each_system_tells_its_changes_to_a_screen_reader():
    alternatives = []
    for number in range(1, int(READER.trailer["/Size"])):
        thing = IndirectObject(number, 0, READER).get_object()
        if isinstance(thing, dict) and "/Alt" in thing:
            alternatives.append(str(thing["/Alt"]))
    assert "Bar 1, section A: G 7; Bar 2: G 7; Bar 3: G 7; Bar 4: G 7." in alternatives
    assert any("Bar 2: G 7, left open" in words for words in alternatives)


@pytest.mark.parametrize(
    ("paper", "width_mm", "height_mm"), [("a4", 210, 297), ("letter", 215.9, 279.4)]
)
def test_both_papers_have_their_size(paper, width_mm, height_mm):
    # ISO 216 and ANSI/ASME Y14.1
    for page in printed(paper=paper).pages:
        assert float(page.mediabox.width) / 72 * 25.4 == pytest.approx(width_mm, abs=0.1)
        assert float(page.mediabox.height) / 72 * 25.4 == pytest.approx(height_mm, abs=0.1)


def test_no_page_is_empty_and_none_has_a_lone_system():
    long = sheet_of([("C7", 4), ("F7", 4)] * 22, key="C", labels={1: "A"}, title="Long")
    reader = printed((SHEETS[0], long, SHEETS[0]), bars_a_system=4)
    for page in reader.pages:
        text = page.extract_text()
        assert len(text.split()) > 60
    assert len(reader.pages) <= 4


def test_answers_fill_the_blanks():
    blank = printed((SHEETS[2],)).pages[0].extract_text()
    answered = printed((SHEETS[2],), answers=True).pages[0].extract_text()
    assert answered.count("♭7") == blank.count("♭7") + 2


def test_same_lesson_same_bytes():
    make = lambda: lesson_pdf(SHEETS[:1], title=TITLE, for_whom=PLAYER)  # noqa: E731
    assert make() == make()


def test_hostile_titles_are_only_text():
    title = '#import "x.typ" $\\ [<script>] "quoted" 中 \x00'
    text = printed(SHEETS[:1], title=title).pages[0].extract_text()
    assert "#import “x.typ” $\\ [<script>] “quoted” ?" in " ".join(text.split())


def test_what_we_do_not_have_is_refused_by_name():
    with pytest.raises(UnknownName, match="letter"):
        lesson_pdf(SHEETS[:1], title=TITLE, paper="foolscap")
    with pytest.raises(UnknownName, match="handwritten"):
        lesson_pdf(SHEETS[:1], title=TITLE, look="neon")
    with pytest.raises(ValueError, match="at least one exercise"):
        lesson_pdf((), title=TITLE)


def test_a_drawing_stands_alone():
    drawings = sheet_svg(SHEETS[0])
    assert len(drawings) == 3
    for drawing in drawings:
        assert drawing.startswith("<svg")
        assert "@font-face" in drawing
        assert 'role="img"' in drawing
        assert len(drawing) < 400_000
    bare = sheet_svg(SHEETS[0], embed_fonts=False)
    assert all("@font-face" not in d and len(d) < 20_000 for d in bare)


def test_a_picture_is_cropped_to_its_music():
    with Image.open(io.BytesIO(sheet_png(SHEETS[0], dots_an_inch=100))) as picture:
        assert picture.width == pytest.approx(186 / 25.4 * 100, abs=2)
        assert 200 < picture.height < 500
        darkest, lightest = picture.convert("L").getextrema()
        assert (darkest, lightest) == (0, 255)


def test_the_answer_key_stands_at_the_back():
    reader = printed(SHEETS, answer_key=True)
    pages = [" ".join(p.extract_text().split()) for p in reader.pages]
    key = pages[-1]
    assert key.startswith("Answers 3. Fill the blanks")
    assert "1. Root-up" not in key
    assert key.count("♭7") == 12
    assert printed(SHEETS[:2], answer_key=True).pages[-1].extract_text().find("Answers") == -1


def test_large_print_is_larger():
    usual, large = printed(SHEETS[:1]), printed(SHEETS[:1], size="large")
    assert len(large.pages) >= len(usual.pages)
    with pytest.raises(UnknownName, match="usual, large"):
        lesson_pdf(SHEETS[:1], title=TITLE, size="huge")


def test_a_system_without_bars_is_refused():
    with pytest.raises(ValueError, match="at least one bar"):
        lesson_pdf(SHEETS[:1], title=TITLE, bars_a_system=0)


@pytest.mark.parametrize("look", ["plain", "handwritten"])
@pytest.mark.parametrize("style", STYLES)
def test_no_sign_is_missing_on_a_sheet_of_any_look(look, style):
    """Every kind of chord, in every style, small and large, English and German."""
    symbols = [(f"{root}{kind}", 4) for root, kind in zip(ROOTS * 4, KINDS, strict=False)]
    sheets = [sheet_of(symbols, instrument_id="clarinet", title="Every kind", seed=2)]
    for size, words in (("usual", "en"), ("large", "de")):
        pdf = lesson_pdf(
            sheets,
            title=TITLE,
            look=look,
            chords=style,
            size=size,
            in_language=words,
            reading=analyse(form_of(symbols, key=sheets[0].key, title=TITLE)),
            answer_key=True,
        )
        assert path_count(pdf) > 200
        assert missing_boxes(pdf) == []
        assert missing_glyphs(pdf) == []
