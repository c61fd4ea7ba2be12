"""Values that can't be wrong: a chart, bar, chord or note that makes no sense can't be built."""

from dataclasses import replace
from fractions import Fraction

import pytest

from changewright.chart.chart import Chart
from changewright.chart.model import form_of
from changewright.chart.roads import MarkFault
from changewright.chart.written import Jump, Repeat, ScalePin, Sung, WrittenBar, WrittenChord
from changewright.errors import ChordError
from changewright.music.bar import Meter
from changewright.theory.key import Key
from changewright.theory.pitch import Pitch

F7 = WrittenChord("F7", Fraction(4))
BAR = WrittenBar((F7,))
C4 = Pitch.parse("C4")


@pytest.mark.parametrize("text", ["", "F7 ", "F<7", "F7:2", "%", "D\\C"])
def test_a_symbol_can_be_typed(text: str) -> None:
    with pytest.raises(ValueError, match="not a chord on paper"):
        WrittenChord(text, Fraction(4))


def test_a_chord_lasts_and_can_be_read() -> None:
    with pytest.raises(ValueError, match="must last"):
        WrittenChord("F7", Fraction(0))
    with pytest.raises(ChordError):
        WrittenChord("H7", Fraction(1))
    with pytest.raises(ValueError, match="no root"):
        WrittenChord("N.C.", Fraction(4), ScalePin("dorian"))


@pytest.mark.parametrize("times", [0, 1, 65])
def test_a_repeat_is_played_more_than_once(times: int) -> None:
    with pytest.raises(ValueError, match="2 to 64"):
        Repeat(times)


def test_a_piece_of_melody_lasts_and_a_rest_is_not_held() -> None:
    with pytest.raises(ValueError, match="must last"):
        Sung(C4, Fraction(0))
    with pytest.raises(ValueError, match="can't be held"):
        Sung(None, Fraction(1), held=True)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"chords": ()}, "a chord or N.C."),
        ({"meter": Meter(3, 4)}, "a bar of 4 quarters in 3/4"),
        ({"pickup": True}, "a bar of 4 quarters"),
        ({"pickup": True, "meter": Meter(5, 4), "section": "A"}, "not at a pickup"),
        ({"melody": (Sung(C4, Fraction(3)),)}, "doesn't fill"),
        ({"melody": (Sung(None, Fraction(4)),)}, "as no melody"),
        ({"melody": (Sung(C4, Fraction(2)), Sung(C4, Fraction(2), held=True))}, "bar line only"),
        (
            {
                "melody": (
                    Sung(C4, Fraction(2)),
                    Sung(None, Fraction(1)),
                    Sung(None, Fraction(1)),
                )
            },
            "are one rest",
        ),
    ],
)
def test_a_bar_adds_up(change: dict, what: str) -> None:
    with pytest.raises(ValueError, match=what):
        replace(BAR, **change)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({"title": ""}, "a title and a feel"),
        ({"title": "two\nlines"}, "one line"),
        ({"title": "two  spaces"}, "one line"),
        ({"tempo_bpm": 10}, "between 20 and 400"),
        ({"rights": "mine"}, "rights begin with"),
        ({"bars": ()}, "1 to 2000"),
        ({"bars": (BAR,) * 2001}, "1 to 2000"),
        ({"bars": (replace(BAR, section="A!"),)}, "section names"),
        ({"bars": (replace(BAR, section="A"),) * 2}, "each used once"),
        ({"bars": (replace(BAR, key=Key.parse("F")), BAR)}, "a key stays"),
        ({"bars": (BAR, replace(BAR, melody=(Sung(C4, Fraction(4), True),)))}, "goes on from"),
        ({"form": ("A",)}, "sections that the chart has"),
        ({"bars": (replace(BAR, section="A"),), "form": ("A",) * 4001}, "at most 4000"),
    ],
)
def test_a_chart_stands_up(change: dict, what: str) -> None:
    with pytest.raises(ValueError, match=what):
        replace(Chart("Tune", (BAR,)), **change)


@pytest.mark.parametrize(
    ("bars", "index", "what"),
    [
        ((replace(BAR, closes=True),), 0, "outside a repeat"),
        ((BAR, replace(BAR, ending=(1,))), 1, "outside a repeat"),
        ((BAR, replace(BAR, opens=Repeat())), 1, "never closed"),
        ((replace(BAR, opens=Repeat()),) * 2, 1, "inside another"),
        ((replace(BAR, opens=Repeat(), ending=(1, 2), closes=True),), 0, "begins with an ending"),
        ((replace(BAR, jump=Jump("top")),) * 2, 1, "a second jump"),
        ((BAR, replace(BAR, jump=Jump("sign"))), 1, "nowhere to go"),
        ((BAR, replace(BAR, jump=Jump("top", "end"))), 1, "nowhere to go"),
    ],
)
def test_marks_agree(bars: tuple, index: int, what: str) -> None:
    with pytest.raises(MarkFault, match=what) as caught:
        Chart("Tune", bars)
    assert caught.value.index == index
    assert caught.value.remedy


def test_a_repeat_stays_inside_the_section_that_a_form_names() -> None:
    bars = (replace(BAR, section="A", opens=Repeat()), replace(BAR, section="B", closes=True))
    assert Chart("Tune", bars)
    with pytest.raises(MarkFault, match="never closed"):
        Chart("Tune", bars, form=("A", "B"))


def test_a_form_from_a_plain_list_fills_its_last_bar() -> None:
    form = form_of([("F7", 6), ("Bb7", 1)], key=Key.parse("F"))
    rows = [[(c.text, c.duration) for c in bar.changes] for bar in form.bars]
    assert rows == [[("F7", 4)], [("F7", 2), ("Bb7", 2)]]
    assert (form.length, form.pins, form.areas, form.rights) == (8, (), (), "unknown")
    with pytest.raises(ValueError, match="at least one chord"):
        form_of([])
