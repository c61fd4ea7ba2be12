"""A phrase understood against its harmony: degrees, roles, the chords it spans, entry and exit."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import pairwise

from changewright.chart.model import Form
from changewright.errors import InputError, Place
from changewright.lesson.ground import Patch, degree_over, patches_of
from changewright.lesson.level import Level, levels
from changewright.music.bar import Bar, Quarters
from changewright.music.line import Note
from changewright.reading.analyse import analyse
from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree, Name

__all__ = ["Phrase", "PhraseNote", "Span", "encloses", "phrase_of", "spans_of", "understood"]

_MOST_BARS = 8
_ALTERED = {1: 4, 3: 5, 6: 5, 8: 5}
"""The level from which a dominant's altered degrees are asked for, by semitones over the root."""


@dataclass(frozen=True, slots=True)
class Span:
    """A chord for as long as it lasts, bar lines or not. ``kind`` is its class for finding where
    a phrase fits, ``root`` its root's pitch class."""

    start: Quarters
    end: Quarters
    chord: Chord
    tones: tuple[Degree, ...]
    scale: tuple[Degree, ...]
    kind: str
    root: int


@dataclass(frozen=True, slots=True)
class PhraseNote:
    """A note against its chord: ``span`` is the chord's index, of an anticipation the one to come.

    ``leads`` is the index of the note that a chromatic note resolves to, None for notes of the
    chord's scale and for notes outside that lead nowhere.
    """

    at: Quarters
    duration: Quarters
    midi: int
    span: int
    degree: Degree
    inside: bool
    tone: bool
    leads: int | None = None


@dataclass(frozen=True)
class Phrase:
    """A phrase of up to eight bars with its changes, in the key in which it was written.

    Times are in quarters from the start of its first bar.
    """

    name: str
    title: str
    bars: tuple[Bar, ...]
    spans: tuple[Span, ...]
    notes: tuple[PhraseNote, ...]
    rights: str = "unknown"

    @property
    def end(self) -> Quarters:
        """Where the last note ends."""
        return self.notes[-1].at + self.notes[-1].duration

    @property
    def onsets(self) -> tuple[Quarters, ...]:
        """Where its notes start, from its first bar line."""
        return tuple(n.at for n in self.notes)

    @cached_property
    def progression(self) -> str:
        """Its changes by name where they have one, else as degrees over the first root."""
        return _progression(self.spans)

    @property
    def entry(self) -> Degree:
        """The degree it starts on."""
        return self.notes[0].degree

    @property
    def exit(self) -> Degree:
        """The degree it ends on."""
        return self.notes[-1].degree

    @property
    def directions(self) -> tuple[str, str]:
        """Which way it sets out and which way it arrives: up, down or level."""
        moves = [b.midi - a.midi for a, b in pairwise(self.notes)] or [0]
        return _way(moves[0]), _way(moves[-1])

    @cached_property
    def tags(self) -> tuple[str, ...]:
        """What it is good for: its progression and the devices found in it."""
        return (self.progression, *_devices(self))

    @cached_property
    def level(self) -> int:
        """The first level that asks for nothing less than this."""
        return next((n for n, one in levels().items() if self.suits(one)), max(levels()))

    def suits(self, level: Level) -> bool:
        """Tell whether a level's note values, leaps, density and chromatic notes allow it."""
        values = {n.duration for n in self.notes}
        odd = any(v.denominator == 3 for v in values)
        chromatic = sum(not n.inside for n in self.notes) / len(self.notes)
        return (
            min(values) >= level.shortest
            and (not odd or Fraction(1, 3) in level.note_values)
            and max((abs(b.midi - a.midi) for a, b in pairwise(self.notes)), default=0)
            <= level.widest_leap
            and chromatic <= level.chromatic_share
            and self._fullest <= level.notes_a_bar[1]
            and self.altered <= level.number
        )

    @cached_property
    def _fullest(self) -> int:
        return max(sum(b.start <= n.at < b.end for n in self.notes) for b in self.bars)

    @cached_property
    def altered(self) -> int:
        """The level that its dominants' altered degrees ask for; 0 where there are none."""
        lasting = (n for n in self.notes if n.leads is None)
        return max(
            (_ALTERED.get(n.degree.pc, 0) for n in lasting if self.spans[n.span].chord.is_dominant),
            default=0,
        )


