"""Intros and endings, as a bandleader calls them (domain reference 7.7, common practice)."""

from fractions import Fraction

import pytest

from changewright.band.accompany import accompany
from changewright.band.bass import bass_line
from changewright.band.clocks import clocks_of
from changewright.band.comping import comping
from changewright.band.feel import feel, feels
from changewright.band.intro import Intro, intro_before, intro_of, read_intro
from changewright.band.notated import bass_sheet, comping_part
from changewright.band.practice import click, tagged
from changewright.band.song import song_of
from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError
from changewright.music.bar import Meter
from changewright.music.performance import Performance
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.symbols import write_symbol
from tests.unit.band.material import BLUES, MINOR, TWO_FIVES, reading, reading_in


def symbols(one: Reading) -> list[str]:
    return [write_symbol(read.change.chord) for read in one.changes]


def onsets(played: Performance, name: str) -> list[float]:
    return [event.onset_s for event in played.part(name).events]


def test_an_intro_is_read_as_it_is_called() -> None:
    assert read_intro("4") == Intro("last", 4)
    assert read_intro(" Vamp ") == Intro("vamp", 4)
    assert read_intro("drums:8") == Intro("drums", 8)
    assert read_intro("last : 2") == Intro("last", 2)


@pytest.mark.parametrize("text", ["", "four", "vamp:", "0", "17", "drums:99", "vamp 4", "-4"])
def test_another_intro_is_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"vamp|1 to 16"):
        read_intro(text)


def test_the_last_bars_come_first() -> None:
    intro = intro_of(Intro("last", 4), reading(BLUES))
    assert symbols(intro) == symbols(reading(BLUES))[-6:]
    assert [bar.number for bar in intro.bars] == [9, 10, 11, 12]
    with pytest.raises(InputError, match="form of 12 bars"):
        intro_of(Intro("last", 13), reading(BLUES))


@pytest.mark.parametrize(
    ("chart", "key", "first_four"),
    [
        (TWO_FIVES, "C", ["Cmaj7", "A7", "Dm7", "G7"]),
        (BLUES, "F", ["F7", "D7", "Gm7", "C7"]),
        (MINOR, "Cm", ["Cm6", "Am7(b5)", "Dm7(b5)", "G7(b9)"]),
    ],
)
def test_a_vamp_turns_round_in_the_tune_s_key(
    chart: tuple[tuple[str, int], ...], key: str, first_four: list[str]
) -> None:
    """I VI ii V, or i vi ii V of minor, two chords a bar. Source: common practice, no source."""
    intro = intro_of(Intro("vamp", 4), reading(chart, key))
    assert symbols(intro) == first_four * 2
    assert intro.key == reading(chart, key).key


@pytest.mark.parametrize(
    ("meter", "a_bar"),
    [(Meter(3, 4), 1), (Meter(5, 4), 1), (Meter(6, 8), 2), (Meter(12, 8), 2), (Meter(2, 2), 2)],
    ids=str,
)
def test_a_vamp_goes_in_the_tune_s_meter(meter: Meter, a_bar: int) -> None:
    intro = intro_of(Intro("vamp", 4), reading_in(meter))
    assert {bar.meter for bar in intro.bars} == {meter}
    assert [len(bar.changes) for bar in intro.bars] == [a_bar] * 4


def test_drums_play_an_intro_alone() -> None:
    intro = intro_of(Intro("drums", 4), reading())
    played = accompany(reading(), bpm=120, intro=intro)
    top = 2 + 16 * 0.5
    assert min(onsets(played, "bass")) == pytest.approx(top, abs=0.02)
    assert min(onsets(played, "comping")) > top - 0.3  # it may come in on the last offbeat
    assert min(onsets(played, "drums")) == pytest.approx(2, abs=0.02)
    assert max(onsets(played, "count-in")) < 2


@pytest.mark.parametrize("kind", ["last", "vamp", "drums"])
@pytest.mark.parametrize("name", sorted(feels()))
def test_an_intro_leaves_the_chorus_s_first_bar_at_nought(kind: str, name: str) -> None:
    """The clock's nought is the top, with an intro or without, so a take is judged alike."""
    intro = intro_of(Intro(kind, 2), reading())  # type: ignore[arg-type]
    before = intro_before(intro, reading())
    assert before == 8
    bpm = sum(feels()[name].tempo) / 2
    played = accompany(reading(), bpm=bpm, feel=name, intro=intro)
    clock = clocks_of(name, bpm, before=before).band
    assert clock.to_seconds(Fraction(0)) == pytest.approx(12 * 60 / bpm)
    assert played.length_s == pytest.approx((12 + 48) * 60 / bpm)
    assert any(abs(at - clock.to_seconds(Fraction(0))) < 0.02 for at in onsets(played, "bass"))
    clicks = click(reading(), clock, intro=intro, before=before).events
    assert len(clicks) == 2 * (2 + 12)
    assert clicks[0].onset_s == pytest.approx(clock.to_seconds(Fraction(-7)))


