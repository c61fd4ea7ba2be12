"""Joined PDFs as a reader of PDF (pypdf) sees them. Source: ISO 32000-1."""

import io

import pytest
import typst
from pypdf import PdfReader

from changewright.errors import EngineError
from changewright.page.joining import Bookmark, Part, join_pdfs

_SET = """
#set document(title: "Tides (3 0 R)", date: none)
#set text(lang: "en")
#show heading: it => block(it.body)
#page(width: 9cm, height: 6cm)[#heading(bookmarked: false)[{0} one] #link("page:3")[to {0} three]]
#page(width: 9cm, height: 6cm)[#heading(bookmarked: false)[{0} two] 12 0 R (a (b) c]
"""


def _part(word: str, leads_to: int = 3) -> bytes:
    source = _SET.format(word).replace("page:3", f"page:{leads_to}")
    return typst.compile(source.encode(), format="pdf", pdf_standards=["ua-1"])


@pytest.fixture(scope="module")
def joined() -> bytes:
    marks = [
        Bookmark("Flood", 1),
        Bookmark("Ebb ♭", 3),
        Bookmark("low", 4, 2),
        Bookmark("rock", 4, 2),
    ]
    return join_pdfs([Part(_part("Flood")), Part(_part("Ebb"), continued=True)], marks)


def test_pages_stand_in_order_with_their_text(joined):
    pages = PdfReader(io.BytesIO(joined), strict=True).pages
    texts = [page.extract_text() for page in pages]
    assert [t.split("\n")[0] for t in texts] == ["Flood one", "Flood two", "Ebb one", "Ebb two"]
    assert "12 0 R (a (b) c" in texts[3]


def test_bookmarks_lead_to_their_pages(joined):
    reader = PdfReader(io.BytesIO(joined), strict=True)
    flood, ebb, below = reader.outline
    assert [flood.title, ebb.title, *(b.title for b in below)] == ["Flood", "Ebb ♭", "low", "rock"]
    pages = [reader.get_destination_page_number(b) for b in (flood, ebb, *below)]
    assert pages == [0, 2, 3, 3]


def test_links_by_number_lead_to_pages_of_the_whole(joined):
    reader = PdfReader(io.BytesIO(joined), strict=True)
    for page in (0, 2):
        (link,) = reader.pages[page]["/Annots"]
        target = link.get_object()["/Dest"][0]
        assert reader.get_page_number(target.get_object()) == 2


def test_tags_form_one_tree(joined):
    reader = PdfReader(io.BytesIO(joined), strict=True)
    tree = reader.trailer["/Root"]["/StructTreeRoot"]
    (document,) = (k.get_object() for k in tree["/K"])
    kinds = [k.get_object()["/S"] for k in document["/K"]]
    assert kinds == ["/H1", "/P", "/H1", "/P", "/H2", "/P", "/H2", "/P"]
    assert all(k.get_object()["/P"].get_object() == document for k in document["/K"])
    nums = tree["/ParentTree"]["/Nums"]
    parents = dict(zip(nums[::2], nums[1::2], strict=True))
    assert list(parents) == sorted(parents)
    assert tree["/ParentTreeNextKey"] == len(parents)
    for page in reader.pages:
        row = parents[page["/StructParents"]].get_object()
        assert all(e.get_object()["/Pg"].get_object() == page for e in row)
        for link in page.get("/Annots", ()):
            owner = parents[link.get_object()["/StructParent"]].get_object()
            assert owner["/S"] == "/Link"


def test_the_whole_knows_its_length_and_title(joined):
    reader = PdfReader(io.BytesIO(joined), strict=True)
    assert b"<xmpTPg:NPages>4<" in joined
    assert reader.metadata.title == "Tides (3 0 R)"
    assert b"pdfuaid:part>1<" in joined


def test_one_part_stays_what_it_was():
    reader = PdfReader(io.BytesIO(join_pdfs([Part(_part("Flood", 1))])), strict=True)
    assert len(reader.pages) == 2
    assert not reader.outline


def test_the_same_parts_give_the_same_bytes(joined):
    other = join_pdfs([Part(_part("Flood")), Part(_part("Flood"))])
    again = join_pdfs([Part(_part("Flood")), Part(_part("Flood"))])
    assert other == again != joined
    assert (
        PdfReader(io.BytesIO(other)).trailer["/ID"] != PdfReader(io.BytesIO(joined)).trailer["/ID"]
    )


def test_what_the_typesetter_never_wrote_is_refused():
    with pytest.raises(EngineError, match="can't be joined"):
        join_pdfs([Part(b"%PDF-1.7\nnothing here\nstartxref\n3\n%%EOF")])
    with pytest.raises(EngineError, match="can't be joined"):
        join_pdfs([Part(_part("Flood", leads_to=3))])
    with pytest.raises(ValueError, match="at least one part"):
        join_pdfs([])
