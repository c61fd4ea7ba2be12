"""Every fault says where it is, what it is, and what to write instead."""

import pytest

from changewright.chart.reader import read_chart
from changewright.errors import ChartError

H = "title: Low Water\nkey: F\n\n"

# text, (line, column, bar, beat), what, what to do
FAULTS = [
    ("", (None, None, None, None), "the chart has no bars", "Write bars between | signs"),
    ("tempos: 90\n| F7 |", (1, 1, None, None), "unknown line 'tempos'", "Did you mean 'tempo'"),
    ("title:\n| F7 |", (1, 7, None, None), "'title' wants a value", "title: Low Water Blues"),
    ("key: F\nkey: G\n| F7 |", (2, 1, None, None), "a second 'key'", "Keep one"),
    ("key: H\n| F7 |", (1, 6, None, None), "'H' isn't a key", "like F, Bb, Cm"),
    ("key: Fb\n| F7 |", (1, 6, None, None), "'Fb' isn't a key", "seven sharps or flats"),
    ("meter: 4/5\n| F7 |", (1, 8, None, None), "'4/5' isn't a meter", "like 4/4"),
    ("tempo: 900\n| F7 |", (1, 8, None, None), "'900' isn't a tempo", "from 20 to 400"),
    ("rights: mine\n| F7 |", (1, 9, None, None), "doesn't say whose", "own work"),
    ("form: A B\nsection A\n| F7 |", (1, 9, None, None), "section B isn't in", "chart: A."),
    ("form: AABA\nsection A\n| F7 |", (1, 9, None, None), "section B isn't", "chart: A."),
    ("form: A\n| F7 |", (1, 7, None, None), "the first bars have no name", "'section A'"),
    (H + "| F7 / / / / |", (4, 12, 1, "5"), "too full: 5 beats, and 4/4 has 4", "Close the bar"),
    (H + "| F7 | F7 / / |", (4, 15, 2, "4"), "too short: 3 beats", "Add 1 / for 1 beat more"),
    (H + "| F7:3/2 Bb7:3 |", (4, 10, 1, "2.5"), "too full: 9/2 beats", "Close the bar"),
    (H + "| F7 Bb7 C7 |", (4, 6, 1, None), "3 chords don't share 4", "| F7 / Bb7 C7 |"),
    ("meter: 3/4\n| C G7 |", (2, 5, 1, None), "2 chords don't share 3", "| C / G7 |"),
    (H + "| % |", (4, 3, 1, "1"), "% has no bar before it", "Write the chord here"),
    (H + "| F7 |\nsection B\n| / / F7 / |", (6, 3, 2, "1"), "/ has no bar", "begins afresh"),
    (H + "| F7 |\nmeter 3/4\n| % |", (6, 3, 2, None), "another length", "Write the chords"),
    (H + "| F7 | % x |", (4, 10, 2, None), "% stands for a whole bar", "Write % alone"),
    (H + "| F7 | | Bb7 |", (4, 8, 2, "1"), "an empty bar", "N.C. for no chord"),
    (H + "| F7 | Bb7", (4, 11, 2, None), "isn't closed", "End the line with a bar line"),
    (H + "F7 | Bb7 |", (4, 1, None, None), "can't read 'F7 | Bb7 |'", "stand between | signs"),
    (H + "| F7 | Fmajj7 |", (4, 12, 2, "1"), "can't read the chord 'Fmajj7'", "Did you mean"),
    (H + "| F7 | C7 G7 (b9) |", (4, 14, 2, None), "(b9) stands apart", "inside: G7(b9)."),
    (H + "| F7 G |\n| F7 h |", (5, 6, 2, "3"), "can't read the chord 'h'", ""),
    (H + "| F7:x Bb7 |", (4, 6, 1, None), "'x' isn't a number of beats", "3/2"),
    (H + "| F7:1/0 Bb7 |", (4, 6, 1, None), "'1/0' isn't a number of beats", "3/2"),
    (H + "repeat\n| F7 |", (5, 1, 1, None), "never closed", "Write 'end repeat'"),
    (H + "| F7 |\nend repeat", (5, 1, None, None), "no repeat is open", "Write 'repeat' before"),
    (H + "repeat\n| F |\nrepeat\n| F |", (6, 1, None, None), "inside another", "end repeat"),
    (H + "ending 1\n| F7 |", (4, 1, None, None), "outside a repeat", "Write 'repeat'"),
    (H + "repeat\n| F |\nending 2\n| B |\nend repeat", (5, 1, 1, None), "for times 2", "ending 1"),
    (H + "repeat 99 times\n| F |", (4, 1, None, None), "99 times", "2 to 64 times"),
    (H + "section A\nsection B\n| F |", (4, 1, None, None), "A has no bars", "under it"),
    (H + "section A\n| F |\nsection B\n", (6, 1, None, None), "B has no bars", "under it"),
    (H + "section A\n| F |\nsection A\n| G |", (6, 9, None, None), "A is written twice", "form:"),
    (H + "section A!\n| F |", (4, 9, None, None), "'A!' can't name", "A, B, Intro"),
    (H + "section: A\n| F |", (4, 1, None, None), "can't read 'section: A'", "'section A'"),
    (H + "| F |\ntempo: 90\n", (5, 1, None, None), "can't read 'tempo: 90'", "above the first"),
    (H + "| F |\ncopa\n", (5, 1, None, None), "can't read 'copa'", "Did you mean 'coda'"),
    (H + "| F |\n[B]\n| G |", (5, 1, None, None), "can't read '[B]'", "'section B'"),
    ("A: | F7 |", (1, 1, None, None), "bars behind 'a'", "lines of their own"),
    (H + "sign\nsign\n| F |", (5, 1, None, None), "twice before one bar", "Keep one"),
    (H + "to coda\n| F |", (4, 1, None, None), "there is none", "above it"),
    (H + "repeat\n", (4, 1, None, None), "nothing follows", "next line"),
    (H + "| F |\nback to the sign", (4, 1, 1, None), "nowhere to go", "'sign' before"),
    (H + "| F |\nback to the top, then the coda", (4, 1, 1, None), "nowhere to go", "'to coda'"),
    (
        "form: A\nsection A\n| F |\nto coda\n| G |\nback to the top, then the coda\n"
        "section B\ncoda\n| F |",
        (5, 1, 2, None),
        "in the order of the form, the way back has nowhere to go",
        "in a section that the form line names",
    ),
    (H + "|: F7 | Bb7 :|", (4, 2, 1, None), "a colon stands alone", "'repeat' before"),
    (H + "| F7 <in Q> |", (4, 10, 1, None), "'Q' isn't a key", "like F"),
    (H + "| F7 <scale mixolidian> |", (4, 6, 1, None), "unknown scale", "'mixolydian'"),
    (H + "| <scale dorian> F7 |", (4, 3, 1, None), "pinned to no chord", "after the chord"),
    (H + "| F7 <in Ab |", (4, 6, 1, None), "a pin isn't closed", "<in Ab>"),
    (H + "| F7 <blue> |", (4, 6, 1, None), "can't read the pin", "<scale mixolydian>"),
    (H + "| N.C. <scale dorian> |", (4, 8, 1, None), "N.C. has no root", "<scale F"),
    (H + "| F | B |\nmelody | C4:4 |", (5, 15, None, None), "1 bars of melody under 2", "each bar"),
    (H + "| F7 |\nmelody | C4:3 |", (5, 15, 1, "4"), "too short: 3 beats of 4", "-:1"),
    (H + "| F7 |\nmelody | C4:3 D4 |", (5, 15, 1, "4"), "the melody is too long", "~"),
    (H + "| F7 |\nmelody | H4:4 |", (5, 10, 1, None), "can't read the note 'H4'", "middle C"),
    (H + "| F7 |\nmelody | ~:4 |", (5, 10, 1, None), "no note sounds before", "Write the note"),
    (H + "melody | C4:4 |", (4, 1, None, None), "a melody without its bars", "right under"),
    (H + "pickup 4\n| C7 |", (4, 8, None, None), "shorter than a bar", "'pickup 1'"),
    (H + "| F7 |\npickup 1\n| C7 |", (5, 8, None, None), "before the first", "'pickup 1'"),
    (H + "pickup 1\n| C7 |", (None, None, None, None), "has no bars", "| F7 | Bb7 |"),
    (H + "| F7 \x00 |", (4, 6, None, None), "U+0000", "plain text"),
    (H + "| F7 \u2028 |", (4, 6, None, None), "U+2028", "plain text"),
]


