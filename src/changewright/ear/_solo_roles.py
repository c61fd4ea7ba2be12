"""What notes outside the scale are there for: an approach, an enclosure, or left hanging; and
whether a planned phrase was played, even with its rhythm bent."""

from collections.abc import Iterator, Sequence
from enum import StrEnum
from itertools import pairwise

from changewright.ear._solo_notes import SoloNote, bar_of, some_bars
from changewright.ear.measure import Measure
from changewright.music.promise import Promise, Quotes
from changewright.reading.model import Reading

__all__ = ["Leading", "measures", "phrase_measures", "roles"]

_NEAR = 3.0  # quarters around its place in which a planned phrase is looked for
_BENT = (0.4, 2.5)  # how much shorter or longer a bent phrase may be


class Leading(StrEnum):
    """The role of a note outside."""

    APPROACH = "approach"
    ENCLOSURE = "enclosure"
    HANGING = "left hanging"


def roles(notes: Sequence[SoloNote]) -> list[tuple[SoloNote, Leading]]:
    """Each note outside its chord's first scale, with what it leads to.

    An approach goes on by a semitone to a chord tone; an enclosure has its target within two
    semitones on the other side, after one more note. Source: common practice, no source.
    """
    found = []
    for k, note in enumerate(notes):
        if note.change.change.chord.root is not None and _is_outside(note):
            found.append((note, _leading(note, notes[k + 1 : k + 3])))
    return found


def _is_outside(note: SoloNote) -> bool:
    change = note.change
    scale = change.scales[0].scale.pcs if change.scales else change.change.chord.pcs
    return note.pc not in scale and note.pc not in change.change.chord.pcs


def _leading(note: SoloNote, following: Sequence[SoloNote]) -> Leading:
    after = [n for n in following if n.phrase == note.phrase]
    if after and abs(after[0].midi - note.midi) == 1 and _is_tone(after[0]):
        return Leading.APPROACH
    if len(after) == 2 and _is_tone(after[1]):
        one, other = note.midi - after[1].midi, after[0].midi - after[1].midi
        if one * other < 0 and max(abs(one), abs(other)) <= 2:
            return Leading.ENCLOSURE
    return Leading.HANGING


def _is_tone(note: SoloNote) -> bool:
    chord = note.change.change.chord
    return chord.root is not None and note.pc in {chord.tone(d).pc for d in chord.four}


def measures(notes: Sequence[SoloNote], reading: Reading) -> list[Measure]:
    """How many notes outside lead on to a chord tone; nothing where none lie outside."""
    found = roles(notes)
    if not found:
        return []
    count = {kind: sum(role is kind for _, role in found) for kind in Leading}
    hanging = sorted({bar_of(n, reading) for n, role in found if role is Leading.HANGING})
    detail = f"{count[Leading.APPROACH]} approaches, {count[Leading.ENCLOSURE]} in enclosures"
    if hanging:
        detail += f", {count[Leading.HANGING]} left hanging (bars {some_bars(hanging)})"
    led = len(found) - count[Leading.HANGING]
    return [
        Measure(
            "J3r",
            "Notes outside that lead on",
            led / len(found),
            "share",
            len(found),
            detail=detail,
        )
    ]


def phrase_measures(notes: Sequence[SoloNote], promises: Sequence[Promise]) -> list[Measure]:
    """Planned phrases that were found by their shape: the rhythm may bend and a note may be added,
    the intervals may not change."""
    planned = [p for p in promises if isinstance(p, Quotes)]
    if not planned:
        return []
    heard = [_is_found(phrase, notes) for phrase in planned]
    detail = f"{sum(heard)} of {len(heard)} found"
    value = sum(heard) / len(heard)
    return [Measure("J18", "Planned phrase", value, "share", len(heard), detail=detail)]


def _is_found(phrase: Quotes, notes: Sequence[SoloNote]) -> bool:
    first, span = float(phrase.at + phrase.onsets[0]), float(phrase.onsets[-1] - phrase.onsets[0])
    near = [n for n in notes if first - _NEAR <= n.at <= first + span * _BENT[1] + _NEAR]
    return any(_fits(line, phrase.shape, span) for line in _lines(near, len(phrase.shape), first))


def _lines(near: Sequence[SoloNote], count: int, first: float) -> Iterator[tuple[SoloNote, ...]]:
    """Runs of so many notes, as they stand or with one note between left out."""
    for k, note in enumerate(near):
        if abs(note.at - first) <= _NEAR:
            yield tuple(near[k : k + count])
            whole = near[k : k + count + 1]
            yield from (
                tuple(n for j, n in enumerate(whole) if j != out)
                for out in range(1, len(whole) - 1)
            )


def _fits(line: Sequence[SoloNote], shape: Sequence[int], span: float) -> bool:
    """PITFALL: octaves are heard wrong at times, so intervals are compared within the octave."""
    if len(line) != len(shape):
        return False
    steps = [(b.midi - a.midi) % 12 for a, b in pairwise(line)]
    asked = [(b - a) % 12 for a, b in pairwise(shape)]
    length = line[-1].at - line[0].at
    return steps == asked and (not span or _BENT[0] <= length / span <= _BENT[1])
