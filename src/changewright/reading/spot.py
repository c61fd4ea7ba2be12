"""A chord in its place: what the analysis found out, with its neighbours at hand."""

from dataclasses import dataclass

from changewright.reading.grammar import Role
from changewright.reading.heard import Event, Kind
from changewright.theory.chord import Chord
from changewright.theory.key import Key, Mode
from changewright.theory.pitch import Name

__all__ = ["FIVES", "MAJORS", "MINORS", "NEIGHBOURS", "TWOS", "Spot"]

FIVES = frozenset((Kind.DOMINANT, Kind.AUGMENTED, Kind.SUSPENDED))
MAJORS = frozenset((Kind.MAJOR, Kind.MAJOR7))
MINORS = frozenset((Kind.MINOR, Kind.MINOR7, Kind.MINOR6))
TWOS = MINORS | {Kind.HALF_DIMINISHED}
# The tonics next door: semitones above home, with the mode they have there.
NEIGHBOURS: dict[Mode, frozenset[tuple[int, Mode]]] = {
    "major": frozenset(((2, "minor"), (4, "minor"), (5, "major"), (7, "major"), (9, "minor"))),
    "minor": frozenset(((3, "major"), (5, "minor"), (7, "minor"), (8, "major"), (10, "major"))),
}


@dataclass(frozen=True, slots=True)
class Spot:
    """An event with its role, the tonic it is played to, and the key of the passage.

    ``tonic`` is a pitch class, as is the event's root. ``goal`` is the tonic finally reached,
    ``key`` the key the numeral counts from. ``blues`` tells that the key is a blues at home.
    """

    event: Event
    chord: Chord
    text: str
    role: Role
    tonic: int
    goal: Key
    key: Key
    blues: bool
    pinned: bool = False

    @property
    def root(self) -> Name:
        """The sounding root as spelled in the symbol."""
        bass, root = self.chord.bass, self.chord.root
        if bass is not None and bass.pc == self.event.root:
            return bass
        return root if root is not None else Name(0)

    @property
    def kind(self) -> Kind:
        """What the chord is heard as."""
        return self.event.kind

    @property
    def is_five(self) -> bool:
        """A dominant, or a bare triad that leads on as one."""
        return self.kind in FIVES or (self.kind is Kind.MAJOR and self.role is Role.DOMINANT)

    @property
    def degree(self) -> int:
        """Semitones of the root above the key's tonic."""
        return (self.event.root - self.key.tonic.pc) % 12

    @property
    def is_home(self) -> bool:
        """The tonic chord of its own goal."""
        return self.role is Role.TONIC and self.event.root == self.tonic

    def step_to(self, other: "Spot") -> int:
        """Semitones from this root up to the other's."""
        return (other.event.root - self.event.root) % 12
