from importlib.resources import files

import pytest
from fontTools.ttLib import TTFont

from changewright.errors import UnknownName
from changewright.page.look import font_bytes, look_of, printable, text_width

FACES = ("edwin-roman", "edwin-bold", "edwin-italic", "petalumascript")


@pytest.mark.parametrize("face", FACES)
def test_widths_are_the_font_s_own(face):
    # fontTools reads the shipped font itself
    font = TTFont(str(files("changewright.page") / f"fonts/{face}.otf"))
    names, widths = font.getBestCmap(), font["hmtx"]
    for character in "ABCDEFG0123456789♭♯m/()ajlst+":
        assert text_width(character, face, 1000) == widths[names[ord(character)]][0]


def test_every_font_carries_its_open_licence():
    folder = files("changewright.page") / "fonts"
    for name in ("edwin-OFL.txt", "petalumascript-OFL.txt"):
        assert "SIL OPEN FONT LICENSE Version 1.1" in (folder / name).read_text("utf-8")
    assert all(font_bytes(face)[:4] == b"OTTO" for face in FACES)


def test_text_that_no_font_can_print_is_made_printable():
    assert printable("Étude in B♭ – slow") == "Étude in B♭ – slow"
    assert printable("Part Ⅳ") == "Part IV"
    assert printable("中") == "?"
    assert printable("a\u200bb\tc\n") == "ab c"
    assert printable("tune 🎷") == "tune ?"


def test_an_unknown_look_lists_those_we_have():
    with pytest.raises(UnknownName, match="plain, handwritten"):
        look_of("comic")
