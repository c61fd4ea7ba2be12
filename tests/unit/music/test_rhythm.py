from fractions import Fraction

import pytest

from changewright.music.bar import Meter
from changewright.music.rhythm import Grid, Value, grid_of, values

F = Fraction


def written(meter: Meter, durations: list[F], changes: tuple[F, ...] = ()) -> list[list[str]]:
    """How a row of durations (negative: rests) is written; t marks a triplet."""
    edges, at = [], F(0)
    for duration in durations:
        edges.append((at, at + abs(duration), duration < 0))
        at += abs(duration)
    rows = values(edges, grid_of(meter, at, changes))
    return [
        [f"{v.base}{'.' * v.dots}{'' if v.triplet is None else 't'}" for _, _, v in r] for r in rows
    ]


FOUR, THREE, SIX, FIVE = Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(5, 4)
E, Q = F(1, 2), F(1)


@pytest.mark.parametrize(
    ("meter", "durations", "expected"),
    [
        # common practice, no source: the middle of a bar in four is shown by a tie
        (FOUR, [E, Q, Q, Q, E], [["1/2"], ["1"], ["1/2", "1/2"], ["1"], ["1/2"]]),
        (FOUR, [F(3, 2), F(3, 2), Q], [["1."], ["1/2", "1"], ["1"]]),
        # a half note on beat two hides only the middle that its neighbours frame
        (FOUR, [Q, F(2), Q], [["1"], ["2"], ["1"]]),
        (FOUR, [F(4)], [["4"]]),
        (FOUR, [F(3), Q], [["2."], ["1"]]),
        # rests never hide a beat
        (FOUR, [Q, F(-3)], [["1"], ["1", "2"]]),
        (FOUR, [F(-3), Q], [["2", "1"], ["1"]]),
        (FOUR, [F(-4)], [["4"]]),
        # triplets: in a beat, and across two beats
        (FOUR, [F(1, 3)] * 3 + [F(3)], [["1/2t"]] * 3 + [["2."]]),
        (FOUR, [F(2, 3)] * 3 + [F(2)], [["1t"]] * 3 + [["2"]]),
        (FOUR, [F(2, 3), F(7, 3), Q], [["1t"], ["1/2t", "2"], ["1"]]),
        (THREE, [F(3, 2), F(3, 2)], [["1."], ["1."]]),
        (THREE, [F(3)], [["2."]]),
        (SIX, [Q, E, F(3, 2)], [["1"], ["1/2"], ["1."]]),
        (SIX, [Q, Q, Q], [["1"], ["1/2", "1/2"], ["1"]]),
        (SIX, [F(-3, 2), F(3, 2)], [["1."], ["1."]]),
        (FIVE, [F(5)], [["2.", "2"]]),
    ],
)
def test_durations_are_written_as_players_read_them(meter, durations, expected):
    assert written(meter, durations) == expected


def test_five_divides_where_the_chord_changes():
    assert grid_of(FIVE, F(5)).spans == (3, 2)
    assert grid_of(FIVE, F(5), (F(0), F(2))).spans == (2, 3)


def test_a_pickup_keeps_the_end_of_the_bar():
    assert grid_of(FOUR, F(1)) == Grid((Q,), (1,))
    assert grid_of(FOUR, F(3, 2)) == Grid((E, Q), (2,))
    assert grid_of(SIX, E).beats == (E,)


def test_a_silent_bar_is_one_rest_whatever_the_meter():
    for meter in (FOUR, THREE, SIX, FIVE):
        ((piece,),) = values([(F(0), meter.length, True)], grid_of(meter, meter.length))
        assert piece == (F(0), meter.length, Value(F(4), whole_bar=True))
