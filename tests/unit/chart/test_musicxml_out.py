"""Our MusicXML read by an independent reader, and by our own.

Source of the independent reading: music21 10 (a general-purpose toolkit), its MusicXML importer
and its expansion of repeats.
"""

from fractions import Fraction

import pytest
from music21 import bar as m21_bar
from music21 import converter, harmony, key, meter, note, stream, tempo

from changewright.chart.load import load_chart
from changewright.chart.musicxml import laid_out, read_musicxml, write_musicxml, write_mxl
from changewright.chart.reader import read_chart
from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.unroll import unroll
from changewright.chart.written import WrittenBar
from changewright.music.bar import Bar

MELODY = """\
title: Nine Ropes
key: Eb
meter: 3/4
pickup 1
| Bb7 |
melody | G4:1/3 Ab4 A4 |
section A
| Ebmaj7 | Cm7 / F7 | Fm7:3/2 Bb7:3/2 | Eb6 |
melody | Bb4:3/2 C5:1/2 D5 Eb5 | ~:1 - C5 | B4:3/4 Bb4:1/4 G4:2 | Eb4:2/3 F4 G4 Bb4:1 |
meter 6/8
key G
| G6 | Am7 D7 |
melody | D5:3 B4:1 A4 G4 | ~:6 |
"""


def read_by_music21(text: str) -> stream.Part:
    score = converter.parse(text, format="musicxml")
    return score.parts[0]


def measures(part: stream.Part) -> list[stream.Measure]:
    expanded = part.expandRepeats() if part[m21_bar.Repeat] else part
    return list(expanded.getElementsByClass(stream.Measure))


def chords(measure: stream.Measure) -> list[tuple[Fraction, str]]:
    symbols = measure.recurse().getElementsByClass(harmony.ChordSymbol)
    return [
        (Fraction(s.offset), "N.C." if isinstance(s, harmony.NoChord) else s.root().name)
        for s in symbols
    ]


def ours(bar: Bar) -> list[tuple[Fraction, str]]:
    return [
        (c.onset - bar.start, str(c.chord.root or "N.C.").replace("b", "-")) for c in bar.changes
    ]


@pytest.mark.parametrize("name", shelf())
def test_an_independent_reader_plays_the_same_bars(name: str) -> None:
    chart = shelf_chart(name)
    form, part = unroll(chart), read_by_music21(write_musicxml(chart))
    played = measures(part)
    assert len(played) == len(form.bars)
    for bar, measure in zip(form.bars, played, strict=True):
        assert chords(measure) == ours(bar)
        assert measure.barDuration.quarterLength == bar.length
    signature = part.recurse().getElementsByClass(key.KeySignature).first()
    assert chart.key
    assert signature.sharps == chart.key.signature
    assert part.recurse().getElementsByClass(tempo.MetronomeMark).first().number == chart.tempo_bpm


def test_an_independent_reader_hears_the_same_melody() -> None:
    form = unroll(read_chart(MELODY))
    part = read_by_music21(write_musicxml(read_chart(MELODY))).stripTies()
    heard = [
        (Fraction(n.getOffsetInHierarchy(part)).limit_denominator(48), n.pitch.midi)
        for n in part.recurse().getElementsByClass(note.Note)
    ]
    assert form.melody
    assert heard == [(n.onset, n.pitch.midi) for n in form.melody.notes]
    lengths = [
        Fraction(n.quarterLength).limit_denominator(48)
        for n in part.recurse().getElementsByClass(note.Note)
    ]
    assert lengths == [n.duration for n in form.melody.notes]
    times = [m.ratioString for m in part.recurse().getElementsByClass(meter.TimeSignature)]
    assert times == ["3/4", "6/8"]


def test_a_melody_comes_back() -> None:
    chart = read_chart(MELODY)
    assert read_musicxml(write_musicxml(chart).encode(), "x") == chart


def test_a_form_is_written_out_with_a_name_for_each_time() -> None:
    chart = laid_out(shelf_chart("chandlery-ledger"))
    named = [bar for bar in chart.bars if bar.section]
    assert [bar.section for bar in named] == ["A", "B", "A-3", "C"]
    assert len(chart.bars) == 32
    assert all(isinstance(bar, WrittenBar) for bar in chart.bars)


def test_compressed_scores_are_read_by_both(tmp_path) -> None:
    chart = shelf_chart("quayside-blues")
    path = tmp_path / "blues.mxl"
    path.write_bytes(write_mxl(chart))
    assert load_chart(path) == chart
    assert len(measures(converter.parse(path).parts[0])) == 12
    assert write_mxl(chart) == path.read_bytes()


def test_same_chart_same_bytes() -> None:
    one, two = (write_musicxml(shelf_chart("harbourmasters-round")) for _ in "ab")
    assert one == two


def test_marks_are_written_as_musicians_read_them() -> None:
    chart = read_chart("sign\n| C |\nto coda\n| F |\nback to the sign, then the coda\ncoda\n| G |")
    text = write_musicxml(chart)
    for said in ("<segno />", "To Coda", "D.S. al Coda", "<coda />", 'dalsegno="1"'):
        assert said in text
    assert read_musicxml(text.encode(), "untitled") == chart


def test_an_independent_reader_needs_no_other_accidentals() -> None:
    """Source: music21's own working-out of which accidentals a reader needs."""
    part = read_by_music21(write_musicxml(read_chart(MELODY)))
    printed = [shown(n) for n in part.recurse().getElementsByClass(note.Note)]
    worked_out = part.makeAccidentals(overrideStatus=True, cautionaryNotImmediateRepeat=False)
    needed = [shown(n) for n in worked_out.recurse().getElementsByClass(note.Note)]
    assert printed == needed
    assert printed.count("natural") == 2


def shown(one: note.Note) -> str:
    accidental = one.pitch.accidental
    return accidental.name if accidental is not None and accidental.displayStatus else ""


def test_tuplets_are_bracketed_and_short_notes_beamed() -> None:
    text = write_musicxml(read_chart(MELODY))
    assert text.count('<tuplet type="start" />') == text.count('<tuplet type="stop" />') == 2
    begun, ended = (text.count(f'<beam number="1">{word}<') for word in ("begin", "end"))
    assert begun == ended > 0
    assert '<beam number="2">backward hook<' in text


@pytest.mark.parametrize(("count", "normal"), [(5, 4), (7, 4), (6, 4), (9, 8)])
def test_any_division_of_a_beat_is_written_as_a_tuplet(count: int, normal: int) -> None:
    tones = " ".join([f"C5:1/{count}", *["D5"] * (count - 1)])
    chart = read_chart(f"title: X\n| C |\nmelody | {tones} -:3 |")
    text = write_musicxml(chart)
    assert read_musicxml(text.encode()) == chart
    heard = read_by_music21(text).recurse().getElementsByClass(note.Note)
    assert sum(Fraction(n.quarterLength).limit_denominator(100) for n in heard) == 1
    if count in (5, 7):
        assert f"<actual-notes>{count}</actual-notes>" in text
        assert f"<normal-notes>{normal}</normal-notes>" in text
