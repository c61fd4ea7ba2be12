"""Voicing facts from the domain reference, K085-K096."""

import itertools

import pytest

from changewright.band.comping import comping
from changewright.band.feel import feel
from changewright.band.song import song_of
from changewright.band.voicing import shells, voicings
from changewright.theory.pitch import Name, Pitch
from changewright.theory.scale import scale_kind
from changewright.theory.symbols import read_symbol
from tests.unit.band.material import BLUES, TWO_FIVES, reading

DORIAN = scale_kind("dorian").on(Name.parse("D"))
MIXOLYDIAN = scale_kind("mixolydian").on(Name.parse("G"))
IONIAN = scale_kind("ionian").on(Name.parse("C"))


def notes(text: str) -> tuple[int, ...]:
    return tuple(Pitch.parse(one).midi for one in text.split())


@pytest.mark.parametrize(
    ("symbol", "scale", "expected"),
    [
        # K095: rootless ii-V-I in C: Dm9 F-A-C-E, G13 F-A-B-E, Cmaj9 E-G-B-D
        ("Dm7", DORIAN, "F3 A3 C4 E4"),
        ("G7", MIXOLYDIAN, "F3 A3 B3 E4"),
        ("Cmaj7", IONIAN, "E3 G3 B3 D4"),
        # K096: the other position: Dm9 C-E-F-A, G13 B-E-F-A, Cmaj9 B-D-E-G
        ("Dm7", DORIAN, "C4 E4 F4 A4"),
        ("G7", MIXOLYDIAN, "B3 E4 F4 A4"),
        ("Cmaj7", IONIAN, "B3 D4 E4 G4"),
    ],
)
def test_rootless_two_five_one_in_both_positions(symbol: str, scale, expected: str) -> None:
    assert notes(expected) in voicings(read_symbol(symbol), scale)


@pytest.mark.parametrize(
    ("symbol", "pcs"),
    [("Dm7", {"F", "C"}), ("G7", {"F", "B"}), ("Cmaj7", {"E", "B"}), ("Bb6", {"D", "G"})],
)
def test_shells_are_the_guide_tones(symbol: str, pcs: set[str]) -> None:
    # domain reference 7.5: shells of ii-V-I in C: F-C, F-B, E-B, low note C3 to E4
    found = shells(read_symbol(symbol))
    assert found
    for shell in found:
        assert {n % 12 for n in shell} == {Name.parse(p).pc for p in pcs}
        assert 48 <= shell[0] <= 64


def test_a_half_diminished_chord_keeps_its_flat_five_and_an_altered_one_its_colours() -> None:
    half = voicings(read_symbol("Dm7(b5)"), None)
    assert half
    assert all(Name.parse("Ab").pc in {n % 12 for n in v} for v in half)
    altered = voicings(read_symbol("G7alt"), scale_kind("altered").on(Name.parse("G")))
    # 3, b13, b7 and #9 (domain reference 7.5)
    assert {frozenset(n % 12 for n in v) for v in altered} == {frozenset({11, 3, 5, 10})}


@pytest.mark.parametrize(
    ("symbol", "scale", "pcs"),
    [
        # domain reference 7.5: 13 stands for 5 on dominants; altered where chord or scale is
        ("G7", "mixolydian", "B E F A"),
        ("G7", "mixo_b9b13", "B Eb F Ab"),
        ("G7(b9)", "mixo_b9b13", "B Eb F Ab"),
        ("G13(b9)", "half_whole", "B E F Ab"),
        ("G7(#5)", "whole_tone", "B D# F A"),
        ("G7(#9)", "half_whole", "B E F A#"),
    ],
)
def test_dominants_take_the_colours_of_their_scale(symbol: str, scale: str, pcs: str) -> None:
    found = voicings(read_symbol(symbol), scale_kind(scale).on(Name.parse("G")))
    expected = frozenset(Name.parse(p).pc for p in pcs.split())
    assert {frozenset(n % 12 for n in v) for v in found} == {expected}


