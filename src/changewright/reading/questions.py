"""What to ask the writer of a chart: symbols in it that some players take otherwise."""

from dataclasses import dataclass

from changewright.reading.model import Reading
from changewright.theory.symbol_doubts import doubts

__all__ = ["Question", "questions"]


@dataclass(frozen=True, slots=True)
class Question:
    """A symbol as written, the bars it stands in as played, and how it is read."""

    symbol: str
    bars: tuple[int, ...]
    text: str


def questions(reading: Reading) -> tuple[Question, ...]:
    """The doubtful symbols of a chorus, each once, in the order in which they come up."""
    bars: dict[str, dict[int, None]] = {}
    for one in reading.changes:
        bars.setdefault(one.change.text, {})[one.bar] = None
    return tuple(
        Question(symbol, tuple(where), text)
        for symbol, where in bars.items()
        for text in doubts(symbol)
    )
