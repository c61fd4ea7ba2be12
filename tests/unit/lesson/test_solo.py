"""A solo read in whole, and phrases taken from MIDI and MusicXML.

Checked against: figures planted by hand in a solo written here; notes that a general MIDI library
(mido) wrote; a score that an independent library (music21) wrote.
"""

from fractions import Fraction
from io import BytesIO

import mido
import pytest

from changewright.chart.load import decode_chart
from changewright.chart.model import form_of
from changewright.chart.reader import read_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError
from changewright.lesson.midi_melody import with_midi
from changewright.lesson.phrase import phrase_of
from changewright.lesson.solo import chart_of, excerpt, findings


def solo():
    bars = [
        ("Dm7", "F4:1/2 E4 F4 A4 C5:1 A4"),
        ("G7", "B4:1/2 A4 Ab4 F#4 G4:1/2 B4 A4 F4"),
        ("Cmaj7", "E4:2 -:2"),
        ("Cmaj7", ""),
        ("Fmaj7", "-:1/2 G#4:1/2 A4:1 C5:1 -:1"),
        ("Fmaj7", ""),
        ("Dm7(b5)", "F4:1 Ab4 C5:2"),
        ("G7(b9)", "B4:1 D5:1/2 B4 Ab4:1 F4"),
        ("Cm6", "Eb4:3 -:1"),
        ("Cm6", ""),
    ]
    symbols = " | ".join(symbol for symbol, _ in bars)
    melody = " | ".join(notes for _, notes in bars)
    return unroll(read_chart(f"title: Planted\nkey: C\n| {symbols} |\nmelody | {melody} |\n", "x"))


def test_what_was_planted_is_found_where_it_is():
    found = {(f.kind, f.bar, f.beat) for f in findings(solo())}
    assert ("ii-V-I phrase", 1, "1") in found
    assert ("ii-V-I phrase", 7, "1") in found
    assert ("enclosure", 2, "2") in found
    assert ("approach note", 5, "1.5") in found
    assert any(kind == "guide-tone line" for kind, _, _ in found)


def test_a_phrase_of_a_solo_stands_by_itself_in_our_text():
    form = solo()
    home = next(f for f in findings(form) if f.kind == "ii-V-I phrase" and f.bar == 7)
    text = chart_of(excerpt(form, home))
    again = phrase_of(unroll(read_chart(text, "again")), "again")
    assert again.progression == "minor ii-V-i, long"
    assert [str(n.degree) for n in again.notes] == [
        "b3",
        "b5",
        "b7",
        "3",
        "5",
        "3",
        "b2",
        "b7",
        "b3",
    ]


def test_every_finding_can_be_taken():
    form = solo()
    for one in findings(form):
        text = chart_of(excerpt(form, one))
        assert phrase_of(unroll(read_chart(text, "x")), "x").notes


def test_a_note_held_over_the_bar_line_survives_the_text():
    text = "title: x\nkey: C\n| Dm7 | G7 |\nmelody | A4:3 F4:1 | ~:2 D4 |\n"
    form = unroll(read_chart(text, "x"))
    again = unroll(read_chart(chart_of(form), "x"))
    assert again.melody == form.melody


def midi(*events, ticks=480, channel=0):
    """Notes as (start, end, number) in quarters."""
    marks = [(round(a * ticks), 1, n) for a, _, n in events]
    marks += [(round(b * ticks), 0, n) for _, b, n in events]
    track, now = mido.MidiTrack(), 0
    for at, on, number in sorted(marks):
        kind = "note_on" if on else "note_off"
        track.append(mido.Message(kind, note=number, time=at - now, channel=channel))
        now = at
    file = mido.MidiFile(ticks_per_beat=ticks)
    file.tracks.append(track)
    written = BytesIO()
    file.save(file=written)
    return written.getvalue()


def test_midi_is_set_over_its_changes_and_taken_to_the_grid():
    form = form_of([("Dm7", 4), ("G7", 4), ("Cmaj7", 4)])
    played = midi(
        (0.02, 0.45, 62), (0.51, 0.97, 65), (1.0, 1.31, 69), (1.34, 1.65, 72), (4.03, 6, 71)
    )
    notes = with_midi(form, played, "x.mid").melody.notes
    assert [n.onset for n in notes] == [0, Fraction(1, 2), 1, Fraction(4, 3), 4]
    assert [n.duration for n in notes[:3]] == [Fraction(1, 2), Fraction(1, 2), Fraction(1, 3)]
    assert [str(n.pitch) for n in notes] == ["D4", "F4", "A4", "C5", "B4"]


def test_of_notes_together_the_highest_counts_and_drums_do_not():
    form = form_of([("Dm7", 4)])
    both = with_midi(form, midi((0, 1, 62), (0, 1, 69)), "x").melody.notes
    assert [n.pitch.midi for n in both] == [69]
    with pytest.raises(InputError, match="no notes"):
        with_midi(form, midi((0, 1, 40), channel=9), "x")


@pytest.mark.parametrize(
    "content", [b"", b"MThd", b"MThd\0\0\0\6\0\1\0\1\0\0" + b"\xff" * 30, b"x" * 99]
)
def test_what_is_no_midi_is_said_so(content):
    with pytest.raises(InputError):
        with_midi(form_of([("Dm7", 4)]), content, "x.mid")


def test_midi_longer_than_its_changes_is_said_so():
    with pytest.raises(InputError, match="its changes last 4"):
        with_midi(form_of([("Dm7", 4)]), midi((0, 1, 60), (9, 10, 60)), "x.mid")


def test_a_phrase_comes_from_musicxml(tmp_path):
    music21 = pytest.importorskip("music21")
    part = music21.stream.Part()
    for symbol, pitches in (("Dm7", "D4 F4 A4 C5"), ("G7", "B4 A4 G4 F4"), ("C", "E4")):
        bar = music21.stream.Measure()
        bar.append(music21.harmony.ChordSymbol(symbol))
        for name in pitches.split():
            bar.append(music21.note.Note(name, quarterLength=4 if pitches == "E4" else 1))
        part.append(bar)
    path = part.write("musicxml", fp=tmp_path / "mine.musicxml")
    form = unroll(decode_chart(path.read_bytes(), "mine.musicxml"))
    phrase = phrase_of(form, "mine")
    assert phrase.progression == "major ii-V-I, long"
    assert [str(n.degree) for n in phrase.notes] == ["1", "b3", "5", "b7", "3", "2", "1", "b7", "3"]


def test_a_chart_without_a_melody_has_nothing_to_find():
    with pytest.raises(InputError, match="no notes"):
        findings(form_of([("Dm7", 4)]))
