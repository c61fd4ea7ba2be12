"""What a bandleader would stop the band for, in every feel and meter."""

from collections import Counter, defaultdict
from fractions import Fraction
from itertools import groupby, pairwise
from statistics import mean, median

import pytest

from changewright.band.accompany import fitting_meter
from changewright.band.bass import GHOST, bass_line
from changewright.band.comping import comping
from changewright.band.drums import drumming
from changewright.band.feel import PIECES, Feel, feel, feels
from changewright.band.song import Song, song_of
from changewright.band.touch import Hit
from changewright.chart.model import form_of
from changewright.music.bar import FOUR_FOUR, Meter
from changewright.reading.analyse import analyse
from changewright.theory.key import Key

SYMBOLS = (
    *("Cmaj7", "A7", "Dm7", "G7", "Em7", "A7", "Dm7", "G7"),
    *("Gm7", "C7", "Fmaj7", "F6", "F#m7(b5)", "B7", "Em7", "A7"),
)
METERS = (FOUR_FOUR, Meter(3, 4), Meter(5, 4), Meter(6, 8), Meter(12, 8))
SEEDS = range(4)
EVERY_FEEL = pytest.mark.parametrize("name", sorted(feels()))
EVERY_METER = pytest.mark.parametrize("meter", METERS, ids=str)


def played(name: str, meter: Meter = FOUR_FOUR, choruses: int = 3) -> tuple[Song, Feel, float]:
    """Sixteen bars, as often as asked, with the feel as it is played in the meter."""
    form = form_of([(s, meter.beats) for s in SYMBOLS], Key.parse("C"), meter)
    low, high = feels()[name].tempo
    return song_of([analyse(form)] * choruses), fitting_meter(feel(name), meter), (low + high) / 2


def stabs(hits: tuple[Hit, ...]) -> dict[Fraction, list[int]]:
    found: dict[Fraction, list[int]] = defaultdict(list)
    for hit in hits:
        found[hit.onset].append(hit.midi)
    return {at: sorted(notes) for at, notes in sorted(found.items())}


@pytest.mark.parametrize("name", ["swing", "shuffle", "jazz-waltz"])
@pytest.mark.parametrize("meter", METERS[:3], ids=str)
def test_a_walking_line_leads_somewhere(name: str, meter: Meter) -> None:
    """Domain reference 7.4: a note sounds twice at most; a direction is kept for a bar or two; the
    note before a change is a semitone, a step, or a fourth or fifth away."""
    song, chosen, _ = played(name, meter)
    runs, turns, arrivals = [], [], Counter[bool]()
    for seed in SEEDS:
        line = [h for h in bass_line(song, chosen, 5, seed) if h.force > GHOST]
        walked = [h for h in line if song.bar_at(h.onset).chorus > 0]
        moves = [b.midi - a.midi for a, b in pairwise(walked)]
        assert not any(a == b == 0 for a, b in pairwise(moves))
        steps = [m for m in moves if m]
        runs += [len(list(g)) for _, g in groupby(steps, key=lambda m: m > 0)]
        turns.append(mean(m > 0 for m in steps))
        changes = {s.onset for s in song.stretches}
        for a, b in pairwise(walked):
            if b.onset in changes:
                arrivals[abs(b.midi - a.midi) in (1, 2, 5, 7)] += 1
    assert max(runs) <= 3 * meter.beats
    assert 1.8 < mean(runs) < 4.5
    assert 0.4 < mean(turns) < 0.6  # it neither climbs nor falls for ever
    assert arrivals[True] / arrivals.total() > 0.8


@EVERY_FEEL
@EVERY_METER
def test_chords_lie_between_the_bass_and_the_line(name: str, meter: Meter) -> None:
    """Domain reference 7.5: lowest note from D3 on, below is mud; the top under E5, above is thin;
    never under the bass that sounds with it."""
    song, chosen, bpm = played(name, meter)
    for level in (1, 5):
        bass = {h.onset: h for h in bass_line(song, chosen, level, 1)}
        starts = sorted(bass)
        for at, notes in stabs(comping(song, chosen, bpm, level, 1)).items():
            assert (48 if level == 1 else 50) <= notes[0] <= notes[-1] <= 76
            below = [bass[s] for s in starts if s <= at < s + bass[s].duration]
            assert all(hit.midi < notes[0] or hit.midi == notes[0] == 50 for hit in below)


