"""A transcribed solo read in whole: the figures and phrases in it that are worth keeping."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from changewright.chart.chart import Chart
from changewright.chart.model import Form
from changewright.chart.writer import write_chart
from changewright.chart.written import Sung, WrittenBar, WrittenChord
from changewright.errors import InputError
from changewright.lesson.ground import patches_of
from changewright.lesson.phrase import PhraseNote, Span, encloses, spans_of, understood
from changewright.music.bar import Bar, Quarters
from changewright.music.line import Line, Note
from changewright.reading.analyse import analyse
from changewright.reading.model import CadenceKind, Reading
from changewright.theory.key import Key

__all__ = ["Finding", "chart_of", "excerpt", "findings"]

_HOME = (CadenceKind.TWO_FIVE_ONE, CadenceKind.MINOR_TWO_FIVE_ONE)
_MOST_BARS = 4


@dataclass(frozen=True, slots=True)
class Finding:
    """Something found in a solo: its ``kind``, the stretch [start, end) in quarters, where that is
    for a person, and its notes by index."""

    kind: str
    start: Quarters
    end: Quarters
    bar: int
    beat: str
    notes: tuple[int, ...]

    @property
    def is_phrase(self) -> bool:
        """Tell whether it is a phrase rather than a figure inside one."""
        return self.kind in ("ii-V-I phrase", "phrase")


def findings(form: Form) -> tuple[Finding, ...]:
    """Read a solo over its changes: ii-V-I phrases, other phrases up to four bars, enclosures,
    approach notes and guide-tone lines, in the order in which they come.

    Raises :class:`InputError` where there is no melody.
    """
    if form.melody is None or not form.melody.notes:
        raise InputError(
            "there are no notes here to read",
            remedy="Write the solo under its changes, or name its changes with --changes.",
        )
    # without the notes, which would bend the scales that they are to be understood against
    reading = analyse(replace(form, melody=None))
    spans = spans_of(patches_of(reading))
    notes = [n for n in form.melody.notes if any(s.start <= n.onset < s.end for s in spans)]
    known = understood(notes, spans)
    found = [
        *_homecomings(reading, notes),
        *_phrases(form, notes),
        *_figures(form, notes, known),
        *_guides(form, notes, known, spans),
    ]
    kept = {(f.start, f.notes): f for f in reversed(found)}
    return tuple(sorted(kept.values(), key=lambda f: (f.start, -len(f.notes), f.kind)))


def _found(form_bars: Sequence[Bar], kind: str, notes: Sequence[Note], which: range) -> Finding:
    first, last = notes[which[0]], notes[which[-1]]
    bar = next(b for b in form_bars if b.start <= first.onset < b.end)
    return Finding(kind, first.onset, last.end, bar.number, bar.beat_of(first.onset), tuple(which))


def _homecomings(reading: Reading, notes: Sequence[Note]) -> Iterator[Finding]:
    """From a ii to the first rest, or the first bar line, after its I is reached."""
    for cadence in reading.cadences:
        if cadence.kind not in _HOME or cadence.last <= cadence.first:
            continue
        two, one = (reading.changes[i].change for i in (cadence.first, cadence.last))
        bar = next(b for b in reading.bars if b.start <= one.onset < b.end)
        which = [i for i, n in enumerate(notes) if two.onset <= n.onset < bar.end]
        landed = [i for i in which if notes[i].end > one.onset]
        if len(which) < 4 or not landed:
            continue
        yield _found(
            reading.bars, "ii-V-I phrase", notes, range(which[0], _rest(notes, landed) + 1)
        )


def _rest(notes: Sequence[Note], among: Sequence[int]) -> int:
    """The first of some notes with a beat of rest behind it, or the last."""
    for index in among:
        after = index + 1
        if after == len(notes) or notes[after].onset - notes[index].end >= 1:
            return index
    return among[-1]


def _phrases(form: Form, notes: Sequence[Note]) -> Iterator[Finding]:
    start = 0
    for index in range(len(notes)):
        if index + 1 < len(notes) and notes[index + 1].onset - notes[index].end < 1:
            continue
        found = _found(form.bars, "phrase", notes, range(start, index + 1))
        touched = [b for b in form.bars if b.start < found.end and b.end > found.start]
        if len(found.notes) >= 4 and len(touched) <= _MOST_BARS:
            yield found
        start = index + 1


def _figures(form: Form, notes: Sequence[Note], known: Sequence[PhraseNote]) -> Iterator[Finding]:
    for index, note in enumerate(known):
        target = note.leads
        if target is None or not known[target].tone:
            continue
        if encloses(known, note):
            yield _found(form.bars, "enclosure", notes, range(min(index, target - 2), target + 1))
        elif index and known[index - 1].leads == index:
            yield _found(form.bars, "double approach", notes, range(index - 1, target + 1))
        else:
            yield _found(form.bars, "approach note", notes, range(index, target + 1))


def _guides(
    form: Form, notes: Sequence[Note], known: Sequence[PhraseNote], spans: Sequence[Span]
) -> Iterator[Finding]:
    """Thirds and sevenths that go on by step or repeat through three chords or more."""
    chains: list[list[int]] = []
    for number, span in enumerate(spans):
        guides = {d.pc for d in span.chord.guide_tones}
        here = [i for i, n in enumerate(known) if n.span == number and n.degree.pc in guides]
        going: list[list[int]] = []
        for chain in [c for c in chains if known[c[-1]].span == number - 1]:
            near = [i for i in here if abs(known[i].midi - known[chain[-1]].midi) <= 2]
            if near:
                going.append([*chain, near[0]])
                chains.remove(chain)
        chains += going + [[i] for i in here if all(i != c[-1] for c in going)]
    for chain in chains:
        if len(chain) >= 3:
            found = _found(form.bars, "guide-tone line", notes, range(chain[0], chain[-1] + 1))
            yield replace(found, notes=tuple(chain))


def excerpt(form: Form, finding: Finding) -> Form:
    """The bars of a finding with its notes alone, from bar 1."""
    bars = [b for b in form.bars if b.start < finding.end and b.end > finding.start]
    zero = bars[0].start
    melody = form.melody.notes if form.melody else ()
    kept = tuple(
        replace(n, onset=n.onset - zero) for n in melody if finding.start <= n.onset < finding.end
    )
    moved = tuple(_moved(bar, zero, number) for number, bar in enumerate(bars, start=1))
    return replace(
        form,
        title=f"{form.title}, bar {finding.bar}",
        key=_key_at(form, zero),
        bars=moved,
        melody=Line(kept, max(moved[-1].end, kept[-1].end)),
        pins=(),
        areas=(),
        digest="",
    )


def _key_at(form: Form, onset: Quarters) -> Key | None:
    return next((key for start, key in reversed(form.areas) if start <= onset), form.key)


def _moved(bar: Bar, zero: Quarters, number: int) -> Bar:
    changes = tuple(replace(c, onset=c.onset - zero) for c in bar.changes)
    return replace(bar, number=number, start=bar.start - zero, changes=changes, label="")


def chart_of(form: Form, rights: str = "") -> str:
    """The text of a short form with its melody, in our chart format."""
    bars = [
        WrittenBar(
            tuple(WrittenChord(c.text, c.duration) for c in bar.changes),
            bar.meter,
            form.key,
            pickup=bar.length < bar.meter.length,
            melody=tuple(_sung(form, bar)),
        )
        for bar in form.bars
    ]
    chart = Chart(
        title=form.title[:200],
        bars=tuple(bars),
        tempo_bpm=form.tempo_bpm,
        feel=form.feel,
        rights=rights or form.rights,
    )
    return write_chart(chart)


def _sung(form: Form, bar: Bar) -> Iterator[Sung]:
    notes = form.melody.notes if form.melody else ()
    here = [n for n in notes if n.onset < bar.end and n.end > bar.start]
    at = bar.start
    for note in here:
        if note.onset > at:
            yield Sung(None, note.onset - at)
        start, end = max(note.onset, bar.start), min(note.end, bar.end)
        yield Sung(note.pitch, end - start, held=note.onset < bar.start)
        at = end
    if here and at < bar.end:
        yield Sung(None, bar.end - at)
