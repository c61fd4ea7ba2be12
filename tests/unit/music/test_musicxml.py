import xml.etree.ElementTree as ET
from functools import cache

import music21
import pytest
import verovio
from lxml import etree

from changewright.music.bar import Meter
from changewright.music.musicxml import write_musicxml
from changewright.music.notation import notate
from changewright.music.sheet import Sheet
from changewright.theory.pitch import Interval
from tests.unit.music.schema import published_schema
from tests.unit.page.sheets import E8, LETTERS, F, Q, random_rhythms, sheet_of


@pytest.fixture(scope="session")
def schema(tmp_path_factory) -> etree.XMLSchema:
    return published_schema(tmp_path_factory.mktemp("schema"))


SHEETS: dict[str, Sheet] = {
    "a blues for tenor": sheet_of(labels=LETTERS),
    "mixed rhythms for alto": sheet_of(
        instrument_id="alto saxophone", rhythm=random_rhythms(3), labels=LETTERS, seed=3
    ),
    "blanks for double bass": sheet_of(instrument_id="double bass", blank=(2, 4, 7)),
    "three-four with a pickup": sheet_of(
        [("Gm7", 3), ("C7(b9)", 3), ("Fmaj7", 3), ("F6", 3)],
        meter=Meter(3, 4),
        instrument_id="trombone",
        rhythm=(Q, Q, Q),
        pickup=Q,
    ),
    "six-eight for viola": sheet_of(
        [("Cm7", 6), ("Abmaj7(#11)/C", 6)],
        meter=Meter(6, 8),
        instrument_id="viola",
        key="Cm",
        rhythm=(E8,) * 6,
        feel="even eighths",
    ),
    "no chord for tenor voice": sheet_of(
        [("C7", 4), ("N.C.", 4), ("C7alt", 2), ("F°7", 2)], instrument_id="tenor voice", key="C"
    ),
    "respelled for alto": sheet_of(
        [("E7", 4), ("B7(#5)", 4)], instrument_id="alto saxophone", key="E", rhythm=(F(1, 3),) * 12
    ),
}
every_sheet = pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS.keys())


def test_chords_are_valid_by_the_published_schema(schema):
    sheet = SHEETS["a blues for tenor"]
    above = {n.onset: (n.pitch + Interval.parse("M3"), n.pitch + Interval.parse("P5"))
             for n in sheet.line.notes}  # fmt: skip
    root = etree.fromstring(write_musicxml(sheet, above=above).encode())
    schema.assertValid(root)
    notes = root.findall(".//note[pitch]")
    assert len(notes) == 3 * len([n for n in notes if n.find("chord") is None])


@every_sheet
def test_it_is_valid_by_the_published_schema(sheet, schema):
    document = etree.fromstring(write_musicxml(sheet).encode())
    assert schema.validate(document), schema.error_log


@cache
def parsed(text: str) -> music21.stream.Score:
    return music21.converter.parse(text, format="musicxml")


def exact(quarters: float) -> F:
    return F(quarters).limit_denominator(48)


def sung(sheet: Sheet) -> list[tuple[F, F, int]]:
    """Onset, duration and MIDI number of each sounding note of the sheet that is not blank."""
    return [(n.onset, n.duration, n.pitch.midi) for n in sheet.line.notes if not n.blank]


@every_sheet
def test_a_first_reader_hears_the_same_line_at_concert_pitch(sheet):
    part = parsed(write_musicxml(sheet)).parts[0].toSoundingPitch().stripTies()
    heard = [
        (
            F(n.getOffsetInHierarchy(part)).limit_denominator(48),
            n.duration.quarterLength,
            n.pitch.midi,
        )
        for n in part.recurse().notes
        if isinstance(n, music21.note.Note)
    ]
    assert heard == sung(sheet)


@every_sheet
def test_a_first_reader_sees_the_written_spelling_figures_and_changes(sheet):
    notation = notate(sheet)
    part = parsed(write_musicxml(sheet)).parts[0]
    notes = [n for n in part.recurse().notes if isinstance(n, music21.note.Note)]
    marks = [m for b in notation.bars for m in b.marks if m.pitch is not None]
    assert [n.pitch.name.replace("-", "b") for n in notes] == [str(m.pitch.name) for m in marks]
    lyrics = [n.lyric.replace("♭", "b").replace("♯", "#") if n.lyric else "" for n in notes]
    assert lyrics == [str(m.figure) if m.figure else "" for m in marks]
    symbols = list(part.recurse().getElementsByClass(music21.harmony.ChordSymbol))
    roots = [s.root().name.replace("-", "b") for s in symbols if s.chordKind != "none"]
    wanted = [str(c.chord.root) for b in notation.bars for c in b.chords if c.chord.root]
    assert roots == wanted
    signature = part.recurse().getElementsByClass(music21.key.KeySignature)[0]
    assert signature.sharps == notation.key.signature


@every_sheet
def test_a_second_reader_agrees(sheet):
    # Verovio's MusicXML importer shares no code with the first reader
    toolkit = verovio.toolkit()
    assert toolkit.loadData(write_musicxml(sheet))
    mei = ET.fromstring(toolkit.getMEI())
    space = "{http://www.music-encoding.org/ns/mei}"
    notes = list(mei.iter(f"{space}note"))
    notation = notate(sheet)
    marks = [m for b in notation.bars for m in b.marks if m.pitch is not None]
    shift = -1 if notation.clef == "treble8" else 0
    assert [(n.get("pname"), int(n.get("oct", "0"))) for n in notes] == [
        (m.pitch.name.letter.lower(), m.pitch.octave + shift) for m in marks
    ]
    figures = [s.text for s in mei.iter(f"{space}syl")]
    wanted = [str(m.figure).replace("b", "♭").replace("#", "♯") for m in marks if m.figure]
    assert figures == wanted
    assert len(list(mei.iter(f"{space}measure"))) == len(sheet.bars)


def test_lines_break_where_sections_begin():
    root = ET.fromstring(write_musicxml(SHEETS["a blues for tenor"]))
    breaks = [m.get("number") for m in root.iter("measure") if m.find("print") is not None]
    assert breaks == ["5", "9"]


def test_swing_tempo_letters_and_label_are_told():
    sheet = SHEETS["a blues for tenor"]
    root = ET.fromstring(write_musicxml(sheet))
    assert root.find(".//swing/first").text == "2"
    assert root.find(".//sound").get("tempo") == "92"
    assert [r.text for r in root.iter("rehearsal")] == ["A", "B", "C"]
    assert root.find(".//miscellaneous-field").text == sheet.recipe.label


def test_blanks_are_hidden_and_their_targets_are_words():
    root = ET.fromstring(write_musicxml(SHEETS["blanks for double bass"]))
    second = next(m for m in root.iter("measure") if m.get("number") == "2")
    assert all(n.get("print-object") == "no" for n in second.iter("note"))
    assert [w.text for w in second.iter("words")]
    shown = ET.fromstring(write_musicxml(SHEETS["blanks for double bass"], answers=True))
    assert not [n for n in shown.iter("note") if n.get("print-object") == "no"]


def test_same_sheet_same_text():
    sheet = SHEETS["mixed rhythms for alto"]
    assert write_musicxml(sheet) == write_musicxml(sheet)