@EVERY_FEEL
@EVERY_METER
def test_voices_are_led(name: str, meter: Meter) -> None:
    """Domain reference 7.5: the nearest inversion, the top by step, no jump of the whole hand by
    more than a third but where a section begins."""
    song, chosen, bpm = played(name, meter)
    tops, sums, jumps = [], [], 0
    for seed in SEEDS:
        hands = stabs(comping(song, chosen, bpm, 5, seed))
        for (_, one), (at, after) in pairwise(hands.items()):
            if len(one) != len(after):
                continue
            moves = [b - a for a, b in zip(one, after, strict=True)]
            tops.append(abs(moves[-1]))
            sums.append(sum(map(abs, moves)))
            opens = song.bar_at(at).opens or song.bar_at(at + Fraction(1, 2)).opens
            jumps += (min(moves) > 4 or max(moves) < -4) and not opens
    assert median(tops) <= 2
    assert mean(tops) < 1.6
    assert mean(sums) < 6
    assert jumps <= 1


@pytest.mark.parametrize(
    ("name", "meter"),
    [*(("swing", meter) for meter in METERS[:3]), ("jazz-waltz", METERS[1])],
    ids=str,
)
def test_comping_leaves_room(name: str, meter: Meter) -> None:
    """Domain reference 7.5: two-bar cells, at least half the beats empty, never on every beat; and
    a rhythm doesn't come back in every bar."""
    song, chosen, _ = played(name, meter)
    busy, rhythms, silent = [], Counter[tuple[Fraction, ...]](), 0
    for seed in SEEDS:
        hands = stabs(comping(song, chosen, 150, 5, seed))
        for bar in song.bars:
            places = tuple(at - bar.start for at in hands if bar.start <= at < bar.end)
            busy.append(len(places))
            rhythms[places] += 1
            silent += not places
            assert not {Fraction(n) for n in range(meter.beats)} <= set(places)
    assert mean(busy) <= meter.beats / 2
    assert 0.02 < silent / len(busy) < 0.4
    assert len(rhythms) >= 5
    assert max(rhythms.values()) / len(busy) < 0.5


@EVERY_FEEL
def test_the_comping_fills_up_as_choruses_go_by(name: str) -> None:
    song, chosen, bpm = played(name, choruses=4)
    first, last = 0.0, 0.0
    for seed in range(12):
        for hit in comping(song, chosen, bpm, 5, seed):
            bar = song.bar_at(hit.onset)
            first += hit.force * (bar.chorus == 0)
            last += hit.force * (bar.chorus == 3)
    assert last > 1.08 * first


@EVERY_FEEL
@EVERY_METER
def test_drums_are_no_loop(name: str, meter: Meter) -> None:
    """Over three choruses no bar is most of what is played, nor a phrase of two bars."""
    song, chosen, _ = played(name, meter)
    bars, pairs = Counter[object](), Counter[object]()
    for seed in SEEDS:
        struck: defaultdict[Fraction, set[tuple[Fraction, int]]] = defaultdict(set)
        for hit in drumming(song, chosen, 5, seed):
            start = song.bar_at(hit.onset).start
            struck[start].add((hit.onset - start, hit.midi))
        found = [frozenset(struck[bar.start]) for bar in song.bars]
        bars.update(found)
        pairs.update(zip(found[::2], found[1::2], strict=True))
    assert len(bars) >= 5
    assert max(bars.values()) / bars.total() < 0.62
    assert max(pairs.values()) / pairs.total() < 0.55


