"""Products of matrices on the thread that asks.

PITFALL: the matrix library wakes a thread for every core once a product is large; these wait for
more at full speed: a second core's time for nothing.
"""

import numpy as np
from numpy.typing import NDArray

__all__ = ["product"]

Floats = NDArray[np.float32]

_ALONE = 1 << 18
"""Multiplications up to which OpenBLAS keeps to one thread. Source: its interface/gemm.c."""


def product(rows: Floats, table: Floats) -> Floats:
    """``rows`` (count, inner) by ``table`` (inner, outer)."""
    some = max(1, _ALONE // max(1, table.size))
    out = np.empty((len(rows), table.shape[1]), dtype=np.float32)
    for first in range(0, len(rows), some):
        np.matmul(rows[first : first + some], table, out=out[first : first + some])
    return out
