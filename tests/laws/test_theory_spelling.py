"""Laws of spelling: what sounds stays, and a bar never spells one pitch two ways."""

from hypothesis import given
from hypothesis import strategies as st

from changewright.theory.fitting import chords_for, clashes, scales_for
from changewright.theory.key import Key, shortest_spelling
from changewright.theory.pitch import Interval, Name, Pitch
from changewright.theory.quality import qualities
from changewright.theory.scale import Scale
from changewright.theory.spelling import Manner, Sounding, approach, spell_line, tidy
from tests.strategies import intervals, names, pitches, scales

WHITE_ACCIDENTALS = {"Cb", "Fb", "E#", "B#"}

table_chords = st.builds(
    lambda q, root: q.on(root), st.sampled_from([*qualities().values()]), names
)
manners = st.sampled_from(["strict", "usual", "easy"])
usual_keys = st.builds(Key, names, st.sampled_from(["major", "minor"])).map(shortest_spelling)
bars = st.lists(st.integers(0, 1), max_size=16).map(
    lambda xs: [sum(xs[: i + 1]) for i in range(len(xs))]
)


@st.composite
def lines(draw: st.DrawFn) -> list[Sounding]:
    return [
        Sounding(draw(st.integers(50, 84)), draw(st.none() | table_chords), bar)
        for bar in draw(bars)
    ]


@given(lines(), usual_keys, manners)
def test_spelling_a_line_keeps_what_sounds(line: list[Sounding], key: Key, manner: Manner) -> None:
    assert [p.midi for p in spell_line(line, key, manner)] == [s.midi for s in line]


@given(lines(), usual_keys, manners)
def test_no_bar_spells_a_pitch_two_ways(line: list[Sounding], key: Key, manner: Manner) -> None:
    names_of: dict[tuple[int, int], set[Name]] = {}
    for sounding, pitch in zip(line, spell_line(line, key, manner), strict=True):
        names_of.setdefault((sounding.bar, pitch.midi % 12), set()).add(pitch.name)
    assert all(len(found) == 1 for found in names_of.values())


@given(lines(), usual_keys)
def test_no_double_accidentals_unless_insisted_on(line: list[Sounding], key: Key) -> None:
    for manner in ("usual", "easy"):
        assert all(abs(p.name.alter) <= 1 for p in spell_line(line, key, manner))


@given(lines(), usual_keys)
def test_easy_spelling_never_has_white_accidentals(line: list[Sounding], key: Key) -> None:
    assert not WHITE_ACCIDENTALS & {str(p.name) for p in spell_line(line, key, "easy")}


@given(st.lists(st.tuples(pitches, st.booleans())), bars, usual_keys, manners)
def test_tidying_twice_is_tidying_once(
    notes: list[tuple[Pitch, bool]], where: list[int], key: Key, manner: Manner
) -> None:
    notes = notes[: len(where)]
    where = where[: len(notes)]
    firm = [mark for _, mark in notes]
    once = tidy([p for p, _ in notes], where, key, firm=firm, manner=manner)
    assert tidy(once, where, key, firm=firm, manner=manner) == once


@given(pitches, st.sampled_from([-2, -1, 1, 2]))
def test_an_approach_note_stands_on_the_next_letter(target: Pitch, semitones: int) -> None:
    note = approach(target, semitones)
    assert note.midi == target.midi + semitones
    assert note.step == target.step + (1 if semitones > 0 else -1)


@given(scales, table_chords)
def test_the_two_look_ups_agree(scale: Scale, chord) -> None:
    scale = Scale(chord.root, scale.kind)
    held = chord.pcs <= scale.pcs
    assert held == (scale in [fit.scale for fit in scales_for(chord)])
    assert held == (chord in [fit.chord for fit in chords_for(scale)])


@given(table_chords, scales, intervals)
def test_fitting_commutes_with_transposing(chord, scale: Scale, by: Interval) -> None:
    scale = Scale(chord.root, scale.kind)
    assert clashes(scale.transpose(by), chord.transpose(by)) == clashes(scale, chord)
    moved = [fit.scale for fit in scales_for(chord.transpose(by))]
    assert moved == [fit.scale.transpose(by) for fit in scales_for(chord)]
