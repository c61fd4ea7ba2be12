"""A take written down: heard notes as a line that a player can read, at concert pitch.

Where a written note was met it stands as the page has it; elsewhere the rhythm is rounded to
eighths. It is a picture of what was heard, not of how exactly it was timed.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from changewright.ear.hearing import Hearing, Verdict
from changewright.ear.take import HeardNote, Take
from changewright.music.bar import Change, Quarters
from changewright.music.clock import Clock
from changewright.music.line import Line, Note
from changewright.music.sheet import Sheet
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Name, Pitch

__all__ = ["shown", "written_down"]

LEAST_SURE, LEAST_S = 0.7, 0.09
_GRID = Fraction(1, 2)
_FINE = Fraction(1, 4)
_BREATH = Fraction(1, 2)  # a gap shorter than an eighth is articulation, not a rest


@dataclass(frozen=True, slots=True)
class _Placed:
    heard: HeardNote
    start: Quarters
    end: Quarters
    asked: Pitch | None = None


def written_down(
    take: Take,
    sheet: Sheet,
    clock: Clock,
    *,
    offset_s: float = 0.0,
    hearing: Hearing | None = None,
    first: Quarters = Fraction(0),
) -> Line:
    """The notes that may be shown (see :func:`shown`) over the bars of ``sheet``.

    ``offset_s`` is the take's lag on the clock; ``first`` is where these bars begin on it, for a
    later chorus. Names follow the page where it has that note, then the chord, then the key.
    """
    asked = _asked(hearing)
    placed = [_placed(n, clock, offset_s, first, asked.get(n)) for n in shown(take, hearing)]
    placed += _sounding(hearing, clock, offset_s)
    inside = [p for p in placed if 0 <= p.start < sheet.length]
    return Line(tuple(_notes(_spread(inside), sheet)), sheet.length)


def shown(take: Take, hearing: Hearing | None = None) -> tuple[HeardNote, ...]:
    """The notes that may be shown as heard: those that answered something, and of the others only
    what is sure and no mere blip."""
    findings = hearing.findings if hearing is not None else ()
    answered = {f.heard for f in findings if f.heard is not None}
    return tuple(
        n
        for n in take.notes
        if n in answered or (n.confidence >= LEAST_SURE and n.length_s >= LEAST_S)
    )


def _asked(hearing: Hearing | None) -> dict[HeardNote, tuple[Quarters, Quarters, Pitch]]:
    """Heard notes that met a written one, with its place."""
    findings = hearing.findings if hearing is not None else ()
    return {
        f.heard: (f.ask.start, f.ask.end, f.ask.pitch)
        for f in findings
        if f.heard is not None and f.ask.pitch is not None and f.verdict is Verdict.MET
    }


def _sounding(hearing: Hearing | None, clock: Clock, offset_s: float) -> list[_Placed]:
    """Written notes that were met by what sounds, without a start of their own that was heard:
    they stand as the page has them."""
    found = []
    for finding in hearing.findings if hearing is not None else ():
        ask = finding.ask
        if finding.verdict is Verdict.MET and finding.heard is None and ask.pitch is not None:
            onset, end = (clock.to_seconds(at) + offset_s for at in (ask.start, ask.end))
            note = HeardNote(max(0.0, onset), max(end, 0.01), ask.pitch.midi, 0.0, 0.0, 1.0)
            found.append(_Placed(note, ask.start, ask.end, ask.pitch))
    return found


def _placed(
    note: HeardNote,
    clock: Clock,
    offset_s: float,
    first: Quarters,
    asked: tuple[Quarters, Quarters, Pitch] | None,
) -> _Placed:
    start = clock.to_quarters(note.onset_s - offset_s)
    end = clock.to_quarters(note.end_s - offset_s)
    if asked is not None:
        begin, stop, pitch = asked
        held = end - start >= 0.5 * float(stop - begin)
        return _Placed(note, begin, stop if held else begin + _rounded(end - start, _GRID), pitch)
    begin = _rounded(start, _GRID) - first
    return _Placed(note, begin, begin + max(_GRID, _rounded(end - start, _GRID)))


def _rounded(at: float, grid: Fraction) -> Quarters:
    return round(at / float(grid)) * grid


def _spread(placed: list[_Placed]) -> list[_Placed]:
    """In order, none on another: two notes within one eighth stand a sixteenth apart, and what
    does not fit there gives way to the louder."""
    spread: list[_Placed] = []
    for one in sorted(placed, key=lambda p: (p.start, p.heard.onset_s)):
        if spread and one.start <= spread[-1].start:
            one = _Placed(one.heard, spread[-1].start + _FINE, one.end, one.asked)
        spread.append(one)
    return spread


def _notes(placed: list[_Placed], sheet: Sheet) -> Iterable[Note]:
    for k, one in enumerate(placed):
        following = placed[k + 1].start if k + 1 < len(placed) else sheet.length
        if one.start >= min(following, sheet.length):
            continue
        yield _note(one, min(following, sheet.length), sheet)


def _note(one: _Placed, following: Quarters, sheet: Sheet) -> Note:
    """Up to the next note where only a breath lies between."""
    end = min(max(one.end, one.start + _FINE), following)
    if following - end < _BREATH and one.asked is None:
        end = following
    change = sheet.change_at(one.start + sheet.bars[0].start)
    name, degree = _spelled(one, change, sheet.key)
    return Note(one.start, end - one.start, _at_midi(name, one.heard.midi), degree=degree)


def _spelled(one: _Placed, change: Change, key: Key) -> tuple[Name, Degree | None]:
    """A chord's own note is named by the chord; others by the page or the key."""
    chord = change.chord
    own = [] if chord.root is None else [d for d in chord.four if chord.tone(d).pc == one.heard.pc]
    if own:
        return chord.tone(own[0]), own[0]
    if one.asked is not None and one.asked.midi % 12 == one.heard.pc:
        return one.asked.name, None
    lowest = key.tonic.fifths - 5
    near = (Name(f) for f in range(lowest, lowest + 12))
    return next(n for n in near if n.pc == one.heard.pc), None


def _at_midi(name: Name, midi: int) -> Pitch:
    """The pitch of that name at (or an octave's multiple from) a note number."""
    pitch = name.at(midi // 12 - 1)
    octave = (midi - pitch.midi) // 12
    return name.at(midi // 12 - 1 + octave)
