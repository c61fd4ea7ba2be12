"""Places in time where something must be chosen, and what may be chosen there."""

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from changewright.music.bar import Quarters

__all__ = ["Bools", "Floats", "Ints", "Keyed", "Slot"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class Keyed:
    """A value with its hash taken once: keys of tables are looked up for every note."""

    __slots__ = ("_hash", "value")

    def __init__(self, value: Hashable) -> None:
        self.value = value
        self._hash = hash(value)

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        return isinstance(other, Keyed) and self._hash == other._hash and self.value == other.value


@dataclass(frozen=True, slots=True)
class Slot:
    """One place to fill: a note, or a whole bar's figure.

    ``columns`` name what rules may read of each choice, one number a choice:
    ``("pitch", (60, 62))`` for notes, ``("first", ...), ("last", ...)`` for figures. ``facts``
    are what rules may read of the place itself, such as ``("beat", 1)``. ``lean`` adds a log
    weight to each choice here and nowhere else (a planned contour); minus infinity forbids.
    ``labels`` names a choice, for refusals.

    Two slots with the same columns and facts share their tables, so keep what varies from
    place to place in ``lean``.
    """

    at: Quarters
    bar: int
    beat: str
    columns: tuple[tuple[str, tuple[int, ...]], ...]
    facts: tuple[tuple[str, int], ...] = ()
    lean: tuple[float, ...] = ()
    labels: Callable[[int], str] | None = field(default=None, repr=False, compare=False)
    kind: Keyed = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.columns or len({len(numbers) for _, numbers in self.columns}) != 1:
            raise ValueError("a slot has choices, and each column one number for each of them")
        if self.lean and len(self.lean) != self.size:
            raise ValueError("a lean has one weight for each choice")
        object.__setattr__(self, "kind", Keyed((self.columns, self.facts)))

    @property
    def size(self) -> int:
        """How many choices there are."""
        return len(self.columns[0][1])

    def arrays(self) -> dict[str, Ints]:
        """The columns as arrays."""
        return {name: np.array(numbers, dtype=np.int64) for name, numbers in self.columns}

    def label(self, choice: int) -> str:
        """The name of a choice for a person."""
        return self.labels(choice) if self.labels else f"choice {choice + 1}"

    def only(self, choices: Iterable[int]) -> "Slot":
        """The same slot where nothing but ``choices`` may be taken."""
        kept = set(choices)
        lean = self.lean or (0.0,) * self.size
        held = tuple(w if i in kept else float("-inf") for i, w in enumerate(lean))
        return Slot(self.at, self.bar, self.beat, self.columns, self.facts, held, self.labels)

    @classmethod
    def of(
        cls,
        at: Quarters,
        bar: int,
        beat: str,
        columns: Mapping[str, Iterable[int]],
        **rest: Any,
    ) -> "Slot":
        """Build a slot from a plain mapping of columns."""
        frozen = tuple((name, tuple(map(int, numbers))) for name, numbers in columns.items())
        return cls(at, bar, beat, frozen, **rest)
