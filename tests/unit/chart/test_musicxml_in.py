"""Lead sheets as notation editors write them.

The scores are invented; their elements follow the W3C MusicXML 4.0 specification and its
published examples of use.
"""

import io
import re
import zipfile
from fractions import Fraction

import pytest

from changewright.chart.chart import Chart
from changewright.chart.load import load_chart
from changewright.chart.musicxml import read_musicxml
from changewright.chart.unroll import unroll
from changewright.errors import ChartError

DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE score-partwise PUBLIC '
    '"-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
ATTRIBUTES = (
    "<attributes><divisions>2</divisions><key><fifths>-1</fifths></key>"
    "<time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
)
REST = '<note><rest measure="yes"/><duration>8</duration><voice>1</voice></note>'


def harmony(root: str, kind: str = "major", text: str = "", rest: str = "") -> str:
    alter = {"b": "<root-alter>-1</root-alter>", "#": "<root-alter>1</root-alter>"}
    attribute = f' text="{text}"' if text else ""
    return (
        f"<harmony><root><root-step>{root[0]}</root-step>{alter.get(root[1:], '')}</root>"
        f"<kind{attribute}>{kind}</kind>{rest}</harmony>"
    )


def note(pitch: str, duration: int, extra: str = "", before: str = "", voice: str = "1") -> str:
    alter = f"<alter>{ {'b': -1, '#': 1}[pitch[1]] }</alter>" if len(pitch) > 2 else ""
    return (
        f"<note>{before}<pitch><step>{pitch[0]}</step>{alter}<octave>{pitch[-1]}</octave></pitch>"
        f"<duration>{duration}</duration>{extra}<voice>{voice}</voice></note>"
    )


def score(*measures: str, head: str = "", attributes: str = ATTRIBUTES) -> bytes:
    body = [attributes + measures[0], *measures[1:]]
    parts = "".join(f'<measure number="{i}">{m}</measure>' for i, m in enumerate(body, 1))
    return (
        f'{DOCTYPE}<score-partwise version="4.0">{head}<part-list><score-part id="P1">'
        f'<part-name>Lead</part-name></score-part></part-list><part id="P1">{parts}</part>'
        "</score-partwise>"
    ).encode()


def read(*measures: str, **options: str) -> Chart:
    return read_musicxml(score(*measures, **options), "tune.musicxml")


def symbols(chart: Chart) -> list[str]:
    return [" ".join(c.text for c in bar.changes) for bar in unroll(chart).bars]


def tune(chart: Chart) -> list[tuple[Fraction, Fraction, str]]:
    melody = unroll(chart).melody
    return [(n.onset, n.duration, str(n.pitch)) for n in melody.notes] if melody else []


def plain(root: str) -> str:
    return harmony(root) + REST


@pytest.mark.parametrize(
    ("element", "symbol"),
    [
        (harmony("F", "dominant"), "F7"),
        (harmony("Bb", "major-seventh", "Maj7"), "BbMaj7"),
        (harmony("C", "minor-seventh", "-7"), "C-7"),
        (harmony("F#", "half-diminished"), "F#m7(b5)"),
        (harmony("D", "suspended-fourth", "sus"), "Dsus"),
        (harmony("C", "other", "7alt"), "C7alt"),
        (harmony("G", "none"), "N.C."),
        (harmony("C", "dominant-13th", "13"), "C13"),
        (
            harmony(
                "G",
                "dominant",
                "7",
                "<degree><degree-value>9</degree-value><degree-alter>-1</degree-alter>"
                "<degree-type>add</degree-type></degree>",
            ),
            "G7(b9)",
        ),
        (
            harmony("C", "major", "", "<bass><bass-step>E</bass-step></bass>"),
            "C/E",
        ),
    ],
)
def test_kinds_degrees_bass_and_text(element: str, symbol: str) -> None:
    assert symbols(read(element + REST)) == [symbol]


