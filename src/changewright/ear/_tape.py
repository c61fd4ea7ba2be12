"""Sound kept as it comes in, an hour of it in half the memory."""

from collections.abc import Iterator
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = ["Tape", "pieces"]

Floats = NDArray[np.float32]
T = TypeVar("T", np.float32, np.float32 | np.float16)


def pieces(samples: NDArray[T], size: int) -> Iterator[NDArray[T]]:
    """The same in runs of ``size`` samples, the last one shorter."""
    for first in range(0, len(samples), size):
        yield samples[first : first + size]


class Tape:
    """Blocks of mono float32 samples in a row, kept in half precision: 72 dB below the sound itself
    lies what that adds."""

    def __init__(self) -> None:
        self._blocks: list[NDArray[np.float16]] = []
        self._starts = [0]

    def __len__(self) -> int:
        return self._starts[-1]

    def __iter__(self) -> Iterator[Floats]:
        return (block.astype(np.float32) for block in self._blocks)

    def add(self, block: Floats) -> None:
        """Go on."""
        if len(block):
            self._blocks.append(block.astype(np.float16))
            self._starts.append(len(self) + len(block))

    def between(self, first: int, last: int) -> Floats:
        """The samples from ``first`` to ``last``, half-open, as far as they are there."""
        inside = [
            block[max(0, first - start) : max(0, last - start)]
            for block, start in zip(self._blocks, self._starts, strict=False)
            if start < last and start + len(block) > first
        ]
        return np.concatenate([np.zeros(0, dtype=np.float16), *inside]).astype(np.float32)
