"""A map of what is hard in a tune: keys, harmonic rhythm, chromatic roots, chord types, and the
lowest level at which each bar sits. It later decides the order of study.

Source: domain reference 1.2 and 5.1 (teaching practice, no outside source).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from changewright.music.bar import Bar, Quarters
from changewright.reading.model import PassageKind, ReadChange, Reading
from changewright.theory.chord import Chord
from changewright.theory.key import Key

__all__ = ["BarLevel", "Difficulty", "chord_level", "difficulty_of", "key_level", "tempo_level"]

# The keys of each level by signature, minor keys by that of their relative major.
_KEYS = {-1: 1, -2: 1, 0: 1, -3: 2, -4: 3, 1: 4, -5: 4}
_LAST_KEYS = 5
# The fastest quarter-note tempo of each level.
_TEMPOS = (84, 100, 120, 144, 176, 208, 260, 300)
_MAJOR_SCALE = frozenset((0, 2, 4, 5, 7, 9, 11))
_REST = ("no chord",)
_HARD = 3


@dataclass(frozen=True, slots=True)
class BarLevel:
    """The lowest level (1 to 8) at which a bar sits, with the reasons that put it there."""

    bar: int
    level: int
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Difficulty:
    """What a teacher looks at when choosing a tune.

    ``keys`` are the key areas visited, ``key_changes`` how often the key changes.
    ``chords_a_bar`` is the mean over the chorus, ``shortest`` the shortest chord in quarters.
    ``chromatic_roots`` counts changes whose root is foreign to the home key's scale,
    ``chord_types`` the distinct kinds of chord. ``hardest`` are bars of the highest level, each
    hard for another reason. ``level`` is the lowest at which the whole tune sits at its tempo.
    """

    keys: tuple[Key, ...]
    key_changes: int
    chords_a_bar: float
    shortest: Quarters
    chromatic_roots: int
    chord_types: int
    tempo_bpm: int
    tempo_level: int
    bars: tuple[BarLevel, ...]
    hardest: tuple[BarLevel, ...]
    level: int


def difficulty_of(reading: Reading, tempo_bpm: int = 120) -> Difficulty:
    """Map what is hard in a reading at a tempo in quarters a minute."""
    sounding = [one for one in reading.changes if one.scales]
    bars = tuple(_bar_levels(reading))
    top = max(bar.level for bar in bars)
    at_tempo = tempo_level(tempo_bpm)
    return Difficulty(
        keys=tuple(dict.fromkeys(area.key for area in reading.areas)) or (reading.key,),
        key_changes=max(0, len(reading.areas) - 1),
        chords_a_bar=round(len(reading.changes) / len(reading.bars), 2),
        shortest=min(one.change.duration for one in reading.changes),
        chromatic_roots=sum(_is_chromatic(one, reading.key) for one in sounding),
        chord_types=len({one.change.chord.degrees for one in sounding}),
        tempo_bpm=tempo_bpm,
        tempo_level=at_tempo,
        bars=bars,
        hardest=_hardest(bars, top),
        level=max(top, at_tempo),
    )


def _hardest(bars: Sequence[BarLevel], top: int) -> tuple[BarLevel, ...]:
    """The first few bars of the highest level, each hard for another reason."""
    apart: dict[tuple[str, ...], BarLevel] = {}
    for bar in bars:
        if bar.level == top and bar.reasons != _REST:
            apart.setdefault(bar.reasons, bar)
    return tuple(apart.values())[:_HARD]


def tempo_level(bpm: int) -> int:
    """The lowest level whose tempos reach a tempo in quarters a minute."""
    return next((level for level, top in enumerate(_TEMPOS, 1) if bpm <= top), len(_TEMPOS))


def key_level(key: Key) -> int:
    """The level at which a concert key is first met."""
    return _KEYS.get(key.signature, _LAST_KEYS)


def chord_level(chord: Chord) -> int:
    """The level at which a kind of chord is first met."""
    return next(level for level, _ in _chord_levels(chord))


def _chord_levels(chord: Chord) -> Iterator[tuple[int, str]]:
    altered = chord.has(9, 1) or chord.has(13, -1) or (chord.has(9, -1) and chord.has(13))
    raised = chord.has(5, 1) or chord.has(11, 1) or (chord.has(5, -1) and not chord.has(3, -1))
    if chord.upper is not None or _foreign_bass(chord):
        yield 6, "a chord over a foreign bass"
    if altered or raised or (chord.has(3, -1) and chord.has(7)):
        yield 5, "an altered chord"
    if chord.has(9, -1):
        yield 4, "a flat 9th"
    if chord.has(3, -1) and chord.has(5, -1):
        yield 3, "a diminished or half-diminished chord"
    if not chord.has(3) and not chord.has(3, -1):
        yield 3, "a suspended chord"
    if chord.has(6):
        yield 2, "a sixth chord"
    yield 1, "a plain chord"


def _foreign_bass(chord: Chord) -> bool:
    return chord.bass is not None and chord.bass.pc not in {tone.pc for tone in chord.tones}


def _is_chromatic(one: ReadChange, home: Key) -> bool:
    root = one.change.chord.root
    if root is None:
        return False
    tonic = home.tonic.pc + (3 if home.mode == "minor" else 0)
    return (root.pc - tonic) % 12 not in _MAJOR_SCALE


def _bar_levels(reading: Reading) -> Iterator[BarLevel]:
    cycles = {
        number
        for passage in reading.passages
        if passage.kind is PassageKind.MAJOR_THIRDS
        for number in range(passage.first_bar, passage.last_bar + 1)
    }
    start = 0
    for bar in reading.bars:
        end = start + len(bar.changes)
        inside = reading.changes[start:end]
        if all(one.change.chord.is_silent for one in inside):
            yield BarLevel(bar.number, 1, _REST)
            start = end
            continue
        reasons = [*_reasons(inside), *_rhythm(reading.changes, start, end, bar)]
        if bar.number in cycles:
            reasons.append((7, "a cycle of major thirds"))
        top = max(level for level, _ in reasons)
        words = dict.fromkeys(why for level, why in reasons if level == top)
        yield BarLevel(bar.number, top, tuple(words))
        start = end


def _reasons(inside: Sequence[ReadChange]) -> Iterator[tuple[int, str]]:
    for one in inside:
        if not one.change.chord.is_silent:
            level, why = next(_chord_levels(one.change.chord))
            yield level, f"{why}, {one.change.text}"
            yield key_level(one.key), f"the key of {one.key.words}"


def _rhythm(
    changes: Sequence[ReadChange], start: int, end: int, bar: Bar
) -> Iterator[tuple[int, str]]:
    """How fast the chords change; a chord that also fills a bar beside this one is slow."""
    shortest = min(one.change.duration for one in changes[start:end])
    if shortest * 2 < bar.meter.length and end - start > 1:
        yield 6, f"{end - start} chords in the bar"
    elif end - start > 1:
        yield 3, "two chords in the bar"
    else:
        beside = (*changes[max(0, start - 1) : start], *changes[end : end + 1])
        held = any(other.change.chord == changes[start].change.chord for other in beside)
        yield (1, "a chord for two bars or more") if held else (2, "a chord for one bar only")
