"""What holds of every band, whatever the changes, feel, level and seed."""

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from changewright.band.accompany import PARTS, accompany
from changewright.band.bass import bass_line
from changewright.band.clocks import clocks_of
from changewright.band.comping import comping
from changewright.band.feel import feels
from changewright.band.song import fitting, song_of
from changewright.chart.model import form_of
from changewright.music.bar import Meter
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.key import Key
from changewright.theory.symbols import write_symbol
from tests.strategies import common_chords

METERS = (Meter(4, 4), Meter(3, 4), Meter(5, 4), Meter(6, 8), Meter(7, 8), Meter(2, 2))


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    """A few bars of any chords in any meter."""
    meter = draw(st.sampled_from(METERS))
    bars = draw(st.integers(1, 6))
    symbols = []
    for _ in range(bars):
        first = draw(st.integers(1, meter.beats))
        symbols.append((write_symbol(draw(common_chords)), first))
        if first < meter.beats:
            symbols.append((write_symbol(draw(common_chords)), meter.beats - first))
    return analyse(form_of(symbols, Key.parse("C"), meter))


feel_names = st.sampled_from(sorted(feels()))
seeds = st.integers(0, 2**32)
levels = st.integers(1, 8)


@settings(max_examples=40, deadline=None)
@given(readings(), feel_names, levels, seeds, st.integers(1, 2))
def test_any_changes_are_accompanied(
    reading: Reading, name: str, level: int, seed: int, choruses: int
) -> None:
    bpm = sum(feels()[name].tempo) / 2
    play = {"bpm": bpm, "feel": name, "level": level, "seed": seed, "choruses": choruses}
    played = accompany(reading, **play)  # type: ignore[arg-type]
    assert played == accompany(reading, **play)  # type: ignore[arg-type]
    assert tuple(p.name for p in played.parts) == PARTS
    for part in played.parts:
        assert list(part.events) == sorted(part.events)
        for event in part.events:
            assert 0 <= event.onset_s <= played.length_s + 0.02
            assert event.duration_s > 0
            assert 1 <= event.velocity <= 127


@settings(max_examples=40, deadline=None)
@given(readings(), feel_names, levels, seeds)
def test_the_bass_never_shocks(reading: Reading, name: str, level: int, seed: int) -> None:
    """Every new chord gets a note of its own where it begins or just before, and the other third
    never sounds."""
    song = song_of([reading])
    line = bass_line(song, feels()[name], level, seed)
    for stretch in song.stretches:
        own = [h for h in line if stretch.onset - 1 <= h.onset <= stretch.onset]
        assert own
        assert max(own).midi % 12 in stretch.chord.pcs
    for hit in line:
        assert 28 <= hit.midi <= 50
        chord = song.at(hit.onset).chord
        ahead = song.at(hit.onset + Fraction(3, 4)).chord
        if ahead == chord and chord.root is not None and chord.third is not None:
            other = {3: 4, 4: 3}.get(chord.third.pc)
            assert (hit.midi - chord.root.pc) % 12 != other


@settings(max_examples=40, deadline=None)
@given(readings(), feel_names, levels, seeds)
def test_one_note_at_a_time_and_chords_within_reach(
    reading: Reading, name: str, level: int, seed: int
) -> None:
    song = song_of([reading])
    line = bass_line(song, feels()[name], level, seed)
    onsets = [h.onset for h in line]
    assert len(onsets) == len(set(onsets))
    hands: dict[Fraction, list[int]] = {}
    for hit in comping(song, feels()[name], 120, level, seed):
        hands.setdefault(hit.onset, []).append(hit.midi)
    for hand in hands.values():
        assert len(hand) == len(set(hand)) <= 4
        assert min(hand) >= 48
        assert max(hand) <= 76
        assert max(hand) - min(hand) <= 16


@given(st.sets(st.integers(1, 6)), st.integers(0, 16))
def test_groups_fill_a_bar_exactly(known: set[int], beats: int) -> None:
    groups = fitting(known, beats)
    assert sum(taken for _, taken in groups) == (beats if known else 0)
    assert all(length in known and 0 < taken <= length for length, taken in groups)


@given(st.floats(30, 380), st.floats(0, 1.5), feel_names)
def test_clocks_of_one_tempo_agree_on_every_beat(bpm: float, swing: float, name: str) -> None:
    clocks = clocks_of(name, bpm, swing=swing)
    assert 1 <= clocks.line.swing_ratio <= clocks.band.swing_ratio <= 4
    for quarter in (-4, 0, 7):
        at = Fraction(quarter)
        assert clocks.band.to_seconds(at) == clocks.line.to_seconds(at)
