from io import BytesIO

import mido
import music21
import pytest

from changewright.music.bar import Meter
from changewright.music.midi import TICKS_A_QUARTER, write_midi
from changewright.music.performance import Event, Part, Performance

BPM = 132
QUARTER_S = 60 / BPM
LINE = Part("line", 66, tuple(Event(2 + n * 0.217, 0.19, 60 + n % 12, 80) for n in range(40)))
DRUMS = Part(
    "drums", 0, tuple(Event(n * QUARTER_S, 0.05, 51, 70) for n in range(32)), is_drums=True
)
BASS = Part("bass", 32, (Event(4 * QUARTER_S, QUARTER_S, 36, 90),))
BAND = Performance((LINE, BASS, DRUMS), 32 * QUARTER_S)


def read(data: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=BytesIO(data))


def onsets_s(track: mido.MidiTrack, file: mido.MidiFile) -> list[tuple[float, int, int]]:
    tempo = next(m.tempo for m in file.tracks[0] if m.type == "set_tempo")
    at, found = 0, []
    for message in track:
        at += message.time
        if message.type == "note_on" and message.velocity:
            seconds = mido.tick2second(at, file.ticks_per_beat, tempo)
            found.append((seconds, message.note, message.velocity))
    return found


def test_every_onset_reads_back_within_a_tick():
    file = read(write_midi(BAND, bpm=BPM))
    tick_s = QUARTER_S / TICKS_A_QUARTER
    for part, track in zip(BAND.parts, file.tracks[1:], strict=True):
        heard = onsets_s(track, file)
        assert [h[1:] for h in heard] == [(e.midi, e.velocity) for e in part.events]
        for event, (seconds, _, _) in zip(part.events, heard, strict=True):
            assert seconds == pytest.approx(event.onset_s, abs=tick_s)


def test_the_file_is_what_the_standard_asks():
    # Standard MIDI Files 1.0: format 1, tempo and meter in the first track; General MIDI 1:
    # percussion on channel 10 (9 counted from 0)
    file = read(write_midi(BAND, bpm=BPM, meter=Meter(6, 8), title="Ladder blues"))
    assert file.type == 1
    kinds = {m.type: m for m in file.tracks[0]}
    assert kinds["set_tempo"].tempo == round(60e6 / BPM)
    assert (kinds["time_signature"].numerator, kinds["time_signature"].denominator) == (6, 8)
    assert [t.name for t in file.tracks] == ["Ladder blues", "line", "bass", "drums"]
    channels = {m.channel for m in file.tracks[3] if m.type == "note_on"}
    assert channels == {9}
    programs = [m.program for t in file.tracks for m in t if m.type == "program_change"]
    assert programs == [66, 32]
    ends = {sum(m.time for m in track) for track in file.tracks}
    assert len(ends) == 1


def test_an_independent_reader_hears_the_same_notes():
    score = music21.midi.translate.midiStringToStream(write_midi(BAND, bpm=BPM), quantizePost=False)
    for part, wanted in zip(score.parts, (LINE, BASS), strict=False):
        notes = list(part.stripTies().flatten().notes)
        assert [p.midi for n in notes for p in n.pitches] == [e.midi for e in wanted.events]
        for note, event in zip(notes, wanted.events, strict=True):
            assert float(note.offset) * QUARTER_S == pytest.approx(event.onset_s, abs=0.002)


def test_a_repeated_note_cuts_the_one_before():
    part = Part("line", 0, (Event(0, 1.0, 60, 80), Event(0.5, 1.0, 60, 80)))
    track = read(write_midi(Performance((part,), 2.0), bpm=120)).tracks[1]
    kinds = [m.type for m in track if m.type.startswith("note")]
    assert kinds == ["note_on", "note_off", "note_on", "note_off"]


def test_same_performance_same_bytes():
    assert write_midi(BAND, bpm=BPM) == write_midi(BAND, bpm=BPM)


def test_more_players_than_channels_are_refused():
    crowd = Performance(tuple(Part(f"horn {n}", 0, ()) for n in range(16)), 1.0)
    with pytest.raises(ValueError, match="15 channels"):
        write_midi(crowd, bpm=120)
