"""The same bars of the chart read the same each time they are played."""

from dataclasses import replace
from random import Random

from changewright.chart.model import Form, Pin
from changewright.reading.analyse import analyse
from changewright.reading.heard import events_of
from changewright.reading.ties import jumps
from changewright.theory.key import Key
from changewright.theory.pitch import Name
from tests.unit.reading.forms import chart

A = "Cmaj7|Am7 D7|Gm7 C7|Fmaj7|Fm7 Bb7|Em7 A7|Dm7|G7"


def played(text: str, sources: list[int]) -> Form:
    """A chart whose bars are played in the order of ``sources`` (bars of the text from 1)."""
    written = chart(text)
    parts = [text.split("|")[source - 1] for source in sources]
    form = chart("|".join(parts))
    assert len(written.bars) >= max(sources)
    bars = tuple(replace(b, source=s) for b, s in zip(form.bars, sources, strict=True))
    return replace(form, bars=bars)


def said(form: Form) -> list[tuple[int, str, str, str]]:
    sources = {bar.number: bar.source for bar in form.bars}
    return [
        (sources[one.bar], one.beat, f"{one.key} {one.numeral}", one.function.value)
        for one in analyse(form).changes
    ]


def test_repeats_agree() -> None:
    sources = [*range(1, 9), *range(1, 9), *range(9, 13), *range(1, 9)]
    found = said(played(A + "|Bbm7|Eb7|Abmaj7|Dm7 G7", sources))
    assert len({one[:2] for one in found}) == len(set(found))


def test_chorus_that_begins_in_a_held_chord_reads_it_alike_after_another_bar() -> None:
    """The F of bar 2 is held over from bar 1, but not where the chorus begins with it."""
    for first in ("C F", "F7 F", "Bb F", "Gm7 F"):
        for second in ("F Bb", "F C7", "F G7"):
            found = said(played(f"{first}|{second}", [2, 1, 2]))
            assert len({one[:2] for one in found}) == len(set(found))


def test_second_ending_is_read_by_itself() -> None:
    text = "Cmaj7|Fmaj7|Em7|A7|Dm7 G7|Gm7 C7"
    sources = [1, 2, 3, 4, 5, 1, 2, 3, 4, 6]
    found = said(played(text, sources))
    assert len({one[:2] for one in found}) == len(set(found))


def test_disagreement_is_settled_for_all_times_at_once() -> None:
    """Bar 2 alone leads to A minor or to G by what follows; written once, it reads once."""
    text = "Cmaj7|B7 E7|Am|Am|D7|G7"
    sources = [1, 2, 3, 4, 1, 2, 5, 6]
    free = analyse(
        replace(played(text, sources), bars=chart("Cmaj7|B7 E7|Am|Am|Cmaj7|B7 E7|D7|G7").bars)
    )
    loose = [(c.function, c.key) for c in free.changes]
    tied = said(played(text, sources))
    assert len({one[:2] for one in tied}) == len(set(tied))
    assert len(loose) == len(tied)


def test_held_chord_is_parted_where_a_repeat_begins() -> None:
    form = played("Dm7|Dm7", [1, 2, 1, 2])
    assert jumps(form.bars) == {form.bars[0].start, form.bars[2].start}
    assert [len(e.changes) for e in events_of(form.bars, jumps(form.bars))] == [2, 2]


def test_chart_of_nothing_but_repeats_is_settled_in_bounded_time() -> None:
    """Bars in every order: after the first few disagreements the first reading is kept."""
    rng = Random(1)
    names = [str(Name(fifths)) for fifths in range(-5, 7)]
    tails = ["7", "maj7", "m7", "m7b5", "°7", "6", "m6"]
    text = "|".join(rng.choice(names) + rng.choice(tails) for _ in range(40))
    found = said(played(text, [rng.randrange(1, 41) for _ in range(400)]))
    assert len({one[:2] for one in found}) == len(set(found))


def test_bar_pinned_in_two_ways_keeps_both() -> None:
    form = played("Dm7|G7", [1, 2, 1, 2])
    pins = (
        Pin(form.bars[0].start, form.bars[2].start, key=Key.parse("C")),
        Pin(form.bars[2].start, form.bars[3].end, key=Key.parse("F")),
    )
    read = analyse(form, pins=pins).changes
    assert [str(c.key) for c in read] == ["C", "C", "F", "F"]
