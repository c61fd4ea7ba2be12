"""Reading charts as players type them."""

from fractions import Fraction

import pytest

from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.chart.written import ScalePin
from changewright.errors import ChartError
from changewright.theory.key import Key

HEAD = "title: Low Water\nkey: F\n"


def played(text: str, route: str = "chorus", choruses: int = 1) -> list[str]:
    form = unroll(read_chart(text), route, choruses)  # type: ignore[arg-type]
    return [" ".join(c.text for c in bar.changes) for bar in form.bars]


def beats(cell: str, meter: str = "4/4") -> list[tuple[str, Fraction]]:
    bar = read_chart(f"meter: {meter}\n| {cell} |").bars[0]
    return [(chord.text, chord.length / bar.meter.beat) for chord in bar.chords]


@pytest.mark.parametrize(
    ("cell", "meter", "expected"),
    [
        ("F7", "4/4", [("F7", 4)]),
        ("F7 Bb7", "4/4", [("F7", 2), ("Bb7", 2)]),
        ("F7 / / D7", "4/4", [("F7", 3), ("D7", 1)]),
        ("F7 D7 / /", "4/4", [("F7", 1), ("D7", 3)]),
        ("F7 D7 Gm7 C7", "4/4", [("F7", 1), ("D7", 1), ("Gm7", 1), ("C7", 1)]),
        ("F7 D7 Gm7", "3/4", [("F7", 1), ("D7", 1), ("Gm7", 1)]),
        ("F7 / C7", "3/4", [("F7", 2), ("C7", 1)]),
        ("F7 C7", "6/8", [("F7", 3), ("C7", 3)]),
        ("F7 / / C7 /", "5/4", [("F7", 3), ("C7", 2)]),
        ("F7:3/2 C7:2.5", "4/4", [("F7", Fraction(3, 2)), ("C7", Fraction(5, 2))]),
        ("F7:3/2 / C7:1.5", "4/4", [("F7", Fraction(5, 2)), ("C7", Fraction(3, 2))]),
        (r"D\C7 N.C.", "4/4", [("D|C7", 2), ("N.C.", 2)]),
        ("F♯m7♭5 B♭Δ", "2/2", [("F♯m7♭5", 1), ("B♭Δ", 1)]),
    ],
)
def test_chords_last_as_long_as_their_bar_says(cell: str, meter: str, expected: list) -> None:
    assert beats(cell, meter) == expected


def test_percent_repeats_the_bar_and_a_first_slash_holds_its_last_chord() -> None:
    chart = read_chart(HEAD + "| F7 D7 <scale altered> | % | / / Gm7 / |")
    first, second, third = chart.bars
    assert second == first
    assert third.chords[0].text == "D7"
    assert third.chords[0].scale == ScalePin("altered")


def test_doubled_bar_lines_comments_and_loose_spacing_mean_nothing() -> None:
    loose = read_chart(
        "# a sketch\n  title:  Low   Water \n\nKEY: F\n|F7|Bb7||  # the turn\n\n# more\n|C7|F7||\n"
    )
    tidy = read_chart("title: Low Water\nkey: F\n\n| F7 | Bb7 | C7 | F7 |\n")
    assert loose == tidy
    assert write_chart(loose) == write_chart(tidy)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_line_end_will_do(end: str) -> None:
    assert read_chart(f"key: F{end}| F7 |{end}").bars[0].chords[0].text == "F7"


def test_repeats_with_three_endings() -> None:
    text = "repeat\n| C | F |\nending 1 and 2\n| G |\nending 3\n| Am |\nend repeat\n| C6 |"
    assert played(text) == ["C", "F", "G", "C", "F", "G", "C", "F", "Am", "C6"]


def test_a_vamp_says_how_often() -> None:
    assert played("vamp 3 times\n| Dm7 | G7 |\nend vamp") == ["Dm7", "G7"] * 3


def test_back_to_the_sign_then_the_coda() -> None:
    text = (
        "section A\n| C |\nsign\nrepeat\n| F |\nending 1\n| G |\nending 2\n| G7 |\nend repeat\n"
        "to coda\n| Am |\nback to the sign, then the coda\ncoda\n| Db | C6 |"
    )
    assert played(text) == ["C", "F", "G", "F", "G7", "Am", "F", "G7", "Db", "C6"]


