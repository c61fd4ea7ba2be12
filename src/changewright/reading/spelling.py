"""Name the tonics that the analysis found as pitch classes, as the chart itself spells them."""

from collections.abc import Sequence

from changewright.reading.heard import Event
from changewright.theory.chord import Chord
from changewright.theory.key import Key, Mode, shortest_spelling
from changewright.theory.pitch import Name

__all__ = ["key_of"]


def key_of(
    pc: int, mode: Mode, events: Sequence[Event], chords: Sequence[Chord], near: int, home: Key
) -> Key:
    """Spell a key: as the home key, as the nearest chord on its tonic, or counted from a chord.

    ``near`` is the index of the chord that asks. Where no chord stands on the tonic, the tonic is
    placed on the line of fifths as near to that chord's root as it can be.
    """
    if pc == home.tonic.pc:
        return (
            Key(home.tonic, mode) if mode == home.mode else shortest_spelling(Key(home.tonic, mode))
        )
    on_it = [i for i, event in enumerate(events) if event.root == pc and _plain(chords[i], pc)]
    if on_it:
        nearest = min(on_it, key=lambda i: ((i - near) % len(events), i))
        root = chords[nearest].root
        if root is not None:
            return shortest_spelling(Key(root, mode))
    anchor = chords[near].root or Name(0)
    away = (7 * (pc - anchor.pc) + 5) % 12 - 5
    return shortest_spelling(Key(Name(anchor.fifths + away), mode))


def _plain(chord: Chord, pc: int) -> bool:
    return chord.root is not None and chord.root.pc == pc
