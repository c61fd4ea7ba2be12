"""What was decided without asking when a part was written out: respellings, octaves, own lines."""

from collections.abc import Iterator

from changewright.music.notated import Notation
from changewright.page.symbol import name_text
from changewright.theory.pitch import Name
from changewright.theory.symbols import write_symbol
from changewright.usecases.book_lines import ReaderLine

__all__ = ["decisions"]

_OCTAVES = {1: "an octave", 2: "two octaves", 3: "three octaves", 4: "four octaves"}


def decisions(line: ReaderLine, notation: Notation) -> list[str]:
    """Every automatic move and respelling of one reader's exercise, in words."""
    return [*_octave(line), *_key(notation), *_chords(notation), *_notes(notation)]


def _octave(line: ReaderLine) -> Iterator[str]:
    if line.octaves:
        way = "up" if line.octaves > 0 else "down"
        far = _OCTAVES[abs(line.octaves)]
        yield f"moved {way} {far} from the line of the {line.leader.name} edition"


def _key(notation: Notation) -> Iterator[str]:
    strict = Name(notation.sheet.key.tonic.fifths + notation.sheet.instrument.written_up.fifths)
    if strict != notation.key.tonic:
        mode = notation.key.mode
        yield f"read in {name_text(notation.key.tonic)} {mode}, not {name_text(strict)} {mode}"


def _chords(notation: Notation) -> Iterator[str]:
    for bar in notation.bars:
        for change, written in zip(bar.bar.changes, bar.chords, strict=True):
            strict = change.chord.transpose(notation.up) if change.chord.root else change.chord
            if strict.root != written.chord.root and written.is_new:
                symbol, instead = write_symbol(written.chord), write_symbol(strict)
                yield f"bar {bar.bar.number}: {symbol} for {instead}"


def _notes(notation: Notation) -> Iterator[str]:
    for bar in notation.bars:
        told = [
            f"{name_text(mark.pitch.name)} for {name_text((mark.source.pitch + notation.up).name)}"
            for mark in bar.marks
            if mark.pitch is not None
            and mark.source is not None
            and mark.pitch.name != (mark.source.pitch + notation.up).name
        ]
        if told:
            yield f"bar {bar.bar.number}: {', '.join(dict.fromkeys(told))}"