def test_harmonies_stand_where_their_offset_says() -> None:
    later = harmony("C", "dominant", "", "<offset>4</offset>")
    chart = read(
        harmony("F") + later + REST, harmony("Bb") + note("D4", 4) + harmony("G") + note("E4", 4)
    )
    lengths = [(c.text, c.length) for bar in chart.bars for c in bar.chords]
    assert lengths == [("F", 2), ("C7", 2), ("Bb", 2), ("G", 2)]


def test_a_chord_goes_on_until_the_next_and_silence_comes_before_the_first() -> None:
    chart = read(note("C4", 4) + harmony("F") + note("A4", 4), REST)
    assert symbols(chart) == ["N.C. F", "F"]


def test_a_short_first_measure_is_a_pickup_and_a_short_last_one_is_filled() -> None:
    chart = read(note("C5", 2), harmony("F") + note("A4", 8), harmony("C") + note("G4", 6))
    form = unroll(chart)
    assert [bar.number for bar in form.bars] == [0, 1, 2]
    assert [bar.length for bar in form.bars] == [1, 4, 4]
    assert tune(chart) == [(0, 1, "C5"), (1, 4, "A4"), (5, 3, "G4")]


def test_repeats_without_a_beginning_and_endings_without_an_end() -> None:
    first = '<barline location="left"><ending number="1" type="start"/></barline>'
    back = (
        '<barline location="right"><ending number="1" type="stop"/>'
        '<repeat direction="backward"/></barline>'
    )
    second = '<barline location="left"><ending number="2" type="start"/></barline>'
    chart = read(plain("C"), plain("D"), first + plain("E") + back, second + plain("F"), plain("G"))
    assert symbols(chart) == ["C", "D", "E", "C", "D", "F", "G"]
    assert symbols(read(plain("C"), first + plain("E") + back, plain("F"))) == ["C", "E", "C", "F"]


def test_a_repeat_says_how_often() -> None:
    back = '<barline location="right"><repeat direction="backward" times="3"/></barline>'
    assert symbols(read(plain("C") + back, plain("D"))) == ["C", "C", "C", "D"]


JUMPS = {
    "sound": (
        '<direction><direction-type><segno/></direction-type><sound segno="s"/></direction>',
        '<sound tocoda="c"/>',
        "<direction><direction-type><words>D.S.</words></direction-type>"
        '<sound dalsegno="s"/></direction>',
        '<direction><direction-type><coda/></direction-type><sound coda="c"/></direction>',
    ),
    "words": (
        "<direction><direction-type><segno/></direction-type></direction>",
        "<direction><direction-type><words>To Coda</words></direction-type></direction>",
        "<direction><direction-type><words>D.S. al Coda</words></direction-type></direction>",
        "<direction><direction-type><coda/></direction-type></direction>",
    ),
    "glyphs": (
        "<direction><direction-type><segno/></direction-type></direction>",
        "<direction><direction-type><coda/></direction-type></direction>",
        "<direction><direction-type><words>D.S. al Coda</words></direction-type></direction>",
        "<direction><direction-type><coda/></direction-type></direction>",
    ),
}


@pytest.mark.parametrize("how", JUMPS)
def test_back_to_the_sign_then_to_the_coda(how: str) -> None:
    sign, to_coda, back, coda = JUMPS[how]
    chart = read(
        plain("C"), sign + plain("D"), plain("E") + to_coda, plain("F") + back, coda + plain("G")
    )
    assert symbols(chart) == ["C", "D", "E", "F", "D", "E", "G"]


def test_da_capo_al_fine() -> None:
    fine = "<direction><direction-type><words>Fine</words></direction-type></direction>"
    back = "<direction><direction-type><words>D.C. al Fine</words></direction-type></direction>"
    assert symbols(read(plain("C") + fine, plain("D") + back)) == ["C", "D", "C"]


