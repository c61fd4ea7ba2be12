"""A performance: sounding events in seconds, part by part."""

from dataclasses import dataclass

from changewright.music.clock import Seconds

__all__ = ["Event", "Part", "Performance"]


@dataclass(frozen=True, slots=True, order=True)
class Event:
    """One sounding note. ``midi`` is a note number (or a General MIDI percussion key), velocity
    1 to 127."""

    onset_s: Seconds
    duration_s: Seconds
    midi: int
    velocity: int


@dataclass(frozen=True, slots=True)
class Part:
    """One player's events in order of onset. ``program`` is a General MIDI program counted
    from 0; for drums it is the kit: 32 sticks, 40 brushes, 56 the spoken count."""

    name: str
    program: int
    events: tuple[Event, ...]
    is_drums: bool = False


@dataclass(frozen=True, slots=True)
class Performance:
    """All parts on one time axis that starts with the count-in; ``length_s`` is to the last bar
    line, before anything rings out."""

    parts: tuple[Part, ...]
    length_s: Seconds

    def part(self, name: str) -> Part:
        """One part by name."""
        return next(p for p in self.parts if p.name == name)
