"""Read what stands between two bar lines: chords with their beats, pins, melody."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from changewright.chart.source import Source, Token, nearest
from changewright.chart.written import ScalePin, WrittenBar, WrittenChord, chord_of
from changewright.errors import ChartError, ChordError
from changewright.music.bar import Meter, beat_label
from changewright.theory.key import Key
from changewright.theory.pitch import Name
from changewright.theory.scale import scale_kinds

__all__ = ["Cell", "cells_of", "count_of", "read_beats", "read_chords", "read_key"]

_MOST_WORDS = 128
_BEATS = re.compile(r"\d{1,3}(?:/\d{1,3}|\.\d{1,3})?")
_ROOT = re.compile(r"[A-G][b♭#♯]?")


@dataclass(frozen=True, slots=True)
class Cell:
    """The words of one bar, where they stand, and which bar it is on paper."""

    source: Source
    line: int
    tokens: tuple[Token, ...]
    end: int
    bar: int

    def fault(
        self, what: str, column: int | None = None, beat: str | None = None, remedy: str = ""
    ) -> ChartError:
        """An error in this bar."""
        return self.source.fault(what, self.line, column or self.end, self.bar, beat, remedy)


def cells_of(source: Source, line: int, first_bar: int, skip: int = 0) -> list[Cell]:
    """Cut a line of bars at its bar lines; ``skip`` words stand before the first."""
    tokens = list(source.tokens(line))[skip:]
    cells: list[Cell] = []
    words: list[Token] = []
    for token in tokens[1:]:
        if token.text.startswith("|"):
            bar = first_bar + len(cells)
            cells.append(Cell(source, line, tuple(words), token.column, bar))
            _check_words(cells[-1])
            words = []
        else:
            words.append(token)
    if words or not cells:
        raise source.fault(
            "the last bar of this line isn't closed",
            line,
            len(source.lines[line - 1].rstrip()) + 1,
            first_bar + len(cells),
            remedy="End the line with a bar line: |",
        )
    return cells


def _check_words(cell: Cell) -> None:
    if len(cell.tokens) > _MOST_WORDS:
        raise cell.fault(
            f"more than {_MOST_WORDS} words in one bar",
            cell.tokens[_MOST_WORDS].column,
            remedy="Put a bar line (|) after each bar.",
        )
    for token in cell.tokens:
        if token.text in "<>":
            raise cell.fault(
                "a pin isn't closed", token.column, remedy="Write pins like <in Ab>, in one bar."
            )
        if token.text.strip(":") == "" or token.text[0] == ":":
            raise cell.fault(
                "a colon stands alone",
                token.column,
                remedy="Repeats are lines of their own: 'repeat' before the bars, "
                "'end repeat' after them. A chord's length is written like F7:3/2.",
            )


@dataclass(slots=True)
class _Entry:
    text: str
    token: Token
    beats: Fraction = Fraction(1)
    pin: Token | None = None
    scale: ScalePin | None = None
    steps: list[tuple[Token, Fraction]] = field(default_factory=list)


@dataclass(slots=True)
class _Bar:
    entries: list[_Entry] = field(default_factory=list)
    is_counted: bool = False
    pin: Key | None = None


def read_chords(
    cell: Cell, meter: Meter, beats: Fraction, before: WrittenBar | None, can_hold: bool
) -> tuple[tuple[WrittenChord, ...], Key | None]:
    """Read a bar of ``beats`` beats; ``before`` is the bar written before it.

    ``can_hold`` tells whether ``%`` and a first ``/`` may look back at ``before``.
    """
    looked_back = before if can_hold else None
    pins = [t for t in cell.tokens if t.text.startswith("<")]
    if any(t.text == "%" for t in cell.tokens):
        last = _same(cell, meter, beats, looked_back)
        return last.chords, _only_key(cell, pins) or last.pin
    bar = _Bar()
    for token in cell.tokens:
        _take(cell, bar, token, looked_back)
    if not bar.entries:
        raise cell.fault(
            "an empty bar",
            beat="1",
            remedy="Write its chord, % for the same as the last bar, or N.C. for no chord.",
        )
    if not bar.is_counted:
        _share(cell, bar, meter, beats)
    else:
        _check_count(cell, bar, meter, beats)
    return tuple(_chords(cell, bar, meter)), bar.pin


def _same(cell: Cell, meter: Meter, beats: Fraction, before: WrittenBar | None) -> WrittenBar:
    sign = next(t for t in cell.tokens if t.text == "%")
    others = [t for t in cell.tokens if t is not sign and not t.text.startswith("<")]
    if others:
        raise cell.fault(
            "% stands for a whole bar",
            others[0].column,
            remedy="Write % alone between its bar lines, or / for one more beat of a chord.",
        )
    if before is None:
        raise _nothing_before(cell, sign)
    if before.length != beats * meter.beat:
        raise cell.fault(
            "the last bar had another length than this one",
            sign.column,
            remedy="Write the chords of this bar out.",
        )
    return before


def _nothing_before(cell: Cell, token: Token) -> ChartError:
    return cell.fault(
        f"{token.text} has no bar before it to look back at",
        token.column,
        "1",
        remedy="Write the chord here: a section, repeat, ending, sign or coda begins afresh.",
    )


def _only_key(cell: Cell, pins: Iterable[Token]) -> Key | None:
    bar = _Bar()
    for pin in pins:
        _pin(cell, bar, pin)
    return bar.pin


def _take(cell: Cell, bar: _Bar, token: Token, before: WrittenBar | None) -> None:
    if token.text.startswith("<"):
        _pin(cell, bar, token)
    elif token.text == "/":
        bar.is_counted = True
        if not bar.entries and before is None:
            raise _nothing_before(cell, token)
        if not bar.entries and before is not None:
            last = before.chords[-1]
            bar.entries.append(_Entry(last.text, token, Fraction(0), scale=last.scale))
        bar.entries[-1].beats += 1
        bar.entries[-1].steps.append((token, Fraction(1)))
    else:
        _check_whole(cell, bar, token)
        bar.entries.append(_entry(cell, token))
        bar.is_counted |= ":" in token.text


def _check_whole(cell: Cell, bar: _Bar, token: Token) -> None:
    if bar.entries and re.match(r"\((?![A-GN])", token.text):
        whole = f"{bar.entries[-1].text}{token.text}"[:40]
        raise cell.fault(
            f"{token.text[:40]} stands apart from its chord",
            token.column,
            remedy=f"Write a chord without spaces inside: {whole}.",
        )


def _entry(cell: Cell, token: Token) -> _Entry:
    symbol, colon, length = token.text.partition(":")
    if symbol == "/":
        raise cell.fault(
            "/ is one more beat and takes no length",
            token.column,
            remedy="Give the chord its length, as in F7:3, or write / for each beat.",
        )
    beats = read_beats(cell, Token(length, token.column + len(symbol) + 1)) if colon else 1
    own = Token(symbol, token.column)
    return _Entry(symbol.replace("\\", "|"), own, Fraction(beats), steps=[(own, Fraction(beats))])


def _chords(cell: Cell, bar: _Bar, meter: Meter) -> Iterator[WrittenChord]:
    """The chords, now that it is known where each one stands."""
    at = Fraction(0)
    for entry in bar.entries:
        if entry.token.text != "/":
            _check_chord(cell, entry, beat_label(at, meter))
        if entry.pin is not None:
            entry.scale = _scale(cell, entry, entry.pin)
        length = entry.beats * meter.beat
        yield WrittenChord(entry.text, length, entry.scale)
        at += length


def _check_chord(cell: Cell, entry: _Entry, beat: str) -> None:
    token, text = entry.token, entry.text
    try:
        chord_of(text)
        WrittenChord(text, Fraction(1))
    except ChordError as error:
        column = token.column + max((error.where.column or 1) - 1, 0)
        raise cell.fault(
            error.what,
            min(column, token.column + len(text)),
            beat,
            error.remedy or "Write it like F7, Bbmaj7, Gm7(b5) or N.C.",
        ) from None
    except ValueError:
        raise cell.fault(
            f"can't read the chord {text[:40]!r}", token.column, beat, "Write it like F7."
        ) from None


def read_beats(cell: Cell, token: Token) -> Fraction:
    """Read a number of beats: ``2``, ``3/2``, ``1.5``."""
    if _BEATS.fullmatch(token.text) and not re.search(r"/0+$", token.text):
        beats = Fraction(token.text)
        if beats > 0:
            return beats
    raise cell.fault(
        f"{token.text[:40]!r} isn't a number of beats",
        token.column,
        remedy="Write beats like 2, 3/2 or 1.5.",
    )


def _share(cell: Cell, bar: _Bar, meter: Meter, beats: Fraction) -> None:
    share = beats / len(bar.entries)
    if len(bar.entries) > 1 and share.denominator != 1:
        words = [e.token.text for e in bar.entries]
        held = max(int(beats) - len(words), 0)
        counted = " ".join((words[0], *"/" * held, *words[1:]))
        example = f", such as | {counted} |" if len(words) + held == beats else " or F7:1/2"
        raise cell.fault(
            f"{len(words)} chords don't share {beats} beats of {meter} evenly",
            bar.entries[1].token.column,
            remedy=f"Say how long each lasts, with / for one more beat{example}.",
        )
    for entry in bar.entries:
        entry.beats = share


def _check_count(cell: Cell, bar: _Bar, meter: Meter, beats: Fraction) -> None:
    found = sum((e.beats for e in bar.entries), Fraction(0))
    if found < beats:
        raise cell.fault(
            f"the bar is too short: {count_of(found)}, and {meter} asks for {beats}",
            beat=beat_label(found * meter.beat, meter),
            remedy=f"Add {_slashes(beats - found)}, or write a change of meter before the bar.",
        )
    at = Fraction(0)
    for token, length in (step for e in bar.entries for step in e.steps):
        at += length
        if at > beats:
            raise cell.fault(
                f"the bar is too full: {count_of(found)}, and {meter} has {beats}",
                token.column,
                beat_label((at - length) * meter.beat, meter),
                remedy="Close the bar with | before this, or take beats away.",
            )


def count_of(beats: Fraction) -> str:
    """A number of beats in words."""
    return f"{beats} beat{'' if beats == 1 else 's'}"


def _slashes(missing: Fraction) -> str:
    return f"{missing} / for {count_of(missing)} more" if missing.denominator == 1 else str(missing)


def _pin(cell: Cell, bar: _Bar, token: Token) -> None:
    word, _, rest = token.text[1:-1].strip().partition(" ")
    if word == "in" and rest.strip():
        bar.pin = read_key(cell.source, cell.line, Token(rest, token.column + 4), cell.bar)
    elif word == "scale" and rest.strip():
        if not bar.entries:
            raise cell.fault(
                "a scale is pinned to no chord",
                token.column,
                remedy="Write the pin after the chord it belongs to: F7 <scale mixolydian>.",
            )
        bar.entries[-1].pin = Token(rest, token.column)
    else:
        raise cell.fault(
            f"can't read the pin {token.text[:60]}",
            token.column,
            remedy="Write <in Ab> for a bar's key, or <scale mixolydian> after a chord.",
        )


def _scale(cell: Cell, entry: _Entry, token: Token) -> ScalePin:
    first, _, name = token.text.strip().partition(" ")
    has_root = bool(_ROOT.fullmatch(first)) and bool(name.strip())
    wanted = " ".join((name if has_root else token.text).split()).casefold()
    kinds = scale_kinds()
    found = next((k.id for k in kinds.values() if wanted in (k.id, k.name.casefold())), None)
    if found is None:
        raise cell.fault(
            f"unknown scale {wanted[:40]!r}",
            token.column,
            remedy=f"{nearest(wanted, list(kinds))}Known: {', '.join(kinds)}.",
        )
    if not has_root and chord_of(entry.text).is_silent:
        raise cell.fault(
            "N.C. has no root for a scale to stand on",
            token.column,
            remedy="Name the root too: <scale F mixolydian>.",
        )
    return ScalePin(found, Name.parse(first) if has_root else None)


def read_key(source: Source, line: int, token: Token, bar: int | None = None) -> Key:
    """Read a key such as ``Bb`` or ``F#m``, with at most seven sharps or flats."""
    try:
        key = Key.parse(token.text)
        if abs(key.signature) <= 7:
            return key
    except ValueError:
        pass
    raise source.fault(
        f"{token.text.strip()[:40]!r} isn't a key",
        line,
        token.column,
        bar,
        remedy="Write it like F, Bb, Cm or F#m, with at most seven sharps or flats.",
    )