def phrase_of(form: Form, name: str) -> Phrase:
    """Understand a chart with a melody as one phrase; raises :class:`InputError`."""
    where = Place(file=name)
    notes = form.melody.notes if form.melody else ()
    if not notes:
        raise InputError(
            "there is no melody here to take a phrase from",
            where=where,
            remedy="Write the notes under the changes, on a line that begins with 'melody |'.",
        )
    if len(form.bars) > _MOST_BARS:
        raise InputError(
            f"{len(form.bars)} bars are too long for one phrase",
            where=where,
            remedy="Take the phrases of a whole solo with 'changewright phrases take'.",
        )
    spans = spans_of(patches_of(analyse(replace(form, melody=None))))
    if any(_span_at(spans, n.onset) is None for n in notes):
        raise InputError(
            "a note stands where there is no chord",
            where=where,
            remedy="Write the chord that the note is played over.",
        )
    bars = tuple(b for b in form.bars if b.start < notes[-1].end)
    known = understood(notes, spans)
    first, last = known[0].span, max(n.span for n in known)
    moved = tuple(replace(n, span=n.span - first) for n in known)
    return Phrase(name, form.title, bars, spans[first : last + 1], moved, form.rights)


def spans_of(patches: Sequence[Patch]) -> tuple[Span, ...]:
    """The chords of a chorus with the bars they last merged."""
    found: list[Span] = []
    for patch in patches:
        if patch.nth == 0:
            chord = patch.chord
            root = 0 if chord.root is None else chord.root.pc
            known = patch.tones, patch.scale, _kind_of(chord), root
            found.append(Span(patch.start, patch.end, chord, *known))
        else:
            found[-1] = replace(found[-1], end=patch.end)
    return tuple(found)


def _kind_of(chord: Chord) -> str:
    """The kind of chord for finding where a phrase fits."""
    kinds = {
        "dominant": chord.is_dominant,
        "half-diminished": chord.is_half_diminished,
        "diminished": chord.is_diminished,
        "minor": chord.is_minor,
        "major": chord.is_major,
    }
    return next((name for name, is_so in kinds.items() if is_so), "other")


def _span_at(spans: Sequence[Span], at: Quarters) -> int | None:
    return next((i for i, s in enumerate(spans) if s.start <= at < s.end), None)


def _belongs(spans: Sequence[Span], note: Note) -> int:
    """The chord a note belongs to: where it starts, or the one it anticipates by less than a
    beat."""
    now = _span_at(spans, note.onset) or 0
    end = spans[now].end
    ahead = note.end > end and end - note.onset < 1 and now + 1 < len(spans)
    return now + 1 if ahead else now


def understood(notes: Sequence[Note], spans: Sequence[Span]) -> tuple[PhraseNote, ...]:
    """Notes against the chords they belong to; each must stand on one."""
    read: list[PhraseNote] = []
    for index, note in enumerate(notes):
        span = _belongs(spans, note)
        chord, scale = spans[span].chord, spans[span].scale
        root = chord.root or Name(0)  # N.C. makes no span
        pc = (note.pitch.midi - root.pc) % 12
        own = next((d for d in scale if d.pc == pc), None)
        degree = own or degree_over(root.fifths, note.pitch.fifths)
        tone = any(d.pc == pc for d in spans[span].tones)
        leads = None if own else _leads_to(notes, index)
        read.append(
            PhraseNote(
                note.onset,
                note.duration,
                note.pitch.midi,
                span,
                degree,
                own is not None,
                tone,
                leads,
            )
        )
    return tuple(read)