@EVERY_FEEL
@EVERY_METER
def test_drums_mark_every_section(name: str, meter: Meter) -> None:
    """The second half of a section's last bar is a fill, and nobody fills elsewhere: toms are heard
    only there. Eight bars a section, as the form is."""
    song, chosen, _ = played(name, meter)
    toms = {PIECES[p] for p in ("high-tom", "low-tom", "floor-tom")}
    for seed in (0, 1):
        ours, time = (_second_halves(song, drumming(song, chosen, n, seed)) for n in (5, 1))
        for bar in song.bars:
            if bar.closes:
                assert ours[bar.start] != time[bar.start]
            else:
                assert not toms & {midi for _, midi in ours[bar.start]}


def _second_halves(
    song: Song, hits: tuple[Hit, ...]
) -> defaultdict[Fraction, set[tuple[Fraction, int]]]:
    """What is struck in the second half of each bar, by where the bar begins."""
    found: defaultdict[Fraction, set[tuple[Fraction, int]]] = defaultdict(set)
    for hit in hits:
        bar = song.bar_at(hit.onset)
        if bar.start + (bar.end - bar.start) / 2 <= hit.onset < bar.end:
            found[bar.start].add((hit.onset, hit.midi))
    return found


def test_a_phrase_s_end_is_spoken_to_more_often() -> None:
    """A drummer's remarks gather at the end of four bars (common practice, no source)."""
    song, chosen, _ = played("swing", choruses=4)
    ends, others = [], []
    for seed in range(20):
        snare = [h.onset for h in drumming(song, chosen, 5, seed) if h.midi == PIECES["snare"]]
        for bar in song.bars:
            if not bar.closes:
                talks = any(bar.start <= at < bar.end for at in snare)
                (ends if bar.phrase_ends else others).append(talks)
    assert mean(ends) > 1.2 * mean(others)


def test_a_ballad_is_brushed() -> None:
    """Domain reference 7.6: sweep and taps, hi-hat on 2 and 4, no sticks on snare or ride."""
    song, chosen, _ = played("ballad")
    assert chosen.drums.kit == 40
    hits = [h for h in drumming(song, chosen, 5, 2) if h.onset < song.length]
    pieces = {h.midi for h in hits}
    assert pieces & {PIECES["brush-sweep"], PIECES["brush-slap"]}
    assert not pieces & {PIECES["snare"], PIECES["ride"], PIECES["crash"]}
    assert {h.onset % 4 for h in hits if h.midi == PIECES["foot-hat"]} == {1, 3}


def test_a_waltz_closes_its_hat_on_two() -> None:
    """Domain reference 7.6: ride on 1, 2, the offbeat of 2, and 3; hi-hat on 2."""
    song, chosen, _ = played("jazz-waltz", Meter(3, 4))
    time = drumming(song, chosen, 1, 0)
    body = [h for h in time if h.onset < song.length]
    assert {h.onset % 3 for h in body if h.midi == PIECES["foot-hat"]} == {1}
    assert {h.onset % 3 for h in body if h.midi == PIECES["ride"]} == {0, 1, Fraction(3, 2), 2}


def test_a_samba_s_surdo_beat_is_the_second_half() -> None:
    """The low drum's accent falls in the middle of the bar (common practice, no source)."""
    song, chosen, _ = played("samba")
    hits = drumming(song, chosen, 1, 0)
    kicks = [h for h in hits if h.midi == PIECES["kick"] and h.onset < song.length]
    strongest = max(h.force for h in kicks)
    assert {h.onset % 4 for h in kicks if h.force > 0.9 * strongest} == {2}


def test_five_four_is_felt_as_three_and_two() -> None:
    """The foot falls inside the three and inside the two; chords leave more than half of the five
    beats free, and the bass in two moves on the fourth."""
    song, chosen, _ = played("swing", Meter(5, 4))
    feet = {h.onset % 5 for h in drumming(song, chosen, 1, 0) if h.midi == PIECES["foot-hat"]}
    assert feet == {1, 4}
    in_two = {h.onset % 5 for h in bass_line(song, chosen, 1, 0) if h.onset < song.length}
    assert {0, 3} <= in_two
    assert mean(
        len(stabs(comping(song, chosen, 150, 5, seed))) / len(song.bars) for seed in SEEDS
    ) < Fraction(5, 2)
