"""Laws of notation: writing a line out changes how it looks, never what it is."""

from fractions import Fraction

import music21
from hypothesis import given, settings
from hypothesis import strategies as st

from changewright.music.accidentals import Spelled, accidentals, signature_alters
from changewright.music.bar import Meter
from changewright.music.notation import notate
from changewright.music.rhythm import grid_of, values
from changewright.theory.instrument import instruments
from tests.strategies import keys
from tests.unit.page.sheets import random_rhythms, sheet_of

meters = st.sampled_from([Meter(4, 4), Meter(3, 4), Meter(5, 4), Meter(6, 8), Meter(12, 8)])
lengths = st.sampled_from(
    [Fraction(n, 12) for n in (3, 4, 6, 8, 9, 12, 18, 24)]  # a sixteenth to a half, and thirds
)


@st.composite
def bars(draw):
    """A meter and stretches that tile one bar of it: start, end, is it a rest."""
    meter = draw(meters)
    edges, at = [], Fraction(0)
    while at < meter.length:
        end = min(at + draw(lengths), meter.length)
        edges.append((at, end, draw(st.booleans())))
        at = end
    return meter, edges


@given(bars())
def test_values_tile_their_stretch(drawn):
    meter, edges = drawn
    for (start, end, _), pieces in zip(
        edges, values(edges, grid_of(meter, meter.length)), strict=True
    ):
        at = start
        for onset, duration, value in pieces:
            assert onset == at
            at += duration
            if not value.whole_bar and duration.denominator in (1, 2, 4, 8):
                factor = 1 if value.triplet is None else Fraction(2, 3)
                assert value.written * factor == duration
        assert at == end


@given(bars())
def test_every_triplet_is_whole(drawn):
    meter, edges = drawn
    if meter.unit == 8:
        return
    inside: dict[int, Fraction] = {}
    for pieces in values(edges, grid_of(meter, meter.length)):
        for _, duration, value in pieces:
            if value.triplet is not None:
                inside[value.triplet] = inside.get(value.triplet, Fraction(0)) + duration
    assert set(inside.values()) <= {Fraction(1), Fraction(2)}


sheets = st.builds(
    lambda player, key, seed: sheet_of(
        instrument_id=player, key=key, rhythm=random_rhythms(seed), seed=seed
    ),
    st.sampled_from(sorted(instruments())),
    st.sampled_from(["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"]),
    st.integers(1, 10_000),
)


@given(sheets)
@settings(max_examples=60)
def test_written_minus_the_transposition_is_the_line(sheet):
    notation = notate(sheet)
    assert abs(notation.key.signature) <= 6
    found = []
    for bar in notation.bars:
        for mark in bar.marks:
            if mark.pitch is None:
                continue
            assert abs(mark.pitch.name.alter) < 2
            onset, pitch = bar.bar.start + mark.onset, (mark.pitch - notation.up).midi
            if mark.tied_from:
                start, length, before = found.pop()
                assert before == pitch
                found.append((start, length + mark.duration, pitch))
            else:
                found.append((onset, mark.duration, pitch))
    assert found == [(n.onset, n.duration, n.pitch.midi) for n in sheet.line.notes]


pitches = st.tuples(st.sampled_from("CDEFGAB"), st.sampled_from(["", "b", "#"]), st.integers(4, 5))


@given(keys.filter(lambda k: abs(k.signature) <= 6), st.lists(pitches, min_size=1, max_size=12))
@settings(max_examples=80)
def test_a_reader_who_follows_the_signs_plays_the_right_notes(key, row):
    """The rules of reading, spelled out anew: signature, then accidentals until the bar line."""
    from changewright.theory.pitch import Pitch

    line = [Pitch.parse(f"{a}{b}{c}") for a, b, c in row]
    (signs,) = accidentals(key, [[Spelled(p) for p in line]])
    in_force: dict[int, int] = {}
    for pitch, sign in zip(line, signs, strict=True):
        letter = pitch.name.letter
        if sign is not None:
            in_force[pitch.step] = sign.alter
        assert in_force.get(pitch.step, signature_alters(key).get(letter, 0)) == pitch.name.alter


@given(
    keys.filter(lambda k: abs(k.signature) <= 6),
    st.lists(pitches.map(lambda p: (*p[:2], 4)), min_size=1, max_size=8),
)
@settings(max_examples=60, deadline=None)
def test_needed_accidentals_agree_with_a_general_library(key, row):
    # music21's makeAccidentals, courtesies switched off
    from changewright.theory.pitch import Pitch

    line = [Pitch.parse(f"{a}{b}{c}") for a, b, c in row]
    (signs,) = accidentals(key, [[Spelled(p) for p in line]])
    # one octave only: the library lets an accidental count in the others, engravers don't
    measure = music21.stream.Measure([music21.key.KeySignature(key.signature)])
    for pitch in line:
        measure.append(music21.note.Note(str(pitch).replace("b", "-"), quarterLength=0.25))
    measure.makeAccidentals(
        inPlace=True, cautionaryPitchClass=False, cautionaryNotImmediateRepeat=False
    )
    shown = [bool(n.pitch.accidental and n.pitch.accidental.displayStatus) for n in measure.notes]
    ours = [s is not None and not s.courtesy for s in signs]
    assert ours == shown