def test_a_transposing_part_comes_out_at_concert_pitch() -> None:
    clarinet = ATTRIBUTES.replace("-1", "2").replace(
        "</attributes>",
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>",
    )
    chart = read(harmony("D", "dominant", "7") + note("F#4", 8), attributes=clarinet)
    assert symbols(chart) == ["C7"]
    assert str(chart.key) == "C"
    assert tune(chart) == [(0, 4, "E4")]


def test_the_melody_is_the_top_of_the_first_voice_with_ties_joined() -> None:
    stacked = note("C5", 4) + note("E5", 4, before="<chord/>")
    grace = "<note><grace/><pitch><step>B</step><octave>4</octave></pitch><voice>1</voice></note>"
    low = "<backup><duration>8</duration></backup>" + note("C3", 8, voice="2")
    tied = note("D5", 4, '<tie type="start"/>')
    going = note("D5", 2, '<tie type="stop"/>') + note("F4", 6)
    chart = read(harmony("C") + stacked + grace + tied + low, going)
    assert tune(chart) == [(0, 2, "E5"), (2, 3, "D5"), (5, 3, "F4")]


def test_slashes_and_cues_are_no_melody() -> None:
    slash = note("B4", 8).replace("</voice>", "</voice><notehead>slash</notehead>")
    assert unroll(read(harmony("C") + slash)).melody is None


def test_triplets_are_exact() -> None:
    thirds = ATTRIBUTES.replace("<divisions>2", "<divisions>3")
    notes = note("C5", 1) + note("D5", 1) + note("E5", 1) + note("F5", 9)
    chart = read(harmony("C") + notes, attributes=thirds)
    third = Fraction(1, 3)
    assert tune(chart)[:3] == [(0, third, "C5"), (third, third, "D5"), (2 * third, third, "E5")]


def test_heading_tempo_feel_and_rehearsal_letters() -> None:
    head = (
        "<work><work-title>Tar  Barrel</work-title></work><identification>"
        '<creator type="composer">Trombone, Thursday</creator><rights>(c) someone</rights>'
        "</identification>"
    )
    mark = (
        "<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>"
        "<direction><direction-type><words>Bossa</words></direction-type><direction-type>"
        "<metronome><beat-unit>half</beat-unit><per-minute>66</per-minute></metronome>"
        "</direction-type></direction>"
    )
    again = mark.replace("Bossa", "")
    chart = read(mark + plain("C"), again + plain("D"), head=head)
    assert (chart.title, chart.by) == ("Tar Barrel", "Trombone, Thursday")
    assert (chart.tempo_bpm, chart.feel) == (132, "bossa")
    assert chart.rights == "unknown, (c) someone"
    assert [bar.section for bar in chart.bars] == ["A", "A-2"]


def test_meter_and_key_changes_and_composite_meters() -> None:
    change = (
        "<attributes><key><fifths>-3</fifths><mode>minor</mode></key>"
        "<time><beats>3+2</beats><beat-type>8</beat-type></time></attributes>"
    )
    chart = read(plain("C"), change + harmony("D") + note("D4", 5))
    assert [str(bar.meter) for bar in chart.bars] == ["4/4", "5/8"]
    assert [str(bar.key) for bar in chart.bars] == ["F", "Cm"]


def test_a_sign_for_the_last_bar_again_copies_its_chords() -> None:
    start = (
        '<attributes><measure-style><measure-repeat type="start">1</measure-repeat>'
        "</measure-style></attributes>"
    )
    stop = start.replace('"start">1', '"stop">')
    two = harmony("C") + note("C4", 4) + harmony("G", "dominant") + note("G4", 4)
    chart = read(two, start + REST, REST, stop + REST)
    assert symbols(chart) == ["C G7", "C G7", "C G7", "G7"]


