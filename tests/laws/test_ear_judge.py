"""What must hold of every take, whatever is on the page."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from changewright.ear.hearing import Verdict
from changewright.ear.judge import judge
from changewright.ear.remarks import remarks
from changewright.ear.take import HeardNote, Take
from changewright.music.line import Line
from changewright.music.sheet import Sheet
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Name
from tests.unit.ear.exercises import clock_of, exact_take, root_up, slots

PLAYERS = ("flute", "tenor saxophone", "trumpet", "trombone", "double bass")
BASE = {player: root_up(player) for player in PLAYERS}


def moved(sheet: Sheet, by: int) -> Sheet:
    """The exercise in another key, spelled along the line of fifths."""
    interval = Interval(by, -(7 * by // 12))
    bars = tuple(
        replace(
            bar,
            changes=tuple(
                replace(c, chord=c.chord.transpose(interval), text="") for c in bar.changes
            ),
        )
        for bar in sheet.bars
    )
    line = sheet.line.transpose(interval)
    return replace(sheet, key=Key(Name(-1 + by)), bars=bars, line=Line(line.notes, line.length))


keys = st.integers(-5, 6)
players = st.sampled_from(PLAYERS)
latencies = st.floats(-0.1, 0.4)


@given(players, keys, latencies)
@settings(max_examples=40, deadline=None)
def test_a_sheet_judged_against_its_own_performance_meets_everything(
    player: str, key: int, latency: float
) -> None:
    sheet = moved(BASE[player], key)
    hearing = judge(sheet, exact_take(slots(sheet, latency)), clock_of(sheet))
    assert hearing.judged
    assert hearing.mistakes == ()
    assert all(f.verdict is Verdict.MET for f in hearing.findings)
    assert abs(hearing.placement.offset_s - latency) < 0.003


@given(players, keys, st.sampled_from([1, 2, 4]))
@settings(max_examples=20, deadline=None)
def test_a_take_in_another_key_is_never_praised(player: str, key: int, off: int) -> None:
    sheet = moved(BASE[player], key)
    played = [replace(s, midi=s.midi + off) for s in slots(sheet)]
    met, sure = judge(sheet, exact_take(played), clock_of(sheet)).share("note")
    assert met <= 0.4 * max(1, sure)


@given(keys, st.integers(0, 47), st.sampled_from([-3, -2, -1, 1, 2, 3]))
@settings(max_examples=40, deadline=None)
def test_one_other_note_anywhere_is_named_there_and_nowhere_else(
    key: int, index: int, by: int
) -> None:
    sheet = moved(BASE["tenor saxophone"], key)
    played = slots(sheet, 0.1)
    played[index] = replace(played[index], midi=played[index].midi + by)
    hearing = judge(sheet, exact_take(played), clock_of(sheet))
    bar, beat = divmod(index, 4)
    assert [(m.bar, m.beat) for m in hearing.mistakes] == [(bar + 1, str(beat + 1))]


heard_notes = st.lists(
    st.builds(
        lambda onset, length, midi, confidence: HeardNote(
            onset, onset + length, float(midi), 0.0, -20.0, confidence
        ),
        st.floats(0, 60),
        st.floats(0.05, 3),
        st.integers(30, 90),
        st.floats(0, 1),
    ),
    max_size=60,
).map(lambda notes: tuple(sorted(notes)))


@given(heard_notes, st.integers(1, 8))
@settings(max_examples=40, deadline=None)
def test_any_take_at_all_is_sorted_out_completely_and_put_into_words(
    notes: tuple[HeardNote, ...], level: int
) -> None:
    sheet = BASE["tenor saxophone"]
    hearing = judge(sheet, Take(notes, 64.0, source="midi"), clock_of(sheet), level=level)
    for bar in hearing.bars:
        assert len(bar.asked) == len(bar.met) + len(bar.missed) + len(bar.unsure)
    assert remarks(hearing).lines()
    assert all(m.first.confidence >= 0.5 for m in hearing.mistakes)


def test_every_player_has_a_profile() -> None:
    from changewright.ear.profile import profile_of
    from changewright.theory.instrument import instruments

    for known in instruments().values():
        profile = profile_of(known)
        span = instrument(known.id).concert_range("professional")
        assert profile.low <= span.low.midi <= span.high.midi <= profile.high
