"""Voicings: shells of guide tones, and rootless four-note shapes in two positions.

Source: shells 3 and 7, and rootless 3-5-7-9 against 7-9-3-5 with 13 for 5 on dominants: an
educator's page on two- and four-note ii-V-I voicings and arithmetic (domain reference 7.5).
"""

from collections.abc import Iterator
from functools import lru_cache

from changewright.theory.chord import Chord
from changewright.theory.scale import Scale

__all__ = ["LOWEST", "LOW_MOST", "TOP_MOST", "Voicing", "shells", "voicings"]

LOWEST, LOW_MOST, TOP_MOST = 50, 61, 76
"""The lowest note lies between D3 and C#4, the top under E5: below is mud, above is thin."""

_SHELL_LOW, _SHELL_HIGH = 48, 64

Voicing = tuple[int, ...]
"""Notes upwards as MIDI numbers."""


@lru_cache(maxsize=4096)
def voicings(chord: Chord, scale: Scale | None) -> tuple[Voicing, ...]:
    """Every rootless voicing of a chord in range, notes upwards as MIDI numbers."""
    found = {placed for shape in _shapes(chord, scale) for placed in _placed(shape)}
    return tuple(sorted(found))


@lru_cache(maxsize=4096)
def shells(chord: Chord) -> tuple[Voicing, ...]:
    """The guide tones alone, low note from C3 to E4; a triad gives third and root."""
    pcs = [chord.tone(degree).pc for degree in chord.guide_tones]
    if len(pcs) < 2 and chord.root is not None:
        pcs = [*pcs, chord.root.pc, *([chord.tone(chord.fifth).pc] if chord.fifth else [])][:2]
    found = set()
    for low, high in ((0, -1), (-1, 0)):
        for midi in range(_SHELL_LOW, _SHELL_HIGH):
            if midi % 12 == pcs[low]:
                found.add((midi, midi + ((pcs[high] - midi) % 12 or 12)))
    return tuple(sorted(found))


def _shapes(chord: Chord, scale: Scale | None) -> Iterator[tuple[int, ...]]:
    """Pitch classes upwards: A from the third, B from the seventh; inversions where symmetric."""
    third, fifth, seventh, ninth = _four(chord, scale)
    if chord.is_diminished:
        four = [third, fifth, seventh, chord.root.pc if chord.root else ninth]
        yield from (tuple(four[i:] + four[:i]) for i in range(4))
        return
    yield _distinct((third, fifth, seventh, ninth))
    yield _distinct((seventh, ninth, third, fifth))


def _distinct(pcs: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(dict.fromkeys(pcs))


def _four(chord: Chord, scale: Scale | None) -> tuple[int, int, int, int]:
    """The four voices as pitch classes: third, fifth (or 13), seventh (or 6), ninth (or root)."""
    if chord.root is None:
        raise ValueError("N.C. has no voicing")
    root = chord.root.pc
    allowed = {(pc - root) % 12 for pc in scale.pcs} if scale is not None else set()
    written = {degree.pc for degree in chord.degrees}
    third = chord.third.pc if chord.third else 0
    seventh = chord.seventh.pc if chord.seventh else _sixth_or_root(chord, allowed)
    if chord.is_dominant and not _is_sus(chord):
        colours = _dominant_colours(written, allowed)
    elif chord.is_half_diminished:
        colours = (6, 0)
    else:
        fifth = chord.fifth.pc if chord.fifth else 7
        colours = (fifth, 2 if 2 in written or 2 in allowed else 0)
    return tuple((root + pc) % 12 for pc in (third, colours[0], seventh, colours[1]))  # type: ignore[return-value]


def _is_sus(chord: Chord) -> bool:
    return chord.third is not None and chord.third.number == 4


def _sixth_or_root(chord: Chord, allowed: set[int]) -> int:
    """A plain major triad takes the sixth where the scale has it; a minor one its root."""
    return 9 if chord.is_major and 9 in allowed else 0


def _dominant_colours(written: set[int], allowed: set[int]) -> tuple[int, int]:
    """13 and 9 of a dominant: as written, else as the scale has them."""
    known = written | allowed
    if 8 in written and 9 not in written:
        thirteenth = 8
    elif 6 in written and 7 not in written:
        thirteenth = 6
    elif 9 in written or 9 in known:
        thirteenth = 9
    else:
        thirteenth = 8 if 8 in known else 7
    if 3 in written:
        ninth = 3
    elif 1 in written:
        ninth = 1
    else:
        ninth = 2 if 2 in known else (1 if 1 in known else 0)
    return thirteenth, ninth


def _placed(shape: tuple[int, ...]) -> Iterator[Voicing]:
    for low in range(LOWEST, LOW_MOST + 1):
        if low % 12 == shape[0]:
            notes = [low]
            for pc in shape[1:]:
                notes.append(notes[-1] + (pc - notes[-1]) % 12)
            if notes[-1] <= TOP_MOST:
                yield tuple(notes)