def test_no_avoid_note_sounds_under_a_major_seventh() -> None:
    for voicing in voicings(read_symbol("Cmaj7"), IONIAN):
        assert 5 not in {n % 12 for n in voicing}  # F, a semitone above the third


def test_hands_stay_in_register_and_move_little() -> None:
    song = song_of([reading(BLUES)] * 2)
    hits = comping(song, feel("swing"), 140, 5, seed=2)
    by_onset: dict[object, list[int]] = {}
    for hit in hits:
        by_onset.setdefault(hit.onset, []).append(hit.midi)
    hands = [sorted(notes) for _, notes in sorted(by_onset.items())]
    assert all(len(hand) == 4 and hand[0] >= 50 and hand[-1] <= 76 for hand in hands)
    tops = [b[-1] - a[-1] for a, b in itertools.pairwise(hands)]
    assert sum(abs(step) <= 2 for step in tops) / len(tops) >= 0.8
    whole = [
        min(abs(y - x) for x, y in zip(a, b, strict=True))
        for a, b in itertools.pairwise(hands)
        if all(y > x for x, y in zip(a, b, strict=True))
        or all(y < x for x, y in zip(a, b, strict=True))
    ]
    assert all(step <= 4 for step in whole)


def test_guide_tones_resolve_in_the_band_s_two_five_one() -> None:
    # K085-K088: C falls to B, F stays into G7; F falls to E, B stays into Cmaj7
    song = song_of([reading(TWO_FIVES, "C")])
    hands: dict[object, set[int]] = {}
    for hit in comping(song, feel("swing"), 120, 1, seed=1):
        hands.setdefault(hit.onset, set()).add(hit.midi)
    heard = [hand for _, hand in sorted(hands.items())]  # type: ignore[type-var]
    for before, after in itertools.pairwise(heard):
        low, high = sorted(after)[0] - sorted(before)[0], sorted(after)[1] - sorted(before)[1]
        assert abs(low) <= 2
        assert abs(high) <= 2
    assert {frozenset(n % 12 for n in hand) for hand in heard} <= {
        frozenset({5, 0}),
        frozenset({5, 11}),
        frozenset({4, 11}),
    }


def test_beginners_hear_two_notes_others_four() -> None:
    song = song_of([reading(BLUES)])
    for level, voices in ((1, 2), (5, 4)):
        hits = comping(song, feel("swing"), 140, level, seed=0)
        onsets = {h.onset for h in hits}
        assert len(hits) == voices * len(onsets)


def test_comping_leaves_room_and_less_at_up_tempo() -> None:
    # domain reference 7.5: at least half the beats empty; one or two hits a bar at up tempo
    song = song_of([reading(BLUES)] * 4)
    for bpm, most in ((140, 2.2), (240, 1.6)):
        hits = comping(song, feel("swing"), bpm, 5, seed=3)
        assert len({h.onset for h in hits}) / len(song.bars) <= most


def test_an_anticipation_already_plays_the_next_chord() -> None:
    song = song_of([reading((("C7", 4), ("F#maj7", 4)) * 8, "C")])
    hits = comping(song, feel("swing"), 140, 5, seed=5)
    early = [h for h in hits if h.onset % 4 == 3.5]
    assert early
    for hit in early:
        coming = song.at(hit.onset + 1)
        pool = {n % 12 for v in voicings(coming.chord, coming.scale) for n in v}
        assert hit.midi % 12 in pool


@pytest.mark.parametrize(("name", "level"), [("swing", 1), ("bossa", 2), ("ballad", 5)])
def test_beginners_and_held_chords_pass_no_change_over(name: str, level: int) -> None:
    song = song_of([reading(BLUES)])
    onsets = {h.onset for h in comping(song, feel(name), 100, level, seed=4)}
    for stretch in song.stretches:
        assert any(stretch.onset - 1 < at < stretch.end for at in onsets)
        if level == 1:
            assert any(stretch.onset <= at < stretch.end for at in onsets)
