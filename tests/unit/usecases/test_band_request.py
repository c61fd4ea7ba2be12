import pytest

from changewright.band.intro import Intro
from changewright.errors import InputError
from changewright.theory.pitch import Interval
from changewright.usecases.band import plan_band
from changewright.usecases.band_request import BandRequest, TempoLadder, read_bars, read_ladder


def test_bars_and_ladders_are_read_as_people_write_them() -> None:
    assert read_bars("5-8") == (5, 8)
    assert read_bars(" 12 ") == (12, 12)
    assert read_ladder("80:140:6:2") == TempoLadder(80, 140, 6, 2)
    assert read_ladder("140:80:-10").choruses == 2


@pytest.mark.parametrize("text", ["", "8-", "five", "1-2-3", "-4", "5–8", "99999-4"])
def test_other_bars_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="5-8"):
        read_bars(text)


@pytest.mark.parametrize("text", ["", "80", "80:140", "80:140:6:2:1", "a:b:c", "80:140:6:x"])
def test_other_ladders_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="80:140:6:2"):
        read_ladder(text)


NAN = float("nan")
REFUSED = {
    "too slow": ({"tempo_bpm": 19.0}, "tempo"),
    "too fast": ({"tempo_bpm": 401.0}, "20 to 400"),
    "no number": ({"tempo_bpm": NAN}, "tempo"),
    "a level of nine": ({"level": 9}, "1 to 8"),
    "too much swing": ({"swing": 2.0}, "1.5"),
    "no chorus": ({"choruses": 0}, "choruses"),
    "times of nothing": ({"times": 4}, "--bars"),
    "a loop of choruses": ({"bars": (1, 4), "choruses": 3}, "--times"),
    "a tagged loop": ({"bars": (1, 4), "tag": 4}, "--tag"),
    "a trade of nought": ({"trade": 0, "instrument": "flute"}, "1 to 64"),
    "a trade with nobody": ({"trade": 4}, "--for"),
    "a soloist without a trade": ({"instrument": "flute"}, "--trade"),
    "an unknown player": ({"players": ("tuba",)}, "Known: bass, comping, drums"),
    "keys by the octave": ({"keys": Interval.parse("P8")}, "P4"),
    "a ladder from nowhere": ({"ladder": TempoLadder(5, 100, 5)}, "start"),
    "a ladder to nowhere": ({"ladder": TempoLadder(100, 900, 5)}, "stop"),
    "a ladder of not a number": ({"ladder": TempoLadder(80, 100, NAN)}, "step"),
    "a ladder without a step": ({"ladder": TempoLadder(80, 100, 0)}, "step"),
    "a ladder that walks away": ({"ladder": TempoLadder(80, 100, -5)}, "don't lead"),
    "a ladder with a tempo": ({"ladder": TempoLadder(80, 90, 5), "tempo_bpm": 90.0}, "--tempo"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_played_is_refused_at_the_door(name: str) -> None:
    asked, word = REFUSED[name]
    with pytest.raises(InputError, match=word):
        BandRequest("quayside-blues", **asked)


@pytest.mark.parametrize(
    ("asked", "word"),
    [
        ({"bars": (5, 13)}, "form of 12 bars"),
        ({"bars": (8, 5)}, "lower first"),
        ({"tag": 13}, "tag of 13 bars"),
        ({"feel": "polka"}, "unknown feel"),
        ({"trade": 4, "instrument": "kazoo"}, "unknown instrument"),
        ({"choruses": 2000, "tempo_bpm": 20.0}, "6 hours"),
        ({"ladder": TempoLadder(20, 400, 1, 50)}, "6 hours"),
    ],
)
def test_what_the_chart_does_not_have_is_refused_before_anything_is_played(
    asked: dict[str, object], word: str
) -> None:
    with pytest.raises(InputError, match=word):
        plan_band(BandRequest("quayside-blues", **asked))


def test_the_keys_go_once_round_and_come_home() -> None:
    band = plan_band(BandRequest("quayside-blues", keys=Interval.parse("P4"), tempo_bpm=200))
    # Source: the cycle of fourths from F, as any theory primer has it.
    keys = [str(one.key) for one in band.rungs[0].rounds]
    assert keys == ["F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G", "C"]
    thirds = plan_band(BandRequest("quayside-blues", keys=Interval.parse("m3"), choruses=5))
    assert [str(one.key) for one in thirds.rungs[0].rounds] == ["F", "Ab", "B", "D", "F"]


def test_a_ladder_goes_on_through_the_keys() -> None:
    asked = BandRequest(
        "quayside-blues", keys=Interval.parse("P4"), ladder=TempoLadder(200, 240, 20, 1)
    )
    assert [str(r.rounds[0].key) for r in plan_band(asked).rungs] == ["F", "Bb", "Eb"]


@pytest.mark.parametrize("chart", ["rowlock-waltz", "quayside-blues"])
def test_every_round_of_a_trade_has_a_model_of_its_own(chart: str) -> None:
    asked = BandRequest(chart, trade=4, instrument="flute", choruses=2, tempo_bpm=150)
    band = plan_band(asked)
    first, second = (one.start_s for one in band.rungs[0].rounds)
    line = band.performance.part("line").events
    own = [(round(e.onset_s - first, 1), e.midi) for e in line if e.onset_s < second - 0.1]
    again = [(round(e.onset_s - second, 1), e.midi) for e in line if e.onset_s > second - 0.1]
    assert own
    assert again
    assert own != again[: len(own)]


def test_words_come_after_a_bar_of_silence() -> None:
    spoken = plan_band(BandRequest("quayside-blues", count_in="spoken", choruses=1))
    count = spoken.performance.part("count-in").events
    bar_s = 4 * 60 / spoken.rungs[0].bpm
    assert count[0].onset_s == pytest.approx(bar_s)
    assert [e.midi for e in count] == [1, 2, 3, 4]
    assert spoken.rungs[0].rounds[0].start_s == pytest.approx(2 * bar_s)


def test_nobody_counts_where_none_is_asked_for() -> None:
    band = plan_band(BandRequest("quayside-blues", count_in="none", choruses=1))
    assert [p.name for p in band.performance.parts] == ["bass", "comping", "drums"]
    assert band.rungs[0].rounds[0].start_s == 0


def test_a_click_stands_alone_or_joins_those_named() -> None:
    alone = plan_band(BandRequest("quayside-blues", click=True, choruses=1))
    assert [p.name for p in alone.performance.parts] == ["count-in", "click"]
    assert alone.bass is None
    joined = plan_band(BandRequest("quayside-blues", click=True, players=("bass",), choruses=1))
    assert [p.name for p in joined.performance.parts] == ["count-in", "bass", "click"]
    assert joined.comping is None
    assert joined.bass is not None


@pytest.mark.parametrize(
    ("forms", "word"),
    [
        ({"bars": (1, 4), "intro": Intro("last", 4)}, "--intro"),
        ({"bars": (1, 4), "ending": "held"}, "--ending"),
    ],
)
def test_a_loop_has_no_intro_and_no_ending(forms: dict[str, object], word: str) -> None:
    with pytest.raises(InputError, match=word):
        BandRequest("quayside-blues", **forms)  # type: ignore[arg-type]


def test_the_intro_comes_once_and_the_chorus_still_begins_on_its_one() -> None:
    ladder = TempoLadder(200, 240, 40, 1)
    band = plan_band(BandRequest("quayside-blues", ladder=ladder, intro=Intro("vamp", 4)))
    first, second = band.rungs
    bar = 4 * 60 / 200
    assert first.rounds[0].start_s == pytest.approx((2 + 4) * bar)  # two bars are counted
    assert first.rounds[0].bars == tuple(range(1, 13))
    assert second.rounds[0].start_s - second.start_s == pytest.approx(2 * 4 * 60 / 240)
    assert second.start_s == pytest.approx((2 + 4 + 12) * bar)
    assert band.bass is not None
    assert band.bass.bars[0].label == "Intro"
    assert len(band.bass.bars) == 4 + 12


@pytest.mark.parametrize("count", ["clicked", "spoken"])
def test_the_count_comes_before_the_intro(count: str) -> None:
    asked = BandRequest(
        "quayside-blues",
        count_in=count,  # type: ignore[arg-type]
        intro=Intro("drums", 4),
        tempo_bpm=90.0,
        choruses=1,
        ending="held",
    )
    band = plan_band(asked)
    bar = 4 * 60 / 90
    [rung] = band.rungs
    silent = bar if count == "spoken" else 0.0
    counted = [event.onset_s for event in band.performance.part("count-in").events]
    assert counted == pytest.approx([silent + n * bar / 4 for n in range(4)], abs=0.003)
    assert rung.rounds[0].start_s == pytest.approx(silent + 5 * bar)
    assert band.performance.length_s == pytest.approx(silent + (5 + 12 + 2) * bar)


def test_a_trade_begins_after_the_intro() -> None:
    asked = BandRequest(
        "quayside-blues",
        trade=4,
        instrument="flute",
        intro=Intro("last", 4),
        tempo_bpm=200.0,
        choruses=1,
        click=True,
    )
    band = plan_band(asked)
    [rung] = band.rungs
    bar = 4 * 60 / 200
    top = rung.rounds[0].start_s
    assert [t.start_s for t in rung.open] == pytest.approx([top + 4 * bar])
    line = [event.onset_s for event in band.performance.part("line").events]
    assert top - bar / 4 < min(line) < top + 4 * bar
    clicks = [event.onset_s for event in band.performance.part("click").events]
    assert len(clicks) == 2 * (4 + 12)
    assert min(clicks) == pytest.approx(top - 4 * bar + bar / 4)
