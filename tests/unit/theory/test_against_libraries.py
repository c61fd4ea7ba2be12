"""Chord tones and scales beside two independent general-purpose libraries, music21 and mingus.

Where a library is known to be wrong it is named in ``MUSIC21_WRONG``; nothing else is left out.
"""

from collections.abc import Iterable

import mingus.core.chords as mingus_chords
import mingus.core.intervals as mingus_intervals
import mingus.core.scales as mingus_scales
import pytest
from music21 import harmony, pitch, scale

from changewright.theory.chord import Chord
from changewright.theory.kinds import harmonies_of
from changewright.theory.pitch import Degree, Name, Pitch
from changewright.theory.quality import Quality, qualities
from changewright.theory.scale import ScaleKind, scale_kind, scale_kinds

ROOTS = [Name(f) for f in range(-8, 13)]  # Fb to B#: every letter plain, flat and sharp
MINORS = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")
MAJORS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")

# Our quality ids under mingus's shorthands.
MINGUS = {
    "maj": "M", "min": "m", "aug": "aug", "dim": "dim", "5": "5", "sus4": "sus4", "sus2": "sus2",
    "6": "6", "69": "6/9", "maj7": "M7", "maj9": "M9", "maj13": "M13", "maj7#5": "M7+", "7": "7",
    "9": "9", "13": "13", "7sus4": "sus47", "7b9": "7b9", "7#9": "7#9", "7#11": "7#11",
    "7b5": "7b5", "7#5": "7#5", "m6": "m6", "m7": "m7", "m9": "m9", "mmaj7": "mM7",
    "m7b5": "m7b5", "dim7": "dim7",
}  # fmt: skip

# MusicXML's kinds under music21's names (it keeps those of MusicXML 1.0's predecessors).
MUSIC21_KINDS = {
    "dominant": "dominant-seventh",
    "half-diminished": "half-diminished-seventh",
    "major-minor": "minor-major-seventh",
}
# music21 10.5 counts an added 7 from the kind, not from a dominant chord, when the kind is
# suspended: it hears B natural in C7sus4. It has a kind of its own for that chord.
MUSIC21_WRONG = {"7sus4", "9sus4", "13sus4", "7sus4b9"}
# music21 misspells the added major seventh of a diminished chord on nine roots (E flat over E).
MUSIC21_MISSPELT = {"dimmaj7"}


def names(tones: Iterable[object]) -> set[str]:
    return {str(t) for t in tones}


def in_music21(name: Name) -> str:
    return str(name).replace("b", "-")


def by_music21(chord: Chord) -> list[pitch.Pitch]:
    said = harmonies_of(chord)[0]
    kind = MUSIC21_KINDS.get(said.kind, said.kind)
    symbol = harmony.ChordSymbol(root=in_music21(chord.root), kind=kind)
    for d in said.degrees:
        step = harmony.ChordStepModification(d.edit, d.value, d.alter)
        symbol.addChordStepModification(step)
    return list(symbol.pitches)


@pytest.mark.parametrize("quality", qualities().values(), ids=lambda q: q.id)
def test_chord_tones_as_music21_hears_our_musicxml(quality: Quality) -> None:
    if quality.id in MUSIC21_WRONG:
        pytest.skip("music21 counts the added 7 of a sus chord from a major seventh")
    for root in ROOTS:
        chord = quality.on(root)
        heard = by_music21(chord)
        assert {p.pitchClass for p in heard} == chord.pcs, f"{root} {quality.id}"
        if quality.id not in MUSIC21_MISSPELT:
            assert {p.name.replace("-", "b") for p in heard} == names(chord.tones)


def test_music21_is_still_wrong_where_we_say_so() -> None:
    for name in MUSIC21_WRONG:
        chord = qualities()[name].on(Name(0))
        assert {p.pitchClass for p in by_music21(chord)} != chord.pcs
    own_kind = harmony.ChordSymbol(root="C", kind="suspended-fourth-seventh")
    assert {p.pitchClass for p in own_kind.pitches} == qualities()["7sus4"].on(Name(0)).pcs


@pytest.mark.parametrize("quality", MINGUS)
def test_chord_tones_as_mingus_builds_them(quality: str) -> None:
    for root in ROOTS:
        theirs = mingus_chords.from_shorthand(f"{root}{MINGUS[quality]}")
        assert set(theirs) == names(qualities()[quality].on(root).tones)


@pytest.mark.parametrize("quality", qualities().values(), ids=lambda q: q.id)
def test_chord_tones_by_mingus_interval_arithmetic(quality: Quality) -> None:
    for root in ROOTS:
        assert [mingus_tone(root, d) for d in quality.degrees] == [
            str(t) for t in quality.on(root).tones
        ]


def mingus_tone(root: Name, degree: Degree) -> str:
    simple = Degree((degree.number - 1) % 7 + 1, degree.alter)
    found = mingus_intervals.from_shorthand(str(root), str(simple))
    assert isinstance(found, str)
    return found


# -- scales --------------------------------------------------------------------------------------

