"""What may stand in an address: names and numbers of a fixed shape, so that no path is ever made
from what a stranger typed."""

import re
import unicodedata

__all__ = ["BOOK", "KEY", "LESSON", "NAME", "PLAYER", "name_of"]

NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
"""A chart's name: small letters, digits and single hyphens."""

LESSON = re.compile(r"[0-9a-f]{16}")
"""A lesson's name."""

PLAYER = re.compile(r"[0-9a-f]{16}")
"""A player's id on the roster."""

BOOK = re.compile(r"[0-9a-f]{16}")
"""A book's name."""

KEY = re.compile(r"[0-9a-f]{32}")
"""A take's key, drawn by the browser, so that a take sent twice is kept once."""

_LONGEST = 60


def name_of(title: str) -> str:
    """A chart's name from its title: ``Low Water Blues`` becomes ``low-water-blues``."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_LONGEST].strip("-") or "untitled"
