"""``changewright read``: what a teacher says of a tune before the student plays a note."""

from collections.abc import Iterable, Iterator
from typing import Annotated

import typer
from rich.table import Table

from changewright.cli.speak import console, print_json
from changewright.reading.analyse import analyse
from changewright.reading.difficulty import difficulty_of
from changewright.reading.document import reading_document
from changewright.reading.guide import GuideLine, guide_lines
from changewright.reading.model import ReadChange, Reading
from changewright.reading.questions import questions
from changewright.usecases.charts import open_form

__all__ = ["print_reading", "read"]

CLOSE = 0.5
"""A reading that costs less than this more is one that a teacher might well prefer."""


def read(
    chart: Annotated[str, typer.Argument(help="A chart file, or a chart of the shelf by name.")],
    key: Annotated[str | None, typer.Option(help="Move the chart to this key first.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Read a chart: its changes with bar numbers, each chord's tones, scale and why."""
    form = open_form(chart, key)
    reading = analyse(form)
    if as_json:
        print_json(reading_document(reading, form.tempo_bpm))
    else:
        print_reading(reading, form.tempo_bpm)


def print_reading(reading: Reading, tempo_bpm: int) -> None:
    """The tune at a glance, its changes as a table, and what to practise first."""
    out = console()
    key = reading.key.words if any(one.scales for one in reading.changes) else "no chords"
    count = len(reading.bars)
    out.print(f"{reading.title}: {key}, {count} {'bar' if count == 1 else 'bars'}", markup=False)
    close = [other for other in reading.other_homes if other.costs_more < CLOSE]
    if close:
        out.print(f"It could also be heard in {_list(o.key.words for o in close)}.", markup=False)
    out.print(_table(reading))
    for line in (*_doubts(reading), *_harmony(reading), *_practice(reading, tempo_bpm)):
        out.print(line, markup=False)


def _table(reading: Reading) -> Table:
    """The changes; a chord that goes on is not repeated, a reason is given once."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("bar", "beat", "chord", "tones", "does", "first-choice scale", "because"):
        table.add_column(title, overflow="fold")
    said: dict[str, int] = {}
    before: ReadChange | None = None
    for one in reading.changes:
        if before is None or before.change.chord != one.change.chord:
            table.add_row(*_row(one, said))
        before = one
    return table


def _row(one: ReadChange, said: dict[str, int]) -> tuple[str, ...]:
    chord = one.change.chord
    place = (str(one.bar), one.beat, one.change.text)
    if not one.scales:
        return (*place, " ".join(str(tone) for tone in chord.tones), one.doing, "", "")
    first = one.scales[0]
    scale = str(first.scale)
    because = first.because.removeprefix(f"{scale}: ")
    if because in said:
        because = f"as in bar {said[because]}"
    else:
        said[because] = one.bar
    does = f"{one.numeral} in {one.key}" + (f", {one.relation}" if one.relation else "")
    return (*place, " ".join(str(tone) for tone in chord.tones), does, scale, because)


def _doubts(reading: Reading) -> Iterator[str]:
    """Symbols that some players take otherwise, to be put to whoever wrote the chart."""
    asked = questions(reading)
    if asked:
        yield "\nTo ask whoever wrote the chart:"
    for one in asked:
        where = "bar" if len(one.bars) == 1 else "bars"
        what = "" if one.text.startswith(one.symbol) else f"{one.symbol} is "
        yield f"  {where} {_list(map(str, one.bars))}: {what}{one.text}."


def _harmony(reading: Reading) -> Iterator[str]:
    """Key areas, cadences and passages, where there is more than the tune's one key."""
    if len(reading.areas) > 1:
        areas = (f"{a.key.words} ({_bars(a.first_bar, a.last_bar)})" for a in reading.areas)
        yield f"\nKeys: {_list(areas)}."
    if reading.cadences:
        cadences = (
            f"{c.kind.value} in {c.key} ({_bars(c.first_bar, c.last_bar)})"
            for c in reading.cadences
        )
        yield f"Cadences: {_list(dict.fromkeys(cadences))}."
    for passage in reading.passages:
        yield f"{_bars(passage.first_bar, passage.last_bar).capitalize()}: {passage.words}."


def _practice(reading: Reading, tempo_bpm: int) -> Iterator[str]:
    """The two guide-tone lines, and where the tune is hard."""
    lines = guide_lines(reading)
    if lines:
        yield "\nGuide tones, one to a change:"
        yield from (f"  from the {line.starts_on}: {_guide(line)}" for line in lines)
    grade = difficulty_of(reading, tempo_bpm)
    first = " Practise first:" if grade.hardest else ""
    yield f"\nFor level {grade.level} and up.{first}"
    for bar in grade.hardest:
        yield f"  bar {bar.bar}: {_list(bar.reasons)}"


def _guide(line: GuideLine) -> str:
    return " ".join(f"{note.name}({note.degree})" for note in line.notes)


def _bars(first: int, last: int) -> str:
    return f"bar {first}" if first == last else f"bars {first}-{last}"


def _list(words: Iterable[str]) -> str:
    return ", ".join(words)
