"""Pages that were looked at by eye, compared by picture.

To look again: ``python -m tests.golden.test_page`` writes the pictures anew; view each before
committing it.
"""

import io
from pathlib import Path

import pytest
from PIL import Image, ImageChops, ImageFilter

from changewright.music.bar import Meter
from changewright.music.sheet import Sheet
from changewright.page import LookName, sheet_png
from tests.unit.page.sheets import E8, LETTERS, F, Q, random_rhythms, sheet_of

HERE = Path(__file__).parent / "page"
DOTS = 90
PAGES: dict[str, tuple[Sheet, LookName]] = {
    "blues-tenor": (sheet_of(labels=LETTERS, seed=0), "plain"),
    "blues-tenor-by-hand": (sheet_of(labels=LETTERS, seed=0), "handwritten"),
    "rhythms-alto": (
        sheet_of(instrument_id="alto saxophone", rhythm=random_rhythms(8), labels=LETTERS, seed=8),
        "plain",
    ),
    "blanks-bass": (
        sheet_of(instrument_id="double bass", blank=(2, 4, 7, 8), labels=LETTERS, seed=0),
        "plain",
    ),
    "symbols-clarinet": (
        sheet_of(
            [("Dm7(b5)", 2), ("G7(b9,b13)", 2), ("Cm(maj7)", 2), ("Abmaj7(#11)/C", 2)] * 2,
            instrument_id="clarinet",
            key="Cm",
            rhythm=(E8,) * 8,
            seed=2,
        ),
        "plain",
    ),
    "waltz-trombone": (
        sheet_of(
            [("Fmaj7", 3), ("Gm7", 3), ("C7", 3), ("Fmaj7", 3)] * 2,
            meter=Meter(3, 4),
            instrument_id="trombone",
            rhythm=(F(3, 2), E8, Q),
            pickup=Q,
            labels={1: "A", 5: "B"},
            seed=3,
        ),
        "plain",
    ),
    "remote-tuba": (
        sheet_of(
            [("Gb7", 4), ("B7", 4), ("Ebm7", 4), ("N.C.", 4)],
            instrument_id="tuba",
            key="Gb",
            stage="professional",
            seed=4,
        ),
        "handwritten",
    ),
}


def drawn(name: str) -> Image.Image:
    sheet, look = PAGES[name]
    with Image.open(io.BytesIO(sheet_png(sheet, look=look, dots_an_inch=DOTS))) as picture:
        return picture.convert("L")


def difference(one: Image.Image, other: Image.Image) -> float:
    """Share of the page whose grey differs by more than half after a slight blur."""
    blurred = (p.filter(ImageFilter.GaussianBlur(1.2)) for p in (one, other))
    apart = ImageChops.difference(*blurred).point(lambda grey: 255 if grey > 90 else 0)
    return apart.histogram()[255] / (apart.width * apart.height)


@pytest.mark.parametrize("name", PAGES)
def test_a_page_looks_as_it_did_when_it_was_looked_at(name):
    with Image.open(HERE / f"{name}.png") as kept:
        golden = kept.convert("L")
    page = drawn(name)
    assert page.size == pytest.approx(golden.size, abs=3)
    assert difference(page, golden.resize(page.size)) < 0.0003


def test_the_comparison_sees_a_moved_note():
    page = drawn("blues-tenor")
    moved = page.copy()
    patch = page.crop((100, 30, 200, 80))
    moved.paste(patch, (104, 30))
    assert difference(page, moved) > 0.0003


if __name__ == "__main__":
    for each in PAGES:
        drawn(each).save(HERE / f"{each}.png", optimize=True)
