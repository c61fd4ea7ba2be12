"""Laws of the values that all rooms share: bars, lines, clocks."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from changewright.music.clock import Clock
from changewright.music.line import SILENCE, Line, Note
from tests.strategies import intervals, pitches

durations = st.sampled_from(
    [Fraction(1, 2), Fraction(1), Fraction(3, 2), Fraction(2), Fraction(1, 3)]
)


@st.composite
def lines(draw: st.DrawFn) -> Line:
    at, notes = Fraction(0), []
    for _ in range(draw(st.integers(0, 8))):
        at += draw(st.sampled_from([Fraction(0), Fraction(1, 2), Fraction(1)]))
        note = Note(at, draw(durations), draw(pitches))
        notes.append(note)
        at = note.end
    return Line(tuple(notes), at + draw(st.sampled_from([Fraction(0), Fraction(1)])))


@given(lines())
def test_silence_is_the_unit(line: Line) -> None:
    assert SILENCE.then(line) == line == line.then(SILENCE)


@given(lines(), lines(), lines())
def test_then_is_associative(a: Line, b: Line, c: Line) -> None:
    assert a.then(b).then(c) == a.then(b.then(c))


@given(lines(), lines())
def test_lengths_and_notes_add(a: Line, b: Line) -> None:
    both = a.then(b)
    assert both.length == a.length + b.length
    assert len(both.notes) == len(a.notes) + len(b.notes)
    assert sum(n.duration for n in both.notes) == sum(n.duration for n in (*a.notes, *b.notes))


@given(lines(), lines())
def test_cutting_undoes_then(a: Line, b: Line) -> None:
    both = a.then(b)
    assert both.cut(Fraction(0), a.length) == a
    assert both.cut(a.length, both.length) == b


@given(lines(), intervals, intervals)
def test_transposing_is_an_action(line: Line, one, other) -> None:  # type: ignore[no-untyped-def]
    assert line.transpose(one).transpose(other) == line.transpose(one + other)
    assert line.transpose(one).transpose(-one) == line


clocks = st.builds(
    Clock,
    st.integers(40, 300).map(float),
    st.floats(1, 3.5),
    st.sampled_from([Fraction(0), Fraction(4), Fraction(8)]),
)
binary = st.builds(Fraction, st.integers(-32, 512), st.sampled_from([1, 2, 4, 8]))


@given(clocks, binary)
def test_a_clock_inverts_on_binary_places(clock: Clock, onset: Fraction) -> None:
    assert abs(clock.to_quarters(clock.to_seconds(onset)) - float(onset)) < 1e-9 * 600


@given(clocks, binary, binary)
def test_a_clock_keeps_order_on_binary_places(clock: Clock, a: Fraction, b: Fraction) -> None:
    if a < b:
        assert clock.to_seconds(a) < clock.to_seconds(b)


@given(clocks, st.integers(-8, 400))
def test_beats_never_swing(clock: Clock, beat: int) -> None:
    expected = (float(clock.lead_in) + beat) * 60 / clock.bpm
    assert abs(clock.to_seconds(Fraction(beat)) - expected) < 1e-9


def test_two_to_one_at_120_puts_the_offbeat_at_a_third_of_a_second() -> None:
    # Source: arithmetic from the definition (domain reference K138): 333.3 ms; straight 250 ms.
    assert abs(Clock(120, 2).to_seconds(Fraction(1, 2)) - 1 / 3) < 1e-12
    assert Clock(120, 1).to_seconds(Fraction(1, 2)) == 0.25


def test_at_200_a_two_to_one_short_note_lasts_100_ms() -> None:
    # Source: arithmetic from the definition (domain reference K139).
    clock = Clock(200, 2)
    assert abs(clock.to_seconds(Fraction(1)) - clock.to_seconds(Fraction(1, 2)) - 0.1) < 1e-12


def test_triplets_stay_where_they_are() -> None:
    assert abs(Clock(60, 2).to_seconds(Fraction(1, 3)) - 1 / 3) < 1e-12


def test_twelve_bars_of_four_at_120_last_24_seconds() -> None:
    # Source: arithmetic from the definition (domain reference K135, K136).
    assert Clock(120).to_seconds(Fraction(48)) == 24
    assert Clock(160).to_seconds(Fraction(128)) == 48
