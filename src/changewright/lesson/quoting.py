"""Set phrases into a line: their notes are fixed to one another, the line joins on both sides."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from changewright.lesson.ground import Ground, Patch
from changewright.lesson.phrase import Phrase
from changewright.lesson.phrase_fit import Placement, chorus_of, in_reach, placements
from changewright.lesson.phrase_library import own_phrases
from changewright.lesson.rhythm import Need
from changewright.lesson.spots import Spot, phrased
from changewright.music.bar import Quarters
from changewright.music.line import Role
from changewright.music.promise import Quotes

__all__ = ["apart", "fitting", "quoted", "quotes_of", "room_for"]


def fitting(ground: Ground, chords: int = 1, least: int = 0) -> dict[str, tuple[Placement, ...]]:
    """The phrases that the level allows and the instrument reaches, with their places.

    Only phrases of at least so many ``chords``, and ours only from the level ``least`` on. A
    teacher's own phrases stand before ours.
    """
    known: Iterable[Phrase] = (*ground.phrases, *own_phrases(chords))
    found: dict[str, tuple[Placement, ...]] = {}
    chorus = chorus_of(ground)
    own = {phrase.name for phrase in ground.phrases}
    for phrase in known:
        if phrase.name in found or len(phrase.spans) < chords:
            continue
        if phrase.level < least and phrase.name not in own:
            continue
        if phrase.suits(ground.level):
            places = placements(phrase, chorus)
            found[phrase.name] = tuple(p for p in places if in_reach(p, ground))
    return {name: places for name, places in found.items() if places}


def apart(places: Sequence[Placement], bars: int = 1) -> list[Placement]:
    """Places that leave at least so many bars free between them, the earliest first."""
    kept: list[Placement] = []
    for place in sorted(places, key=lambda p: p.bar):
        if not kept or place.bar >= kept[-1].bars.stop + bars:
            kept.append(place)
    return kept


def room_for(needs: Mapping[int, Need], places: Iterable[Placement]) -> dict[int, Need]:
    """What bars need of a rhythm, with the bars of phrases kept free: nothing is tied into them."""
    kept = dict(needs)
    for place in places:
        for index in place.bars:
            first = index == place.bar
            kept[index] = Need(on_one=True) if first else Need(silent=True)
            if place.open:
                kept[index] = _after(place, needs.get(index, Need()).rest)
    return kept


def _after(place: Placement, rest: Quarters) -> Need:
    """The rhythm after an open phrase: its own breath, else notes that lead on from it."""
    room = place.phrase.bars[-1].end - place.phrase.bars[0].start - (place.ends - place.start)
    return Need(on_one=True, rest=rest, tail=2 if room >= 2 and not rest else 0)


def quoted(
    ground: Ground, spots: Sequence[Spot], places: Sequence[Placement], leave: int = 99
) -> list[Spot]:
    """The spots with phrases in their places; whatever stood in their bars gives way.

    A phrase is entered from within a third where the line goes on into it, and left by at most
    ``leave`` semitones.
    """
    # floats, because they are compared for every note; nothing is nearer than a 24th of a quarter
    taken = [(float(p.start), float(p.ends) - 0.01) for p in places]
    held = [(s, float(s.at), float(s.at + s.duration)) for s in spots]
    kept = [s for s, at, end in held if not any(a + 0.01 < end and at < b for a, b in taken)]
    firsts = {n.at + p.start for p in places for n in p.phrase.notes[:1]}
    lasts = {n.at + p.start for p in places for n in p.phrase.notes[-1:]}
    line = phrased(sorted([*kept, *_notes(ground, places)], key=lambda s: s.at))
    joined: list[Spot] = []
    for index, spot in enumerate(line):
        if spot.at in firsts and not spot.fresh:
            # two set phrases in a row can't bend towards each other: an octave's half is enough
            spot = replace(spot, entry=6 if line[index - 1].role is Role.PHRASE else 4)
        elif index and spot.role is None and line[index - 1].at in lasts and not spot.fresh:
            spot = replace(spot, entry=min(spot.entry, leave))
        joined.append(spot)
    return joined


def _notes(ground: Ground, places: Sequence[Placement]) -> Iterable[Spot]:
    for place in places:
        for index, note in enumerate(place.phrase.notes):
            patch = _patch(ground, place, note.span, place.start + note.at)
            link = place.shape[index] - place.shape[index - 1] if index else None
            degree = place.degrees[index]
            at, pool = place.start + note.at, (degree,)
            duration = note.duration if index + 1 < len(place.shape) else place.last
            yield Spot(at, duration, patch, pool, link=link, role=Role.PHRASE)


def _patch(ground: Ground, place: Placement, span: int, at: Quarters) -> Patch:
    """The patch of a note's chord; of an anticipation, where that chord begins."""
    # a placement stands on chords, so that there is always one
    return ground.patch_at(max(at, place.spans[span].start)) or ground.patches[0]


def quotes_of(places: Iterable[Placement]) -> list[Quotes]:
    """What phrases promise: each stands word for word."""
    found: list[Quotes] = []
    for place in places:
        first = place.phrase.onsets[0]
        onsets = tuple(onset - first for onset in place.phrase.onsets)
        found.append(Quotes(place.start + first, onsets, place.shape))
    return found
