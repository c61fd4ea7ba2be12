"""Name the tonics that the analysis found as pitch classes, as the chart itself spells them."""

from bisect import bisect_left
from collections.abc import Sequence

from changewright.theory.chord import Chord
from changewright.theory.key import Key, Mode, shortest_spelling
from changewright.theory.pitch import Name

__all__ = ["Speller"]


class Speller:
    """Spells keys for one chorus: as its home key, else as the next chord on that tonic."""

    def __init__(self, chords: Sequence[Chord], home: Key | None = None) -> None:
        self._roots = [chord.root or Name(0) for chord in chords]
        self._home = home
        self._on: dict[int, list[int]] = {}
        for i, root in enumerate(self._roots):
            self._on.setdefault(root.pc, []).append(i)

    def key(self, pc: int, mode: Mode, near: int) -> Key:
        """Spell a key for the chord at index ``near``.

        Where no chord stands on the tonic, the tonic is placed on the line of fifths as near
        to the asking chord's root as it can be.
        """
        if self._home is not None and pc == self._home.tonic.pc:
            same = mode == self._home.mode
            return self._home if same else shortest_spelling(Key(self._home.tonic, mode))
        if pc in self._on:
            places = self._on[pc]
            found = places[bisect_left(places, near) % len(places)]
            return shortest_spelling(Key(self._roots[found], mode))
        anchor = self._roots[near]
        away = (7 * (pc - anchor.pc) + 5) % 12 - 5
        return shortest_spelling(Key(Name(anchor.fifths + away), mode))
