from fractions import Fraction

import pytest

from changewright.band.pattern import Step, read_pattern


def test_signs_rests_and_holds_are_read_as_counted() -> None:
    pattern = read_pattern("x--X ..o.", 4)
    assert pattern.bars == (
        (
            Step(Fraction(0), Fraction(3, 2), "x"),
            Step(Fraction(3, 2), Fraction(1, 2), "X"),
            Step(Fraction(3), Fraction(1, 2), "o"),
        ),
    )


def test_the_grid_follows_from_the_length() -> None:
    [triplets] = read_pattern("..x.....x..x", 4).bars
    assert [s.at for s in triplets] == [Fraction(2, 3), Fraction(8, 3), Fraction(11, 3)]


def test_a_stroke_parts_bars() -> None:
    pattern = read_pattern("x...|..x.", 4)
    assert [len(bar) for bar in pattern.bars] == [1, 1]
    assert pattern.hits_a_bar == 1


def test_a_hold_after_a_rest_is_rest() -> None:
    [bar] = read_pattern(".-x-", 4).bars
    assert bar == (Step(Fraction(2), Fraction(2), "x"),)


@pytest.mark.parametrize(("text", "beats"), [("x.x", 4), ("", 4), ("x" * 20, 4), ("x.|x...", 4)])
def test_a_bar_that_does_not_divide_is_refused(text: str, beats: int) -> None:
    with pytest.raises(ValueError, match="doesn't divide"):
        read_pattern(text, beats)