@pytest.mark.parametrize(
    ("mode", "last", "key"),
    [
        ("", harmony("D", "minor-sixth"), "Dm"),
        ("", harmony("D", "dominant"), "F"),
        ("", harmony("F", "major-sixth"), "F"),
        ("<mode>major</mode>", harmony("D", "minor-sixth"), "F"),
        ("<mode>minor</mode>", harmony("F", "major-sixth"), "Dm"),
        ("<mode>none</mode>", harmony("D", "minor"), "Dm"),
    ],
)
def test_a_signature_without_a_mode_asks_the_last_chord(mode: str, last: str, key: str) -> None:
    attributes = ATTRIBUTES.replace("</fifths>", f"</fifths>{mode}")
    assert str(read(plain("Bb"), last + REST, attributes=attributes).key) == key


def test_the_part_with_the_chord_symbols_is_read() -> None:
    drums = '<part id="P0"><measure number="1">' + ATTRIBUTES + REST + "</measure></part>"
    text = score(plain("C")).replace(b'<part id="P1">', drums.encode() + b'<part id="P1">')
    assert symbols(read_musicxml(text)) == ["C"]


def test_a_timewise_score_is_turned() -> None:
    text = (
        '<score-timewise version="4.0"><measure number="1"><part id="P1">'
        f"{ATTRIBUTES}{plain('C')}</part></measure>"
        f'<measure number="2"><part id="P1">{plain("D")}</part></measure></score-timewise>'
    )
    assert symbols(read_musicxml(text.encode())) == ["C", "D"]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "iso-8859-1"])
def test_encodings(encoding: str) -> None:
    text = score(plain("C"), head="<work><work-title>Café</work-title></work>").decode()
    content = text.replace("UTF-8", encoding).encode(encoding)
    assert read_musicxml(content).title == "Café"


def mxl(content: bytes, path: str = "score.xml", container: str | None = None) -> bytes:
    rootfile = f'<container><rootfiles><rootfile full-path="{path}"/></rootfiles></container>'
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", rootfile if container is None else container)
        archive.writestr(path, content)
    return packed.getvalue()


def test_compressed_scores(tmp_path) -> None:
    path = tmp_path / "tune.mxl"
    path.write_bytes(mxl(score(plain("C"))))
    assert symbols(load_chart(path)) == ["C"]


def fault(content: bytes) -> ChartError:
    with pytest.raises(ChartError) as caught:
        read_musicxml(content, "tune.musicxml")
    return caught.value


def test_bars_too_full_and_too_short_name_bar_and_beat() -> None:
    full = fault(score(plain("C"), harmony("D") + note("D4", 9)))
    assert (full.where.bar, full.where.beat) == (2, "5")
    assert "too full: 9/2 beats in 4/4" in full.what
    short = fault(score(plain("C"), harmony("D") + note("D4", 5), plain("E")))
    assert (short.where.bar, short.where.beat) == (2, "3.5")
    assert "too short" in short.what


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "broken XML"),
        (b"<a>", "isn't a MusicXML score|broken XML"),
        (b"<html></html>", "<html> isn't a MusicXML score"),
        (score(REST), "no chord symbols"),
        (score(harmony("H") + REST), "can't read a chord symbol"),
        (score(harmony("C", "cluster") + REST), "can't read a chord symbol"),
        (score(plain("C")).replace(b"<divisions>2", b"<divisions>0"), "0 divisions"),
        (score(plain("C")).replace(b"<divisions>2", b"<divisions>x"), "isn't a whole number"),
        (score(plain("C")).replace(b"<beat-type>4", b"<beat-type>5"), "a meter that can't"),
        (score(plain("C")).replace(b"<fifths>-1", b"<fifths>-99"), "-99 fifths"),
        (score(plain("C")).replace(b"<duration>8", b"<duration>-8"), "isn't a duration"),
        (score(plain("C")).replace(b"UTF-8", b"KOI-9"), "broken XML|encoding"),
        (score(plain("C"))[:-40], "broken XML"),
        (score(plain("C"), "<x>\x00</x>"), "broken XML"),
    ],
)
def test_broken_scores(content: bytes, what: str) -> None:
    assert re.search(what, fault(content).what)
