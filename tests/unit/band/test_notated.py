from fractions import Fraction

import pytest

from changewright.band.accompany import accompany
from changewright.band.clocks import clocks_of
from changewright.band.feel import feels
from changewright.band.notated import bass_sheet, comping_part
from changewright.music.musicxml import write_musicxml
from tests.unit.band.material import BLUES, MINOR, reading


@pytest.mark.parametrize("name", sorted(feels()))
def test_what_is_written_is_what_is_played(name: str) -> None:
    sheet = bass_sheet(reading(BLUES), bpm=120, feel=name, seed=6, level=5)
    played = accompany(reading(BLUES), bpm=120, feel=name, seed=6, level=5)
    clock = clocks_of(name, 120).band
    heard = {(e.midi, round(e.onset_s, 1)) for e in played.part("bass").events}
    near = 0
    for note in sheet.line.notes:
        at = clock.to_seconds(note.onset)
        near += any(midi == note.pitch.midi and abs(onset - at) < 0.07 for midi, onset in heard)
    assert near == len(sheet.line.notes)
    assert len(sheet.line.notes) >= 12


def test_the_part_is_spelled_from_its_chords() -> None:
    sheet = bass_sheet(reading(MINOR, "Cm"), level=1)
    flats = {str(n.pitch.name) for n in sheet.line.notes}
    assert "D#" not in flats
    assert "G#" not in flats
    for note in sheet.line.notes:
        chord = sheet.change_at(note.onset).chord
        if note.degree is not None:
            assert chord.tone(note.degree) == note.pitch.name


def test_two_choruses_are_written_one_after_the_other() -> None:
    sheet = bass_sheet(reading(BLUES), choruses=2, level=5, ending="none")
    assert [bar.number for bar in sheet.bars] == list(range(1, 25))
    assert sheet.bars[12].changes[0].onset == 48
    assert sheet.length == 96


def test_an_independent_reader_reads_the_part() -> None:
    """music21 (BSD) as an oracle for the MusicXML of the bass part: pitches as they sound."""
    music21 = pytest.importorskip("music21")
    sheet = bass_sheet(reading(BLUES), seed=2, level=5)
    score = music21.converter.parse(write_musicxml(sheet), format="musicxml")
    part = score.parts[0].toSoundingPitch().flatten()
    read = [
        (note.pitch.midi, Fraction(note.offset))
        for note in part.getElementsByClass(music21.note.Note)
        if note.tie is None or note.tie.type == "start"
    ]
    assert read == [(n.pitch.midi, n.onset) for n in sheet.line.notes]


@pytest.mark.parametrize("name", sorted(feels()))
def test_the_comping_is_written_as_it_is_played(name: str) -> None:
    part = comping_part(reading(MINOR, "Cm"), bpm=120, feel=name, seed=6, level=5)
    played = accompany(reading(MINOR, "Cm"), bpm=120, feel=name, seed=6, level=5)
    clock = clocks_of(name, 120).band
    last = clock.to_seconds(part.sheet.length) - 0.1
    heard = [e for e in played.part("comping").events if e.onset_s < last]
    assert sum(1 + len(part.above[n.onset]) for n in part.sheet.line.notes) == len(heard)
    for note in part.sheet.line.notes:
        at = clock.to_seconds(note.onset)
        chord = [note.pitch, *part.above[note.onset]]
        assert chord == sorted(chord, key=lambda pitch: pitch.midi)
        assert {p.midi for p in chord} <= {e.midi for e in heard if abs(e.onset_s - at) < 0.05}


def test_chords_are_spelled_from_their_symbols() -> None:
    part = comping_part(reading(MINOR, "Cm"), level=5, seed=2, choruses=2)
    names = {str(p.name) for above in part.above.values() for p in above}
    assert {"Eb", "Ab"} <= names
    assert not names & {"D#", "G#", "A#", "Fb", "Cb"}


def test_an_independent_reader_reads_the_chords() -> None:
    """music21 (BSD) as an oracle for the MusicXML of the comping."""
    music21 = pytest.importorskip("music21")
    part = comping_part(reading(BLUES), feel="bossa", seed=2, level=5)
    text = write_musicxml(part.sheet, above=part.above)
    score = music21.converter.parse(text, format="musicxml").parts[0].toSoundingPitch()
    read = [
        (sorted(p.midi for p in one.pitches), Fraction(one.offset))
        for one in score.flatten().notes
        if not isinstance(one, music21.harmony.ChordSymbol)
        and (one.tie is None or one.tie.type == "start")
    ]
    assert read == [
        ([n.pitch.midi, *(p.midi for p in part.above[n.onset])], n.onset)
        for n in part.sheet.line.notes
    ]


@pytest.mark.parametrize("level", [1, 3, 5])
def test_a_hand_reads_in_the_clef_with_fewer_ledger_lines(level: int) -> None:
    """Counted from the staves themselves: E4 and A3 are the nearest lines to middle C."""
    part = comping_part(reading(BLUES), seed=3, level=level)
    pitches = [p for n in part.sheet.line.notes for p in (n.pitch, *part.above[n.onset])]
    letters = "CDEFGAB"
    steps = [letters.index(p.name.letter) + 7 * p.octave for p in pitches]
    lowest_line, highest_line = 2 + 7 * 4, 5 + 7 * 3
    under = sum((lowest_line - s) // 2 for s in steps if s < lowest_line)
    over = sum((s - highest_line) // 2 for s in steps if s > highest_line)
    assert part.sheet.instrument.clef == ("treble" if under <= over else "bass")


def test_the_last_chord_stands_under_a_letter_of_its_own() -> None:
    sheet = bass_sheet(reading(BLUES), level=5)
    assert sheet.bars[-1].label == "End"
    assert str(sheet.bars[-1].changes[0].chord.root) == "F"
    assert sheet.line.notes[-1].duration == 3  # a second and a half at 120
