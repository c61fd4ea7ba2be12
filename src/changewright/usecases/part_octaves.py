"""The octaves of a part: a line moves whole, and changes octave at rests only where it must."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from changewright.errors import ChangewrightError
from changewright.lesson.level import Level
from changewright.lesson.player import Player
from changewright.music.keeping import broken
from changewright.music.line import Note
from changewright.music.promise import Avoids, Promise, Within
from changewright.music.sheet import Sheet
from changewright.theory.instrument import Instrument, Span, Stage
from changewright.theory.pitch import Interval
from changewright.theory.transposition import octave_for, transpose_key_for, written_shift

__all__ = ["Fold", "Move", "PartRefused", "moved_for"]

_WIDER: dict[Stage, Stage] = {"beginner": "intermediate", "intermediate": "professional"}
_TRIED = range(-5, 6)  # octaves; more than any two instruments lie apart


class PartRefused(ChangewrightError):
    """A line that a reader can't play in any octave, however it is folded at its rests."""


@dataclass(frozen=True, slots=True)
class Fold:
    """A stretch between rests that stands ``octaves`` from where the rest of the part does."""

    first_bar: int
    last_bar: int
    octaves: int


@dataclass(frozen=True, slots=True)
class Move:
    """How one exercise was written out for a reader.

    ``octaves`` is how far the whole moved from the composed line at concert pitch; ``written``
    the compass as read; ``key`` the key as read; ``given_up`` what no longer holds because of a
    fold; ``awkward`` where a note comes that the level keeps away from on this instrument;
    ``beyond`` the bars in which notes lie outside the range of the level.
    """

    octaves: int
    folds: tuple[Fold, ...]
    written: Span
    key: str
    given_up: tuple[str, ...]
    awkward: tuple[str, ...]
    beyond: tuple[int, ...] = ()


def moved_for(sheet: Sheet, reader: Instrument, rung: Level) -> tuple[Sheet, Move]:
    """An exercise for another reader: the same bars, numbers and sound, octaves apart.

    Where it can't lie in the range of his level it may use that of the next stage, and says so.
    Raises :class:`PartRefused` where a stretch without a rest is wider than what he can play.
    """
    stage = _stage(rung)
    try:
        return _moved(sheet, reader, rung, reader.concert_range(stage))
    except PartRefused:
        if stage not in _WIDER:
            raise
    return _moved(sheet, reader, rung, reader.concert_range(_WIDER[stage]))


def _moved(sheet: Sheet, reader: Instrument, rung: Level, reach: Span) -> tuple[Sheet, Move]:
    stage = _stage(rung)
    notes = sheet.line.notes
    octaves = octave_for([n.pitch for n in notes], reader, stage)
    spans: list[Note] = []
    folds: list[Fold] = []
    for phrase in _phrases(notes):
        move = _move(phrase, octaves, reach)
        if move is None:
            raise PartRefused(_reason(sheet, phrase, reader, reach))
        if move != octaves:
            folds.append(Fold(*_bars(sheet, phrase), move - octaves))
        spans += [replace(n, pitch=n.pitch + Interval(0, move)) for n in phrase]
    moved = replace(sheet, instrument=reader, line=sheet.line.with_(spans))
    kept, given_up = _promised(replace(moved, promises=tuple(_own(sheet, reach))))
    return kept, _told(kept, octaves, _joined(folds), given_up, rung)


def _stage(rung: Level) -> Stage:
    return "beginner" if rung.stage == "comfort" else rung.stage


def _phrases(notes: Sequence[Note]) -> Iterator[list[Note]]:
    """The stretches between rests."""
    phrase: list[Note] = []
    for note in notes:
        if phrase and note.onset > phrase[-1].end:
            yield phrase
            phrase = []
        phrase.append(note)
    if phrase:
        yield phrase


def _move(phrase: Sequence[Note], usual: int, reach: Span) -> int | None:
    """The octaves nearest to the part's own at which the whole phrase can be played."""
    low, high = min(n.pitch.midi for n in phrase), max(n.pitch.midi for n in phrase)
    fits = [
        k for k in _TRIED if reach.low.midi <= low + 12 * k and high + 12 * k <= reach.high.midi
    ]
    return min(fits, key=lambda k: (abs(k - usual), k), default=None)


def _own(sheet: Sheet, reach: Span) -> Iterator[Promise]:
    """The sheet's promises with this reader's range; what another avoids is no promise here."""
    for promise in sheet.promises:
        if isinstance(promise, Within):
            yield replace(promise, low=reach.low, high=reach.high)
        elif not isinstance(promise, Avoids):
            yield promise


def _promised(sheet: Sheet) -> tuple[Sheet, tuple[str, ...]]:
    """The sheet with what it still keeps, and what a fold has broken."""
    faults = broken(sheet)
    for fault in faults:
        if fault.promise is None:
            raise PartRefused(str(fault))
    lost = {fault.promise for fault in faults}
    kept = tuple(p for p in sheet.promises if p not in lost)
    return replace(sheet, promises=kept), tuple(map(str, faults))


def _told(
    sheet: Sheet, octaves: int, folds: tuple[Fold, ...], given_up: tuple[str, ...], rung: Level
) -> Move:
    reader, shift = sheet.instrument, written_shift(sheet.instrument, sheet.key)
    pitches = sorted((n.pitch for n in sheet.line.notes), key=lambda p: p.midi)
    avoided = {p.midi for p in Player(reader).awkward(rung)}
    awkward = tuple(
        f"bar {sheet.bar_at(n.onset).number}, beat {sheet.bar_at(n.onset).beat_of(n.onset)}: "
        f"{n.pitch + shift} as read"
        for n in sheet.line.notes
        if n.pitch.midi in avoided
    )
    written = Span(pitches[0] + shift, pitches[-1] + shift)
    key = str(transpose_key_for(reader, sheet.key))
    usual = reader.concert_range(_stage(rung))
    outside = (n for n in sheet.line.notes if n.pitch not in usual)
    beyond = tuple(dict.fromkeys(sheet.bar_at(n.onset).number for n in outside))
    return Move(octaves, folds, written, key, given_up, awkward, beyond)


def _joined(folds: Sequence[Fold]) -> tuple[Fold, ...]:
    """Neighbouring folds by the same octaves as one."""
    joined: list[Fold] = []
    for fold in folds:
        if joined and joined[-1].octaves == fold.octaves and _touch(joined[-1], fold):
            joined[-1] = replace(joined[-1], last_bar=fold.last_bar)
        else:
            joined.append(fold)
    return tuple(joined)


def _touch(first: Fold, second: Fold) -> bool:
    return second.first_bar <= first.last_bar + 1


def _bars(sheet: Sheet, phrase: Sequence[Note]) -> tuple[int, int]:
    return sheet.bar_at(phrase[0].onset).number, sheet.bar_at(phrase[-1].onset).number


def _reason(sheet: Sheet, phrase: Sequence[Note], reader: Instrument, reach: Span) -> str:
    first, last = _bars(sheet, phrase)
    where = f"bar {first}" if first == last else f"bars {first} to {last}"
    low, high = min(n.pitch.midi for n in phrase), max(n.pitch.midi for n in phrase)
    shift = written_shift(reader, sheet.key)
    room = f"{reach.low + shift} to {reach.high + shift}"
    if high - low > reach.high.midi - reach.low.midi:
        what = f"span {high - low} semitones without a rest, more than"
    else:
        what = "have no rest at which to change octave, and lie in no octave within"
    return f"{sheet.title}: {where} {what} the range that a player may be asked for, written {room}"
