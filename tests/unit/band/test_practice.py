from dataclasses import replace
from fractions import Fraction

import pytest

from changewright.band.accompany import accompany
from changewright.band.clocks import clocks_of
from changewright.band.practice import (
    click,
    excerpt,
    joined,
    only,
    tagged,
    tempo_ladder,
    trade_windows,
    traded,
)
from changewright.errors import InputError, UnknownName
from changewright.music.bar import Bar, Meter
from changewright.music.performance import Event, Part
from tests.unit.band.material import BLUES, reading, reading_in


def test_a_loop_leads_in_with_the_bar_before() -> None:
    part = excerpt(reading(BLUES), 9, 10)
    assert [bar.number for bar in part.bars] == [8, 9, 10]
    assert [bar.start for bar in part.bars] == [0, 4, 8]
    assert [r.change.text for r in part.changes] == ["D7", "Gm7", "C7"]
    assert [r.change.onset for r in part.changes] == [0, 4, 8]
    assert [bar.number for bar in excerpt(reading(BLUES), 1, 2).bars] == [12, 1, 2]
    assert [bar.number for bar in excerpt(reading(BLUES), 3, 4, lead_in=False).bars] == [3, 4]


def test_a_loop_is_played_round_and_round() -> None:
    loop = excerpt(reading(BLUES), 9, 10)
    played = accompany(loop, bpm=120, choruses=4, ending="none")
    assert played.length_s == pytest.approx(2 + 4 * 3 * 2)
    assert max(e.onset_s for e in played.part("bass").events) < played.length_s


@pytest.mark.parametrize(("first", "last"), [(0, 3), (5, 4), (11, 13)])
def test_bars_that_do_not_exist_are_refused(first: int, last: int) -> None:
    with pytest.raises(InputError, match="form of 12 bars"):
        excerpt(reading(BLUES), first, last)


def test_fewer_players_play_the_same() -> None:
    band = accompany(reading(), bpm=120)
    alone = only(band, "count-in", "bass")
    assert [p.name for p in alone.parts] == ["count-in", "bass"]
    assert alone.part("bass") == band.part("bass")
    with pytest.raises(UnknownName, match="Known: count-in, bass, comping, drums"):
        only(band, "tuba")


def test_the_click_falls_on_two_and_four() -> None:
    clock = clocks_of("swing", 120).band
    part = click(reading(), clock)
    assert [e.onset_s for e in part.events[:4]] == pytest.approx([2.5, 3.5, 4.5, 5.5])
    assert len(part.events) == 24
    three = click(reading_in(Meter(3, 4)), clocks_of("swing", 120, Meter(3, 4)).band, beats=(1,))
    assert [e.onset_s for e in three.events[:2]] == pytest.approx([1.5, 3.0])


def test_trading_leaves_every_other_four_open() -> None:
    clock = clocks_of("swing", 120).line
    events = tuple(Event(clock.to_seconds(Fraction(k, 2)), 0.2, 60, 80) for k in range(-1, 95))
    line = traded(Part("line", 66, events), reading(), clock, every=4)
    bars = sorted({int((e.onset_s + 0.25) / 2) - 1 for e in line.events})
    assert bars == [0, 1, 2, 3, 8, 9, 10, 11]
    openings = [clock.to_seconds(Fraction(q)) for q in (16, 32)]
    assert not [e for e in line.events if openings[0] - 0.1 < e.onset_s < openings[1] - 0.3]
    assert events[0] in line.events  # the pickup belongs to the bar it leads into


def test_a_tempo_ladder_climbs_and_counts_every_rung_in() -> None:
    ladder = tempo_ladder(reading(), start_bpm=80, stop_bpm=140, step_bpm=6, choruses=1)
    assert [r.bpm for r in ladder.rungs] == list(range(80, 141, 6))
    lengths = [(4 + 48) * 60 / r.bpm for r in ladder.rungs]
    assert ladder.performance.length_s == pytest.approx(sum(lengths))
    assert ladder.rungs[3].start_s == pytest.approx(sum(lengths[:3]))
    count = ladder.performance.part("count-in").events
    assert len(count) == 4 * len(ladder.rungs)
    bass = [e.onset_s for e in ladder.performance.part("bass").events]
    for rung in ladder.rungs:
        down = rung.start_s + rung.clocks.band.to_seconds(Fraction(0))
        assert any(abs(at - down) < 0.02 for at in bass)


def test_a_ladder_may_go_down_but_must_arrive() -> None:
    down = tempo_ladder(reading(), start_bpm=140, stop_bpm=120, step_bpm=-10, choruses=1)
    assert [r.bpm for r in down.rungs] == [140, 130, 120]
    for step in (10, 0, -0.001):
        with pytest.raises(InputError, match="don't lead"):
            tempo_ladder(reading(), start_bpm=140, stop_bpm=120, step_bpm=step)


def test_a_tune_goes_round_the_keys_without_a_break() -> None:
    keys = [reading((("Dm7", 4), ("G7", 4), ("Cmaj7", 8)), "C")]
    keys.append(reading((("Gm7", 4), ("C7", 4), ("Fmaj7", 8)), "F"))
    played = accompany(keys, bpm=120, level=1)
    bass = {round((e.onset_s - 2) * 2): e.midi % 12 for e in played.part("bass").events}
    assert [bass[q] for q in (0, 4, 8, 16, 20, 24)] == [2, 7, 0, 7, 0, 5]


def test_performances_join_end_to_end() -> None:
    one = accompany(reading(), bpm=120, ending="none")
    two = joined([one, one])
    assert two.length_s == pytest.approx(2 * one.length_s)
    assert len(two.part("bass").events) == 2 * len(one.part("bass").events)


def test_a_trade_takes_turns_over_choruses() -> None:
    turns = trade_windows([reading(), reading()], every=4)
    assert [(t.start, t.end, t.is_open) for t in turns] == [
        (16 * k, 16 * (k + 1), k % 2 == 1) for k in range(6)
    ]


def test_a_pickup_belongs_to_the_first_turn() -> None:
    plain = reading_in(Meter(4, 4))
    pickup = Bar(0, Fraction(0), Fraction(1), Meter(4, 4), ())
    later = [replace(bar, start=bar.start + 1) for bar in plain.bars]
    turns = trade_windows(replace(plain, bars=(pickup, *later)), every=2)
    assert [(t.start, t.end, t.is_open) for t in turns] == [(0, 9, False), (9, 17, True)]


def test_a_tag_plays_the_last_bars_twice_more() -> None:
    rounds = tagged(reading(), 4)
    assert [[bar.number for bar in one.bars] for one in rounds[1:]] == [[9, 10, 11, 12]] * 2
    played = accompany(rounds, bpm=120)
    assert played.length_s == pytest.approx(2 + 20 * 2)
    with pytest.raises(InputError, match="12 bars"):
        tagged(reading(), 13)


def test_the_click_goes_on_through_all_rounds() -> None:
    clock = clocks_of("swing", 120).band
    assert len(click([reading(), excerpt(reading(), 1, 2)], clock).events) == 2 * (12 + 3)
