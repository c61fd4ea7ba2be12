"""What was heard against what was asked, bar by bar; never one bare score."""

from dataclasses import dataclass
from enum import StrEnum

from changewright.ear.measure import Measure
from changewright.ear.place import Placement, Slip
from changewright.ear.pulse import Pulse
from changewright.ear.take import HeardNote
from changewright.music.bar import Bar, Quarters
from changewright.music.promise import Promise
from changewright.theory.instrument import Instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Pitch

__all__ = ["Ask", "BarHearing", "Fault", "Finding", "Hearing", "Mistake", "Timing", "Verdict"]


class Verdict(StrEnum):
    """Met, missed, or not heard well enough to say."""

    MET = "met"
    MISSED = "missed"
    UNSURE = "unsure"


class Fault(StrEnum):
    """What happened instead of what was asked."""

    WRONG_NOTE = "another note"
    NOT_HEARD = "no note"
    LATE = "late"
    EARLY = "early"
    SHORT = "cut short"
    FILLED = "played in the rest"
    NOT_KEPT = "not as asked"
    FORM = "in another bar"


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing that the sheet asks for: a written note (``pitch``) or a promise (``promise``).

    ``start`` and ``end`` are quarters from the start of the chorus, ``end`` the same as ``start``
    where the ask is a point; ``bar`` and ``beat`` are as people say them.
    """

    start: Quarters
    end: Quarters
    bar: int
    beat: str
    pitch: Pitch | None = None
    promise: Promise | None = None

    def __post_init__(self) -> None:
        if (self.pitch is None) == (self.promise is None):
            raise ValueError("an ask is a written note or a promise")

    @property
    def kind(self) -> str:
        """``"note"``, or the promise's name in small letters."""
        return "note" if self.promise is None else type(self.promise).__name__.lower()


@dataclass(frozen=True, slots=True)
class Finding:
    """What became of one ask.

    ``lateness_s`` is signed and measured from the player's own usual place; None where no onset
    was matched. ``confidence`` is how sure the verdict is. ``at`` is where a promise of a whole
    stretch fell, in quarters; None means at its start."""

    ask: Ask
    verdict: Verdict
    fault: Fault | None = None
    heard: HeardNote | None = None
    lateness_s: float | None = None
    confidence: float = 1.0
    at: Quarters | None = None

    def __post_init__(self) -> None:
        if (self.fault is not None) != (self.verdict is Verdict.MISSED):
            raise ValueError("a fault belongs to what was missed, and to nothing else")


@dataclass(frozen=True, slots=True)
class BarHearing:
    """One bar: everything asked is met, missed or unsure; ``extra`` are notes nobody asked for,
    told without judgement. ``shift_beats`` is how far ahead (+) or behind (-) in the form the
    player was."""

    number: int
    asked: tuple[Ask, ...]
    met: tuple[Finding, ...]
    missed: tuple[Finding, ...]
    unsure: tuple[Finding, ...]
    extra: tuple[HeardNote, ...]
    shift_beats: int = 0


@dataclass(frozen=True, slots=True)
class Timing:
    """Where the player's notes lie: ``offset_s`` is the constant part that was removed (latency
    and feel together, unless the count-in told the latency), ``spread_s`` the standard deviation
    around it, ``drift_beats`` the lag gained (+) or lost from first note to last, ``in_window``
    of ``counted`` notes inside the level's window."""

    offset_s: float
    spread_s: float
    drift_beats: float
    in_window: int
    counted: int


@dataclass(frozen=True, slots=True)
class Mistake:
    """One place where something else happened: all the asks that fell with it."""

    bar: int
    beat: str
    at: Quarters
    fault: Fault
    findings: tuple[Finding, ...]

    @property
    def first(self) -> Finding:
        """The written note if there is one, else the first promise."""
        return self.findings[0]


@dataclass(frozen=True, slots=True)
class Hearing:
    """A take heard against a sheet.

    ``judged`` is False where nothing fair can be said, and ``reason`` then says why in words.
    ``grid`` are the sheet's bars, ``quarter_s`` the length of a quarter, ``key`` the concert key.
    ``pulse`` is what was found of a take without the play-along, None where its clock is known.
    ``intonation`` measures the long notes that were met, see :mod:`changewright.ear.intonation`.
    ``with_band`` is True where others are heard beside the player, so that less can be said.
    """

    title: str
    instrument: Instrument
    key: Key
    quarter_s: float
    level: int
    grid: tuple[Bar, ...]
    bars: tuple[BarHearing, ...]
    placement: Placement
    timing: Timing
    tuning_hz: float
    judged: bool
    reason: str = ""
    pulse: Pulse | None = None
    intonation: tuple[Measure, ...] = ()
    with_band: bool = False

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings in order of time."""
        found = [f for b in self.bars for f in (*b.met, *b.missed, *b.unsure)]
        return tuple(sorted(found, key=lambda f: (f.ask.start, f.ask.kind != "note")))

    @property
    def mistakes(self) -> tuple[Mistake, ...]:
        """What was missed, gathered by place: one wrong note breaks several promises, once, and
        who is a bar ahead for eight bars has done one thing, not thirty."""
        places: dict[Quarters, list[Finding]] = {}
        for finding in self.findings:
            if finding.verdict is Verdict.MISSED:
                places.setdefault(self._place(finding), []).append(finding)
        return tuple(
            self._mistake(at, sorted(places[at], key=lambda f: f.ask.kind != "note"))
            for at in sorted(places)
        )

    def _place(self, finding: Finding) -> Quarters:
        at = finding.ask.start if finding.at is None else finding.at
        slip = self._slip_at(self._bar_at(at).number)
        return at if slip is None else next(b.start for b in self.grid if b.number == slip.bar)

    def _bar_at(self, at: Quarters) -> Bar:
        return next((b for b in self.grid if b.start <= at < b.end), self.grid[-1])

    def _slip_at(self, bar: int) -> Slip | None:
        return next((s for s in self.placement.slips if s.bar <= bar <= s.until), None)

    def _mistake(self, at: Quarters, found: list[Finding]) -> Mistake:
        bar = self._bar_at(at)
        fault = Fault.FORM if self._slip_at(bar.number) else found[0].fault or Fault.NOT_KEPT
        return Mistake(bar.number, bar.beat_of(at), at, fault, tuple(found))

    def share(self, kind: str = "note") -> tuple[int, int]:
        """(met, sure) asks of one kind: how many of those the listener is sure of were met."""
        sure = [f for f in self.findings if f.ask.kind == kind and f.verdict is not Verdict.UNSURE]
        return sum(f.verdict is Verdict.MET for f in sure), len(sure)