def _leads_to(notes: Sequence[Note], index: int) -> int | None:
    """The note that a short chromatic note resolves to: the next one a semitone or tone away, or
    the one after, in an enclosure."""
    if notes[index].duration > 1:
        return None
    for target in (index + 1, index + 2):
        if target < len(notes):
            gap = abs(notes[target].pitch.midi - notes[index].pitch.midi)
            if 1 <= gap <= 2 and notes[target].onset - notes[index].onset <= 2:
                return target
    return None


def _way(move: int) -> str:
    return "up" if move > 0 else "down" if move < 0 else "level"


_NAMES = {
    (("minor", 0), ("dominant", 5), ("major", 10)): "major ii-V-I",
    (("half-diminished", 0), ("dominant", 5), ("minor", 10)): "minor ii-V-i",
    (("minor", 0), ("dominant", 5), ("minor", 10)): "minor ii-V-i",
    (("minor", 0), ("dominant", 5)): "ii-V",
    (("half-diminished", 0), ("dominant", 5)): "minor ii-V",
    (("dominant", 0), ("major", 5)): "V-I",
    (("dominant", 0), ("minor", 5)): "V-i",
    (("major", 0), ("minor", 9), ("minor", 2), ("dominant", 7)): "turnaround",
    (("major", 0), ("dominant", 9), ("minor", 2), ("dominant", 7)): "turnaround",
    (("dominant", 0), ("dominant", 5), ("dominant", 0)): "blues, opening",
    (("dominant", 0), ("dominant", 5)): "blues, into the four",
    (("minor", 0), ("dominant", 5), ("dominant", 10)): "blues, coming home",
    (("dominant", 0),): "static dominant",
    (("major", 0),): "tonic major",
    (("minor", 0),): "tonic minor",
}


def _progression(spans: Sequence[Span]) -> str:
    key = tuple((s.kind, (s.root - spans[0].root) % 12) for s in spans)
    name = _NAMES.get(key)
    if name in ("major ii-V-I", "minor ii-V-i", "ii-V", "minor ii-V"):
        return f"{name}, {'long' if spans[0].end - spans[0].start >= 3 else 'short'}"
    return name or " ".join(f"{Degree(1) if n == 0 else _over(n)}:{kind}" for kind, n in key)


def _over(semitones: int) -> Degree:
    return degree_over(0, (0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5)[semitones])


def _devices(phrase: Phrase) -> list[str]:
    notes = phrase.notes
    found: list[str] = []
    for a, b in pairwise(notes):
        move = b.midi - a.midi
        if a.span != b.span and a.degree.number == 7 and b.degree.number == 3 and -2 <= move <= -1:
            found.append("7 to 3")
        if a.span != b.span and str(a.degree) in ("b9", "b2") and b.degree.number == 5:
            found.append("b9 to 5")
        if a.leads is not None and not encloses(notes, a):
            found.append("chromatic approach")
    if any(encloses(notes, n) for n in notes):
        found.append("enclosure")
    if phrase.altered:
        found.append("altered dominant")
    rising = zip(notes, notes[1:], notes[2:], strict=False)
    if any(
        a.tone and b.tone and c.tone and c.midi - b.midi > 2 < b.midi - a.midi for a, b, c in rising
    ):
        found.append("arpeggio up")
    return list(dict.fromkeys(found))


def encloses(notes: Sequence[PhraseNote], note: PhraseNote) -> bool:
    """Tell whether a chromatic note and its neighbour stand on both sides of their target."""
    if note.leads is None:
        return False
    target = notes[note.leads].midi
    place = notes.index(note)
    other = notes[place + 1] if note.leads == place + 2 else notes[place - 1] if place else note
    return (other.midi - target) * (note.midi - target) < 0 and abs(other.midi - target) <= 4
