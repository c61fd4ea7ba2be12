"""Walking-bass facts, checked on what is played."""

import itertools
import json
from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from changewright.band.bass import bass_line
from changewright.band.feel import feel, feels
from changewright.band.song import Song, song_of
from changewright.band.touch import Hit
from tests.unit.band.material import BLUES, MINOR, TWO_FIVES, reading, reading_in

SHARED = Path(__file__).parents[4] / "shared" / "data" / "bass_lines.json"
SEEDS = range(8)


def walked(
    symbols: tuple[tuple[str, int], ...] = BLUES, key: str = "F"
) -> list[tuple[Song, list[Hit]]]:
    """Lines in four, ghosts left out."""
    song = song_of([reading(symbols, key)])
    lines = (bass_line(song, feel("swing"), 5, seed) for seed in SEEDS)
    return [(song, [h for h in line if h.force > 0.3]) for line in lines]


@pytest.mark.parametrize("symbols", [BLUES, MINOR, TWO_FIVES])
def test_every_beat_has_its_note_and_the_range_is_the_instrument_s(
    symbols: tuple[tuple[str, int], ...],
) -> None:
    for song, line in walked(symbols):
        assert [h.onset for h in line[:-1]] == list(range(int(song.length)))
        assert all(28 <= h.midi <= 50 for h in line)  # E1 to D3, domain reference 7.4


@pytest.mark.parametrize("name", sorted(feels()))
@pytest.mark.parametrize("level", [1, 5])
@pytest.mark.parametrize("symbols", [BLUES, MINOR])
def test_nobody_stops_the_band(name: str, level: int, symbols: tuple[tuple[str, int], ...]) -> None:
    """The errors a listener notices at once (domain reference 7.4): a foreign note where a chord
    begins, b9 on beat 1, a major third under a minor chord."""
    song = song_of([reading(symbols)] * 2)
    for hit in bass_line(song, feel(name), level, seed=4):
        stretch = song.at(hit.onset)
        coming = song.at(hit.onset + Fraction(1, 2))
        chord = stretch.chord
        assert chord.root is not None
        above = (hit.midi - chord.root.pc) % 12
        if hit.onset == stretch.onset:
            assert above in {degree.pc for degree in chord.degrees}
        if chord.has(3, -1) and coming.chord == chord:
            assert above != 4
        if hit.onset % 4 == 0:
            assert above != 1


def test_a_change_gets_its_root_in_two_and_nearly_always_in_four() -> None:
    song = song_of([reading()])
    in_two = {h.onset: h.midi for h in bass_line(song, feel("swing"), 1, 0)}
    for stretch in song.stretches:
        assert stretch.chord.root is not None
        assert in_two[stretch.onset] % 12 == stretch.chord.root.pc
    found = Counter(
        (h.midi - s.chord.root.pc) % 12 == 0
        for played, line in walked()
        for h in line
        if (s := played.at(h.onset)).onset == h.onset and s.chord.root
    )
    assert found[True] / found.total() > 0.9


def test_arrivals_spread_as_measured() -> None:
    """Against 9,490 arrivals on a root in the Jazz Trio Database (automatic tracking, a lower
    bound for the semitone): semitone 41 %, whole tone 16 %, fourth or fifth 21 %."""
    steps: Counter[int] = Counter()
    for symbols, key in ((BLUES, "F"), (TWO_FIVES, "C"), (MINOR, "Cm")):
        for song, line in walked(symbols, key):
            onsets = {s.onset for s in song.stretches}
            steps.update(
                abs(b.midi - a.midi) for a, b in itertools.pairwise(line) if b.onset in onsets
            )
    share = {name: steps[name] / steps.total() for name in steps}
    assert 0.3 <= share[1] <= 0.6
    assert 0.1 <= share[2] <= 0.3
    assert 0.12 <= share[5] + share[7] <= 0.35
    assert share[1] > share[2]


