"""How a solo meets the harmony: chord tones, scales, landings. J1 to J9."""

from collections.abc import Callable
from itertools import groupby, pairwise
from statistics import mean

from changewright.ear._solo_notes import PHRASE_GAP, SoloNote
from changewright.ear.measure import Measure
from changewright.reading.model import Reading

__all__ = ["measures"]

STEP = 2
Spread = tuple[float, float, float]


def measures(notes: list[SoloNote], reading: Reading) -> list[Measure]:
    """What can be counted of J1 to J9. Chance is that of these changes: the share of the twelve
    pitch classes that would count, over the very cases counted."""
    chorded = [n for n in notes if n.change.change.chord.root is not None]
    strong = [n for n in chorded if n.on_beat and _in_bar(n, reading) in (0, 2)]
    pairs = [(a, b) for a, b in pairwise(chorded) if b.lands]
    landed = [b for _, b in pairs]
    stepped = [_steps(a, b) for a, b in pairs]
    both = [s and b.pc in _chord_tones(b) for s, b in zip(stepped, landed, strict=True)]
    found = [
        _tones("J1", "Chord tones on beats 1 and 3", strong, _chord_tones, (0.41, 0.53, 0.67)),
        _tones("J2", "Thirds and sevenths there", strong, _guide_tones, (0.12, 0.22, 0.33)),
        _tones("J3", "Inside the chord's first scale", chorded, _scale, (0.75, 0.82, 0.88)),
        _tones("J4", "Landing on a chord tone", landed, _chord_tones, (0.38, 0.53, 0.67)),
        _tones("J5", "Landing on the 3rd or 7th", landed, _guide_tones, (0.10, 0.21, 0.33)),
        _share("J6", "Stepping into the change", stepped, (0.46, 0.62, 0.76), detail=_by(pairs)),
        _share("J7", "Stepping onto a chord tone", both, (0.20, 0.32, 0.46)),
        _share("J8", "Bars that name the chord", _naming(chorded), None, 0.78),
        _share("J9", "Bars entirely inside", _inside(chorded), None, 0.36),
    ]
    return [m for m in found if m is not None]


def _tones(
    name: str,
    words: str,
    notes: list[SoloNote],
    allowed: Callable[[SoloNote], frozenset[int]],
    record: Spread,
) -> Measure | None:
    if not notes:
        return None
    value = mean(n.pc in allowed(n) for n in notes)
    chance = mean(len(allowed(n)) / 12 for n in notes)
    return Measure(name, words, value, "share", len(notes), chance, record)


def _share(
    name: str,
    words: str,
    cases: list[bool],
    record: Spread | None,
    middle: float | None = None,
    detail: str = "",
) -> Measure | None:
    if not cases:
        return None
    return Measure(
        name, words, mean(cases), "share", len(cases), None, record, detail=detail, middle=middle
    )


def _in_bar(note: SoloNote, reading: Reading) -> int:
    return note.beat % int(reading.bars[0].meter.length)


def _chord_tones(note: SoloNote) -> frozenset[int]:
    chord = note.change.change.chord
    return frozenset(chord.tone(d).pc for d in chord.four)


def _guide_tones(note: SoloNote) -> frozenset[int]:
    chord = note.change.change.chord
    return frozenset(chord.tone(d).pc for d in chord.guide_tones)


def _scale(note: SoloNote) -> frozenset[int]:
    """The first choice; where none is read (no chord is left out before) the chord itself."""
    change = note.change
    return change.scales[0].scale.pcs if change.scales else change.change.chord.pcs


def _steps(before: SoloNote, note: SoloNote) -> bool:
    return note.at - before.end <= PHRASE_GAP and abs(note.midi - before.midi) <= STEP


def _by(pairs: list[tuple[SoloNote, SoloNote]]) -> str:
    """By what step the changes are met, within a phrase."""
    sizes = [abs(b.midi - a.midi) for a, b in pairs if b.at - a.end <= PHRASE_GAP]
    ways = {
        "by a semitone": [1],
        "by a whole step": [2],
        "by the same note": [0],
        "by a third": [3, 4],
    }
    counts = {way: sum(s in among for s in sizes) for way, among in ways.items()}
    counts["by a wider leap"] = sum(s > 4 for s in sizes)
    counts["after a rest"] = len(pairs) - len(sizes)
    return ", ".join(f"{count} {way}" for way, count in counts.items() if count)


def _bars(notes: list[SoloNote]) -> list[list[SoloNote]]:
    return [list(group) for _, group in groupby(notes, key=lambda n: int(n.at // 4))]


def _naming(notes: list[SoloNote]) -> list[bool]:
    return [any(n.pc in _guide_tones(n) for n in bar) for bar in _bars(notes) if len(bar) >= 3]


def _inside(notes: list[SoloNote]) -> list[bool]:
    return [all(n.pc in _scale(n) for n in bar) for bar in _bars(notes)]
