"""How much the hand-set weights matter: the reading with all of them shaken at once.

A reader that agrees with annotators only at one setting has learned the file, not the music.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from random import Random
from types import ModuleType
from typing import Any

from changewright.reading import grammar, keys

__all__ = ["shaken"]

_RANGE = (0.75, 4 / 3)


@contextmanager
def shaken(seed: int) -> Iterator[None]:
    """Multiply every weight of the reading by its own factor between 3/4 and 4/3, for a while."""
    rng = Random(seed)
    kept = [(module, name, value) for module in (grammar, keys) for name, value in _weights(module)]
    try:
        for module, name, value in kept:
            setattr(module, name, _scaled(value, rng))
        _forget()
        yield
    finally:
        for module, name, value in kept:
            setattr(module, name, value)
        _forget()


def _weights(module: ModuleType) -> list[tuple[str, Any]]:
    named = [(name, value) for name, value in vars(module).items() if name.isupper()]
    return [(name, value) for name, value in named if _is_weight(value)]


def _is_weight(value: Any) -> bool:
    if isinstance(value, dict):
        return all(_is_weight(inner) for inner in value.values())
    return isinstance(value, float)


def _scaled(value: Any, rng: Random) -> Any:
    if isinstance(value, dict):
        return {key: _scaled(inner, rng) for key, inner in value.items()}
    return value * rng.uniform(*_RANGE)


def _forget() -> None:
    grammar.states_of.cache_clear()
    grammar.arrivals.cache_clear()
    keys.costs_of.cache_clear()
