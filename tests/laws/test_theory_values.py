"""Laws of pitches, intervals, keys, scales and parts."""

from hypothesis import given
from hypothesis import strategies as st

from changewright.theory.instrument import Instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Interval, Name, Pitch
from changewright.theory.scale import Scale
from changewright.theory.transposition import octave_for, transpose_key_for, written_shift
from tests.strategies import all_chords, all_instruments, intervals, keys, names, pitches, scales

UNISON = Interval(0, 0)
degrees = st.builds(Degree, st.integers(1, 13), st.integers(-2, 2))
movable = st.one_of(all_chords, scales)


@given(pitches, intervals, intervals)
def test_transposing_pitches_is_a_group_action(p: Pitch, a: Interval, b: Interval) -> None:
    assert p + UNISON == p
    assert (p + a) + b == p + (a + b)
    assert (p + a) - a == p
    assert p.to(p + a) == a
    assert a + -a == UNISON


@given(movable, intervals, intervals)
def test_transposing_chords_and_scales_is_a_group_action(x, a: Interval, b: Interval) -> None:
    assert x.transpose(UNISON) == x
    assert x.transpose(a).transpose(b) == x.transpose(a + b)
    assert x.transpose(a).transpose(-a) == x


@given(movable, intervals)
def test_transposing_moves_every_pitch_class(x, a: Interval) -> None:
    assert x.transpose(a).pcs == {(pc + a.semitones) % 12 for pc in x.pcs}


@given(pitches, intervals)
def test_spelled_arithmetic_agrees_with_midi(p: Pitch, a: Interval) -> None:
    assert (p + a).midi == p.midi + a.semitones
    assert (p + a).step == p.step + a.steps
    assert (p.name + a) == (p + a).name
    assert (p.name - a) == (p - a).name
    assert (p + a).to(p) == UNISON - a
    assert p.name.pc == p.midi % 12
    assert p.name.at(p.octave) == p


@given(names, degrees)
def test_degrees_agree_with_midi(root: Name, degree: Degree) -> None:
    low = root.at(3)
    assert (low + degree.interval).midi - low.midi == degree.interval.semitones
    assert (
        degree.pc == (root + degree.interval).pc - root.pc
        or degree.pc == ((root + degree.interval).pc - root.pc) % 12
    )


@given(pitches, intervals, names, degrees, keys, scales)
def test_reading_what_was_written_gives_it_back(
    pitch: Pitch, interval: Interval, name: Name, degree: Degree, key: Key, scale: Scale
) -> None:
    assert Pitch.parse(str(pitch)) == pitch
    assert Interval.parse(str(interval)) == interval
    assert Name.parse(str(name)) == name
    assert Degree.parse(str(degree)) == degree
    assert Key.parse(str(key)) == key
    assert Scale.parse(str(scale)) == scale


@given(scales)
def test_scale_tones_ascend_within_an_octave(scale: Scale) -> None:
    sizes = [d.interval.semitones for d in scale.kind.degrees]
    assert sizes == sorted(set(sizes))
    assert sizes[0] == 0
    assert sizes[-1] < 12
    assert len(scale.pcs) == len(scale.tones)


@given(all_instruments, keys)
def test_a_player_reads_at_most_six_accidentals_and_hears_the_same(
    player: Instrument, key: Key
) -> None:
    written, shift = transpose_key_for(player, key), written_shift(player, key)
    assert abs(written.signature) <= 6
    assert shift.semitones == player.written_up.semitones
    assert key.tonic + shift == written.tonic


@given(all_instruments, st.lists(pitches, min_size=1, max_size=12), st.integers(-2, 2))
def test_the_octave_chosen_leaves_the_fewest_notes_outside(
    player: Instrument, line: list[Pitch], other: int
) -> None:
    wide = player.concert_range("intermediate")

    def outside(octaves: int) -> int:
        return sum(p + Interval(0, octaves) not in wide for p in line)

    chosen = octave_for(line, player, "intermediate")
    assert outside(chosen) <= outside(other)


@given(all_instruments, st.lists(pitches, min_size=1, max_size=12), st.integers(-1, 1))
def test_where_a_part_lies_does_not_depend_on_the_octave_it_was_thought_in(
    player: Instrument, line: list[Pitch], octaves: int
) -> None:
    moved = [p + Interval(0, octaves) for p in line]
    first = octave_for(line, player, "beginner")
    second = octave_for(moved, player, "beginner")
    wide = player.concert_range("beginner")
    lands = [[(p + Interval(0, n)).midi for p in ps] for ps, n in ((line, first), (moved, second))]
    counts = [sum(not wide.low.midi <= m <= wide.high.midi for m in land) for land in lands]
    assert counts[0] == counts[1]
