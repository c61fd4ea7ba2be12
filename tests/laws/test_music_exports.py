"""Laws of the exports: what is written is what is read, whatever the music."""

from io import BytesIO

import mido
import music21
from hypothesis import given, settings
from hypothesis import strategies as st

from changewright.music.midi import TICKS_A_QUARTER, write_midi
from changewright.music.musicxml import write_musicxml
from changewright.music.notation import notate
from changewright.music.performance import Event, Part, Performance
from changewright.theory.instrument import instruments
from tests.unit.page.sheets import BLUES, random_rhythms, sheet_of

events = st.lists(
    st.builds(
        Event,
        st.floats(0, 60),
        st.floats(0.01, 3),
        st.integers(0, 127),
        st.integers(1, 127),
    ),
    max_size=40,
)


@given(events, st.floats(30, 320), st.booleans())
def test_midi_keeps_every_onset_within_a_tick_and_leaves_nothing_hanging(played, bpm, drums):
    part = Part("line", 66, tuple(sorted(played)), is_drums=drums)
    file = mido.MidiFile(file=BytesIO(write_midi(Performance((part,), 64.0), bpm=bpm)))
    tempo = next(m.tempo for m in file.tracks[0] if m.type == "set_tempo")
    assert file.ticks_per_beat == TICKS_A_QUARTER
    at, sounding, heard = 0, set(), []
    for message in file.tracks[1]:
        at += message.time
        if message.type == "note_on":
            assert message.note not in sounding
            sounding.add(message.note)
            heard.append((at * tempo / 1e6 / TICKS_A_QUARTER, message.note))
        elif message.type == "note_off":
            sounding.remove(message.note)
    assert not sounding
    tick_s = tempo / 1e6 / TICKS_A_QUARTER
    for event in played:
        near = [s for s, note in heard if note == event.midi and abs(s - event.onset_s) <= tick_s]
        assert near


sheets = st.builds(
    lambda player, key, seed: sheet_of(
        BLUES, instrument_id=player, key=key, rhythm=random_rhythms(seed), seed=seed
    ),
    st.sampled_from(sorted(instruments())),
    st.sampled_from(["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"]),
    st.integers(1, 10_000),
)


@settings(max_examples=12, deadline=None)
@given(sheets)
def test_musicxml_sounds_the_same_in_a_general_library(sheet):
    score = music21.converter.parse(write_musicxml(sheet), format="musicxml")
    part = score.parts[0].toSoundingPitch()
    if any(bar.times > 1 for bar in notate(sheet).bars):
        part = part.expandRepeats()
    heard = [
        n.pitch.midi for n in part.stripTies().recurse().notes if isinstance(n, music21.note.Note)
    ]
    assert heard == [n.pitch.midi for n in sheet.line.notes]