@pytest.mark.skipif(not SHARED.exists(), reason="the open data lies beside the repository only")
def test_the_register_is_that_of_measured_lines() -> None:
    measured = json.loads(SHARED.read_text("utf-8"))["bass_range_midi"]
    pitches = sorted(h.midi for _, line in walked() for h in line)
    middle = pitches[len(pitches) // 2]
    assert abs(middle - measured["50"]) <= 4
    assert pitches[len(pitches) * 95 // 100] <= measured["95"] + 1


def test_lines_move_by_step_and_keep_a_direction() -> None:
    sizes: list[int] = []
    for _, line in walked():
        moves = [b.midi - a.midi for a, b in itertools.pairwise(line)]
        sizes += [abs(m) for m in moves]
        assert not any(a == b == 0 for a, b in itertools.pairwise(moves))
    assert sum(s <= 2 for s in sizes) / len(sizes) > 0.5
    assert sum(s == 0 for s in sizes) / len(sizes) < 0.05
    assert sum(s == 12 for s in sizes) / len(sizes) < 0.03


def test_passing_notes_go_on_by_step() -> None:
    for symbols, key in ((BLUES, "F"), (MINOR, "Cm")):
        for song, line in walked(symbols, key):
            for one, after in itertools.pairwise(line):
                chord = song.at(one.onset).chord
                tones = {chord.tone(d).pc for d in chord.four} | chord.pcs
                if one.midi % 12 not in tones:
                    assert 1 <= abs(after.midi - one.midi) <= 2


def test_every_seed_walks_its_own_way() -> None:
    lines = {tuple(h.midi for h in line) for _, line in walked()}
    assert len(lines) == len(SEEDS)


def test_a_slash_names_the_bass() -> None:
    song = song_of([reading((("C/G", 4), ("C7/E", 4), ("F6", 8)), "C")])
    onsets = {h.onset: h.midi for h in bass_line(song, feel("swing"), 5, 0)}
    assert onsets[Fraction(0)] % 12 == 7
    assert onsets[Fraction(4)] % 12 == 4


def test_no_chord_no_bass() -> None:
    song = song_of([reading((("F7", 4), ("N.C.", 4), ("F7", 8)))])
    for name in sorted(feels()):
        line = bass_line(song, feel(name), 5, 1)
        assert not [h for h in line if 4 <= h.onset < 8 - Fraction(1, 2)]


def test_five_quarters_are_walked_as_five() -> None:
    from changewright.music.bar import Meter

    song = song_of([reading_in(Meter(5, 4))])
    line = [h for h in bass_line(song, feel("swing"), 5, 0) if h.force > 0.3]
    assert [h.onset for h in line[:-1]] == list(range(20))


def test_a_wanted_tone_that_is_not_there_is_the_bass_note() -> None:
    song = song_of([reading((("Dbmaj7/C", 8), ("F", 4), ("G5", 4)), "C")])
    line = bass_line(song, feel("funk"), 5, 0)
    assert {h.midi % 12 for h in line if h.onset < 6} <= {0, 8, 5, 1}
    assert line


@pytest.mark.parametrize("name", sorted(feels()))
@pytest.mark.parametrize("level", [1, 5, 7])
def test_on_a_pedal_the_bass_stays(name: str, level: int) -> None:
    """Under chords that move over one bass note it plays that note and no other, in one octave
    (a pedal point; common practice, no source)."""
    chart = (("C6", 4), ("C/G", 4), ("Dm7/G", 4), ("F/G", 4), ("G7", 4), ("C6", 4))
    song = song_of([reading(chart, "C")])
    line = [h for h in bass_line(song, feel(name), level, 2) if h.force > 0.3]
    inside = [h.midi for h in line if 4 <= h.onset < 16 - Fraction(1, 2)]
    assert {midi % 12 for midi in inside} == {7}
    assert len(set(inside)) <= 2  # an octave leap, now and then
    assert len(inside) >= 3
    after = [h.midi % 12 for h in line if 20 <= h.onset < 24]
    assert 0 in after


def test_a_passing_note_is_reached_by_step() -> None:
    """Common practice: scale and chromatic notes connect; a leap into one sounds like a wrong
    chord."""
    sizes: list[int] = []
    for symbols, key in ((BLUES, "F"), (TWO_FIVES, "C"), (MINOR, "Cm")):
        for song, line in walked(symbols, key):
            sizes += [
                abs(b.midi - a.midi)
                for a, b in itertools.pairwise(line)
                if b.midi % 12 not in song.at(b.onset).chord.pcs
            ]
    assert len(sizes) > 50
    assert sum(size <= 2 for size in sizes) / len(sizes) > 0.75


def test_who_knows_the_form_hears_it_without_every_root() -> None:
    """From level 6 other strong tones stand for the root now and then, never where a section
    begins: measured first beats have the root less often than a school bass (Jazz Trio Database,
    automatic tracking, domain reference 7.4)."""
    song = song_of([reading(BLUES)] * 2)

    def rooted(level: int) -> tuple[float, bool]:
        found, tops = [], True
        for seed in range(10):
            heard = {h.onset: h.midi for h in bass_line(song, feel("shuffle"), level, seed)}
            for stretch in song.stretches:
                root = stretch.chord.root
                assert root is not None
                found.append(heard[stretch.onset] % 12 == root.pc)
                tops = tops and (found[-1] or not song.bar_at(stretch.onset).opens)
        return sum(found) / len(found), tops

    school, _ = rooted(4)
    free, tops_have_it = rooted(7)
    assert 0.75 < free < school - 0.03
    assert tops_have_it
