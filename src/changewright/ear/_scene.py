"""A take laid over its sheet: the events by which promises are judged."""

from dataclasses import dataclass

from changewright.ear._notes import SURE, Answer
from changewright.ear._sounding import Sounding
from changewright.ear._window import Window
from changewright.ear.hearing import Fault, Finding, Verdict
from changewright.ear.place import Placement
from changewright.ear.take import HeardNote, Take
from changewright.music.bar import Quarters
from changewright.music.clock import Clock
from changewright.music.sheet import Sheet
from changewright.theory.pitch import Degree

__all__ = ["Event", "Scene", "events_of"]


@dataclass(frozen=True, slots=True)
class Event:
    """A note as played, where the sheet has it (or, in a blank, where it was heard).

    ``midi`` is None where the listener isn't sure what sounded; ``silent`` is True where surely
    nothing did. ``fault`` is the written note's fault, if any.
    """

    at: Quarters | float
    midi: int | None
    heard: HeardNote | None = None
    silent: bool = False
    fault: Fault | None = None


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything needed to judge a promise."""

    sheet: Sheet
    clock: Clock
    laid: Placement
    window: Window
    sounding: Sounding
    events: tuple[Event, ...]

    def second(self, at: Quarters | float) -> float:
        """Where a notated instant lies on the recording."""
        return self.clock.to_seconds(_exact(at)) + self.laid.offset_s

    def at(self, at: Quarters) -> Event | None:
        """The event that stands for the note due at ``at``."""
        exact = next((e for e in self.events if e.at == at), None)
        if exact is not None:
            return exact
        low, high = self.window.early_s, self.window.fault_s
        due = self.second(at)
        near = [e for e in self.events if -low <= self.second(e.at) - due <= high]
        return min(near, key=lambda e: abs(self.second(e.at) - due), default=None)

    def between(self, start: Quarters, end: Quarters) -> tuple[Event, ...]:
        """The events that start in [start, end)."""
        return tuple(e for e in self.events if start <= e.at < end)

    def before(self, event: Event) -> Event | None:
        """The event just before another."""
        earlier = [e for e in self.events if e.at < event.at]
        return earlier[-1] if earlier else None

    def pcs(self, at: Quarters | float, degrees: tuple[Degree, ...]) -> frozenset[int]:
        """The pitch classes of degrees of the chord at an instant; just before a change those of
        the chord to come too, for an anticipation is right."""
        own = self._pcs(at, degrees)
        free = not any(e.at == at and isinstance(e.at, Quarters) for e in self.events)
        return own | self._pcs(float(at) + 0.5, degrees) if free else own

    def _pcs(self, at: Quarters | float, degrees: tuple[Degree, ...]) -> frozenset[int]:
        chord = self.sheet.change_at(_exact(at)).chord
        return frozenset(chord.tone(d).pc for d in degrees) if chord.root else frozenset(range(12))


def _exact(at: Quarters | float) -> Quarters:
    return at if isinstance(at, Quarters) else Quarters(at).limit_denominator(96)


def events_of(
    sheet: Sheet,
    take: Take,
    clock: Clock,
    laid: Placement,
    pairs: list[Answer],
    written: list[Finding],
) -> tuple[Event, ...]:
    """Written notes as they were played, and in the blanks whatever was heard there."""
    events = [_played(a, f) for a, f in zip(pairs, written, strict=True)]
    used = {id(a.heard) for a in pairs}
    blanks = [(n.onset, n.end) for n in sheet.line.notes if n.blank]
    for note in take.notes:
        at = clock.to_quarters(note.onset_s - laid.offset_s)
        if id(note) not in used and any(start - 0.5 <= at < end for start, end in blanks):
            events.append(Event(at, note.midi if note.confidence >= SURE else None, note))
    return tuple(sorted(events, key=lambda e: float(e.at)))


def _played(answer: Answer, finding: Finding) -> Event:
    at = answer.note.onset
    if finding.verdict is Verdict.UNSURE:
        return Event(at, None, answer.heard)
    if finding.verdict is Verdict.MET:
        return Event(at, answer.note.pitch.midi, answer.heard)
    if finding.fault is Fault.NOT_HEARD:
        return Event(at, None, None, silent=True, fault=finding.fault)
    return Event(
        at, finding.heard.midi if finding.heard else None, finding.heard, fault=finding.fault
    )
