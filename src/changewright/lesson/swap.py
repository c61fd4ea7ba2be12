"""Put a phrase in the place of some bars of a sheet that was composed, and leave the rest alone.

This is a teacher's edit, and no composing: the notes around it stay, and what the sheet promised
about the bars that gave way is promised no longer.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import sha256

from changewright.errors import InputError, Place
from changewright.lesson.ground import Ground, tone_at
from changewright.lesson.phrase import Phrase
from changewright.lesson.phrase_fit import Placement
from changewright.lesson.quoting import fitting, quotes_of
from changewright.music.keeping import broken
from changewright.music.line import Line, Note, Role
from changewright.music.sheet import Sheet

__all__ = ["Swap", "swapped", "swaps_for"]


@dataclass(frozen=True, slots=True)
class Swap:
    """A phrase by name, to stand from a bar by number."""

    bar: int
    phrase: str


def swaps_for(ground: Ground) -> dict[int, tuple[Phrase, ...]]:
    """The phrases that could stand from each bar, by the bar's number."""
    found: dict[int, list[Phrase]] = {}
    for places in fitting(ground).values():
        for place in places:
            found.setdefault(ground.reading.bars[place.bar].number, []).append(place.phrase)
    return {bar: tuple(phrases) for bar, phrases in sorted(found.items())}


def swapped(sheet: Sheet, ground: Ground, swaps: Sequence[Swap]) -> Sheet:
    """The sheet with phrases in the place of bars; its label is another one's.

    Raises :class:`InputError` for a phrase that doesn't fit there.
    """
    for swap in swaps:
        sheet = _swapped(sheet, ground, swap)
    told = "|".join(f"{swap.bar}:{swap.phrase}" for swap in swaps)
    version = 2 + int(sha256(told.encode()).hexdigest()[:7], 16) if swaps else 1
    return replace(sheet, recipe=replace(sheet.recipe, version=version))


def _swapped(sheet: Sheet, ground: Ground, swap: Swap) -> Sheet:
    place = _place(ground, swap)
    notes = _notes(sheet, ground, place)
    before = [_until(n, place) for n in sheet.line.notes if n.onset < place.start]
    end = place.start + sum(bar.length for bar in place.phrase.bars)
    after = [n for n in sheet.line.notes if n.onset >= end]
    line = Line((*before, *notes, *after), sheet.line.length)
    changed = sheet.with_line(line, (*sheet.promises, *quotes_of([place])))
    given_up = {fault.promise for fault in broken(changed)}
    return changed.with_line(line, tuple(p for p in changed.promises if p not in given_up))


def _place(ground: Ground, swap: Swap) -> Placement:
    places = fitting(ground).get(swap.phrase, ())
    for place in places:
        if ground.reading.bars[place.bar].number == swap.bar:
            return place
    raise InputError(
        f"the phrase {swap.phrase[:40]!r} doesn't fit there",
        where=Place(bar=swap.bar),
        remedy="Choose one of those that the page offers for this bar.",
    )


def _until(note: Note, place: Placement) -> Note:
    """A note that was held into the phrase's bars ends where they begin."""
    return replace(note, duration=min(note.duration, place.start - note.onset))


def _notes(sheet: Sheet, ground: Ground, place: Placement) -> tuple[Note, ...]:
    first = _first(sheet, ground, place)
    found = []
    for index, note in enumerate(place.phrase.notes):
        degree, chord = place.degrees[index], place.spans[note.span].chord
        last = index + 1 == len(place.phrase.notes)
        found.append(
            Note(
                place.start + note.at,
                place.last if last else note.duration,
                tone_at(chord, degree, first + place.shape[index]),
                Role.PHRASE,
                degree,
            )
        )
    return tuple(found)


def _first(sheet: Sheet, ground: Ground, place: Placement) -> int:
    """The first note's MIDI number: the octave that lies well and nearest to the note before."""
    low, high = min(place.shape), max(place.shape)
    span, awkward = ground.span, ground.awkward_midi
    reach = [
        first
        for first in range(span.low.midi - low, span.high.midi - high + 1)
        if first % 12 == place.pc and all(first + s not in awkward for s in place.shape)
    ]
    earlier = [n.pitch.midi for n in sheet.line.notes if n.onset < place.start]
    later = [n.pitch.midi for n in sheet.line.notes if n.onset >= place.ends]
    near = earlier[-1] if earlier else later[0] if later else reach[0]
    return min(reach, key=lambda first: (abs(first - near), first))