def test_a_pickup_lies_under_the_end_of_the_intro() -> None:
    whole = analyse(unroll(read_chart("title: x\nkey: C\npickup 1\n| G7 | C6 | F6 | G7 | C6 |\n")))
    pickup = whole.bars[0].length
    intro = intro_of(Intro("last", 2), whole)
    song = song_of([whole], intro)
    assert song.start == pickup - 2 * whole.bars[1].length
    assert [bar.bar.number for bar in song.bars][2] == 1
    assert song.bars[2].start == pickup
    assert song.start == -intro_before(intro, whole)


def test_the_intro_is_played_like_a_first_chorus_and_the_tag_like_the_last() -> None:
    intro = intro_of(Intro("last", 4), reading())
    song = song_of([reading(), *tagged(reading(), 4)], intro)
    assert song.choruses == 2
    assert [b.chorus for b in song.bars] == [-1] * 4 + [0] * 12 + [1] * 20
    assert song.build(song.bars[0]) == song.build(song.bars[4]) == 0
    assert song.build(song.bars[-1]) == 1


@pytest.mark.parametrize(
    ("chart", "key", "home"),
    [
        (BLUES, "F", "F7"),
        (TWO_FIVES, "C", "Cmaj7"),
        (MINOR, "Cm", "Cm6"),
        ((("Am7", 4), ("D7", 4), ("Dm7", 4), ("G7", 4)), "C", "C6"),
        ((("Cmaj7", 4), ("C7", 4), ("Fmaj7", 4), ("G7", 4)), "C", "Cmaj7"),
    ],
)
def test_an_ending_comes_home(chart: tuple[tuple[str, int], ...], key: str, home: str) -> None:
    """A form may begin away from home and end on its dominant; the last chord never does."""
    song = song_of([reading(chart, key)])
    assert write_symbol(song.after.chord) == home
    assert song.after.chord.root is not None
    for name in ("swing", "bossa"):
        last = bass_line(song, feel(name), 5, 3)[-1]
        assert last.onset == song.length
        assert last.midi % 12 == song.after.chord.root.pc
        final = [h.midi for h in comping(song, feel(name), 120, 5, 3) if h.onset == song.length]
        assert {midi % 12 for midi in final} & song.after.chord.pcs
        # the major seventh of a dominant home would be a wrong note for everybody
        assert home != "F7" or (song.after.chord.root.pc + 11) % 12 not in {m % 12 for m in final}


def test_without_an_ending_the_top_follows() -> None:
    song = song_of([reading()], ending="none")
    assert song.after == song.stretches[0]
    assert max(h.onset for h in bass_line(song, feel("swing"), 5, 3)) < song.length


@pytest.mark.parametrize("bpm", [60, 120, 240])
@pytest.mark.parametrize("meter", [Meter(4, 4), Meter(3, 4), Meter(6, 8)], ids=str)
def test_a_last_chord_is_held_for_some_seconds_at_any_tempo(bpm: int, meter: Meter) -> None:
    held = accompany(reading_in(meter), bpm=bpm, ending="held")
    stopped = accompany(reading_in(meter), bpm=bpm)
    longer = held.length_s - stopped.length_s
    bar_s = float(meter.length) * 60 / bpm
    assert 3.5 <= longer < 3.5 + bar_s
    assert longer / bar_s == pytest.approx(round(longer / bar_s))
    for name in ("bass", "comping"):
        last = max(held.part(name).events)
        assert last.onset_s == pytest.approx(stopped.length_s, abs=0.02)
        assert last.duration_s > 0.8 * longer


def test_an_intro_and_the_last_chord_are_on_paper() -> None:
    intro = intro_of(Intro("last", 4), reading())
    asked = {"bpm": 120, "intro": intro, "ending": "held", "seed": 4, "level": 5}
    sheet = bass_sheet(reading(), **asked)  # type: ignore[arg-type]
    assert [bar.label for bar in sheet.bars if bar.label][:2] == ["Intro", "Chorus"]
    assert [bar.number for bar in sheet.bars] == list(range(1, 19))
    assert sheet.line.notes[-1].onset == 16 * 4
    assert sheet.line.notes[-1].duration == 8
    part = comping_part(reading(), **asked)  # type: ignore[arg-type]
    assert part.sheet.line.notes[-1].onset == 16 * 4
    assert part.sheet.length == sheet.length == 18 * 4
    played = accompany(reading(), **asked)  # type: ignore[arg-type]
    clock = clocks_of("swing", 120, before=Fraction(16)).band
    heard = {(e.midi, round(e.onset_s, 1)) for e in played.part("bass").events}
    for note in sheet.line.notes:
        at = clock.to_seconds(note.onset - 16)
        assert any(m == note.pitch.midi and abs(s - at) < 0.07 for m, s in heard)
