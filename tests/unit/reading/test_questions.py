from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.reading.analyse import analyse
from changewright.reading.questions import questions


def _asked(text: str) -> list[tuple[str, tuple[int, ...]]]:
    found = questions(analyse(unroll(read_chart(text))))
    return [(one.symbol, one.bars) for one in found]


def test_a_plain_chart_raises_no_question() -> None:
    assert _asked("key: C\n| C6 | Dm7 G7 | C6 | % |") == []


def test_each_doubtful_symbol_is_asked_about_once_with_its_bars() -> None:
    chart = "key: F\n| F6 | Ab5 C2 | B° | F6 |\n| Csus9 | C2 | F6 | % |"
    assert _asked(chart) == [("Ab5", (2,)), ("C2", (2, 6)), ("B°", (3,)), ("Csus9", (5,))]


def test_the_question_says_how_it_is_read() -> None:
    (one,) = questions(analyse(unroll(read_chart("key: C\n| C6 | Ab5 |"))))
    assert one.text == "Ab5 is read with the root Ab; for A with a flat 5 write A7(b5)"