@pytest.mark.parametrize(("text", "place", "what", "remedy"), FAULTS, ids=[f[2] for f in FAULTS])
def test_a_fault_says_where_and_what_to_do(text: str, place: tuple, what: str, remedy: str) -> None:
    with pytest.raises(ChartError) as caught:
        read_chart(text, "low-water.txt")
    error = caught.value
    where = error.where
    assert (where.line, where.column, where.bar, where.beat) == place
    assert what in error.what
    assert remedy in error.remedy
    assert str(error).startswith("low-water.txt")
    if where.line is not None:
        assert error.source.isprintable()
        assert "^" in str(error)


def test_a_message_as_the_user_sees_it() -> None:
    with pytest.raises(ChartError) as caught:
        read_chart(H + "| F7 | F7 / / |", "low-water.txt")
    assert str(caught.value) == (
        "low-water.txt, line 4, column 15, bar 2, beat 4: "
        "the bar is too short: 3 beats, and 4/4 asks for 4\n"
        "    | F7 | F7 / / |\n"
        "                  ^\n"
        "Add 1 / for 1 beat more, or write a change of meter before the bar."
    )


def test_the_first_fault_is_raised() -> None:
    with pytest.raises(ChartError, match="line 1"):
        read_chart("key: H\n| F7 / |\n| % x |\n")
