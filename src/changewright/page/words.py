"""Names as the page writes them, and sentences about bars for screen readers."""

import re
from collections.abc import Iterator

from changewright.band.feel import Feel, feel
from changewright.errors import UnknownName
from changewright.music.bar import Meter
from changewright.music.notated import NotatedBar
from changewright.page.marks import is_compound
from changewright.page.symbol import symbol_words
from changewright.theory.instrument import Instrument

__all__ = ["describe_bars", "feel_words", "instrument_words", "is_swung"]


def feel_words(feel_id: str) -> str:
    """A feel's name on the page; one that the band doesn't know is printed as it is."""
    known = _feel(feel_id)
    return known.name if known else feel_id.replace("-", " ").replace("_", " ").capitalize()


def is_swung(feel_id: str, meter: Meter) -> bool:
    """True where written eighths are played long, short; in compound meters they are not."""
    known = _feel(feel_id)
    return known is not None and known.swung and not is_compound(meter)


def _feel(feel_id: str) -> Feel | None:
    try:
        return feel(feel_id)
    except UnknownName:
        return None


def instrument_words(instrument: Instrument) -> str:
    """An instrument within a sentence: ``clarinet in B♭``."""
    name = instrument.name.split(" (")[0]
    name = re.sub(r"(?<= [A-G])b\b", "♭", name)
    return name[:1].lower() + name[1:]


def describe_bars(bars: tuple[NotatedBar, ...]) -> str:
    """The changes of a system in words, as its alternative text."""
    return "; ".join(_described(bars)) + "."


def _described(bars: tuple[NotatedBar, ...]) -> Iterator[str]:
    for bar in bars:
        name = "Pickup" if bar.bar.number == 0 else f"Bar {bar.bar.number}"
        letter = f", section {bar.bar.label}" if bar.bar.label else ""
        chords = ", ".join(symbol_words(c.chord) for c in bar.chords)
        yield f"{name}{letter}: {chords}{', left open' if bar.is_open else ''}"