def test_back_to_the_top_then_the_end() -> None:
    text = "pickup 1\n| G7 |\n| C |\nend here\n| F |\nback to the top, then the end"
    assert played(text) == ["G7", "C", "F", "C"]


@pytest.mark.parametrize(
    ("short", "long"),
    [
        ("D.C.", "back to the top"),
        ("D.S.", "back to the sign"),
        ("D.C. al fine", "back to the top, then the end"),
        ("D.S. al Coda", "back to the sign, then the coda"),
        ("D. S. al coda", "Back to the sign then the coda"),
    ],
)
def test_the_usual_abbreviations_are_read(short: str, long: str) -> None:
    text = "segno\n| C |\nto coda\n| F |\nfine\n| G |\n{}\ncoda\n| C6 |"
    assert read_chart(text.format(short)) == read_chart(text.format(long))


def test_a_form_orders_sections_and_heads_frame_the_solos() -> None:
    text = (
        "form: AAB\nhead in: Intro A A B\nhead out: A A B Tag\n\n"
        "section Intro\n| N.C. |\nsection A\n| C |\nsection B\n| F |\nsection Tag\n| G7 |\n"
    )
    assert played(text) == ["C", "C", "F"]
    assert played(text, "head in") == ["N.C.", "C", "C", "F"]
    assert played(text, "head out") == ["C", "C", "F", "G7"]
    whole = played(text, "whole", 2)
    assert whole == ["N.C.", *["C", "C", "F"] * 3, "C", "C", "F", "G7"]


def test_a_pickup_is_bar_0_and_is_played_once() -> None:
    form = unroll(read_chart("form: A A\npickup 3/2\nsection A\n| C7 |\n| F | Bb |"))
    assert [bar.number for bar in form.bars] == [0, 1, 2, 3, 4]
    assert [bar.source for bar in form.bars] == [0, 1, 2, 1, 2]
    assert form.bars[0].length == Fraction(3, 2)
    assert [bar.label for bar in form.bars] == ["", "A", "", "A", ""]


def test_meter_and_key_change_between_bars() -> None:
    form = unroll(read_chart("key: C\n| C |\nmeter 3/4\nkey Ab\n| Ab |\nmeter 6/8\n| Ab |\n"))
    assert [str(bar.meter) for bar in form.bars] == ["4/4", "3/4", "6/8"]
    assert form.areas == ((0, Key.parse("C")), (4, Key.parse("Ab")))
    assert form.length == 4 + 3 + 3


def test_pins_keep_the_authors_own_reading() -> None:
    form = unroll(read_chart("| Bbm7 Eb7 <scale E whole_tone> <in Ab> | C7 |"))
    key, scale = form.pins
    assert (key.start, key.end, key.key) == (0, 4, Key.parse("Ab"))
    assert (scale.start, scale.end) == (2, 4)
    assert scale.scale
    assert (str(scale.scale.root), scale.scale.kind.id) == ("E", "whole_tone")


def test_a_melody_holds_over_the_bar_line() -> None:
    form = unroll(read_chart("| C | F | G |\nmelody | -:1 E4:1/2 G4 C5:2 | ~:1 -:3 | |"))
    assert form.melody
    notes = [(n.onset, n.duration, str(n.pitch)) for n in form.melody.notes]
    assert notes == [
        (1, Fraction(1, 2), "E4"),
        (Fraction(3, 2), Fraction(1, 2), "G4"),
        (2, 3, "C5"),
    ]
    assert form.melody.length == form.length


def test_the_melody_rests_over_solos_in_the_whole_performance() -> None:
    chart = read_chart("section A\n| C | F |\nmelody | C5:4 | |")
    form = unroll(chart, "whole", 2)
    assert form.melody
    assert [n.onset for n in form.melody.notes] == [0, 24]


def test_the_digest_names_the_meaning_not_the_typing() -> None:
    one = read_chart("title: X\n| F7 | F7 |")
    two = read_chart("# draft\ntitle:  X\n\n| F7 | % |\n")
    assert unroll(one).digest == unroll(two).digest
    assert len(unroll(one).digest) == 16
    assert unroll(read_chart("title: X\n| F7 | F9 |")).digest != unroll(one).digest


def test_a_form_that_never_ends_is_refused() -> None:
    bars = "| C | F | G | C |\n" * 25
    text = f"section A\nrepeat 64 times\n{bars}end repeat\n"
    with pytest.raises(ChartError, match="more than 4000 bars"):
        unroll(read_chart(text))