PARENTS = {
    "major": ("ionian dorian phrygian lydian mixolydian aeolian locrian"),
    "melodic minor": ("melodic_minor dorian_b2 lydian_aug lydian_dom mixo_b13 locrian_n2 altered"),
    "harmonic minor": (
        "harmonic_minor locrian_n6 ionian_aug dorian_s4 mixo_b9b13 lydian_s2 harm_min_dim"
    ),
    "harmonic major": (
        "harmonic_major dorian_b5 phrygian_b4 lydian_b3 mixo_b9 lydian_aug_s2 locrian_bb7"
    ),
}
MODES = [
    (parent, number, mode)
    for parent, modes in PARENTS.items()
    for number, mode in enumerate(modes.split())
]


def mingus_parent(parent: str, tonic: str) -> list[str]:
    makers = {
        "major": mingus_scales.Major,
        "melodic minor": mingus_scales.MelodicMinor,
        "harmonic minor": mingus_scales.HarmonicMinor,
        "harmonic major": mingus_scales.HarmonicMajor,
    }
    return list(makers[parent](tonic).ascending()[:-1])


def music21_parent(parent: str, tonic: str) -> list[pitch.Pitch]:
    """music21 has no harmonic major: its major scale with the sixth lowered stands for it."""
    makers = {
        "major": scale.MajorScale,
        "melodic minor": scale.MelodicMinorScale,
        "harmonic minor": scale.HarmonicMinorScale,
        "harmonic major": scale.MajorScale,
    }
    found = makers[parent](tonic).getPitches(
        f"{tonic}4", f"{tonic}5", direction=scale.Direction.ASCENDING
    )[:7]
    if parent == "harmonic major":
        found[5] = found[5].transpose("-A1")
    return list(found)


# Spelled for playing, not by the parent: b4 of the altered scale is written as its third.
SPELLED_FOR_PLAYING = {"altered"}


@pytest.mark.parametrize(("parent", "number", "mode"), MODES, ids=lambda x: str(x))
def test_every_mode_is_its_parent_from_another_note(parent: str, number: int, mode: str) -> None:
    kind = scale_kind(mode)
    for tonic in MINORS if parent.endswith("minor") else MAJORS:
        by_mingus = mingus_parent(parent, tonic)
        by_music21 = music21_parent(parent, tonic.replace("b", "-"))
        ours = kind.on(Name.parse(by_mingus[number]))
        assert ours.pcs == {Name.parse(n).pc for n in by_mingus}
        assert ours.pcs == {p.pitchClass for p in by_music21}
        if mode not in SPELLED_FOR_PLAYING:
            assert names(ours.tones) == set(by_mingus)
            assert names(ours.tones) == {p.name.replace("-", "b") for p in by_music21}


@pytest.mark.parametrize("kind", scale_kinds().values(), ids=lambda k: k.id)
def test_scale_tones_by_the_libraries_interval_arithmetic(kind: ScaleKind) -> None:
    for root in ROOTS:
        ours = [str(t) for t in kind.on(root).tones]
        assert ours == [mingus_tone(root, d) for d in kind.degrees]
    for root in ROOTS:
        low = pitch.Pitch(in_music21(root) + "3")
        theirs = [low.transpose(str(d.interval)).nameWithOctave for d in kind.degrees]
        ours_high = [root.at(3) + d.interval for d in kind.degrees]
        assert theirs == [str(p).replace("b", "-") for p in ours_high]


def test_symmetric_scales_as_the_libraries_have_them() -> None:
    for tonic in MAJORS:
        root = Name.parse(tonic)
        whole = {Name.parse(n).pc for n in mingus_scales.WholeTone(tonic).ascending()}
        assert scale_kind("whole_tone").on(root).pcs == whole
        octatonic = {Name.parse(n).pc for n in mingus_scales.Octatonic(tonic).ascending()}
        assert scale_kind("whole_half").on(root).pcs == octatonic
        start = pitch.Pitch(tonic.replace("b", "-") + "4")
        whole_tone = scale.WholeToneScale(start).getPitches()
        assert scale_kind("whole_tone").on(root).pcs == {p.pitchClass for p in whole_tone}
        octatonic_2 = scale.OctatonicScale(start, "M2").getPitches()
        assert scale_kind("whole_half").on(root).pcs == {p.pitchClass for p in octatonic_2}
        octatonic_1 = scale.OctatonicScale(start, "m2").getPitches()
        assert scale_kind("half_whole").on(root).pcs == {p.pitchClass for p in octatonic_1}
        chromatic = scale.ChromaticScale(start).getPitches()
        assert scale_kind("chromatic").on(root).pcs == {p.pitchClass for p in chromatic}


# -- pitches -------------------------------------------------------------------------------------


@pytest.mark.parametrize("root", ROOTS, ids=str)
def test_midi_numbers_and_octaves_as_in_music21(root: Name) -> None:
    for octave in range(9):
        ours = root.at(octave)
        theirs = pitch.Pitch(in_music21(root) + str(octave))
        assert (ours.midi, ours.octave) == (theirs.midi, theirs.octave)
        assert Pitch.parse(str(ours)) == ours
