from pathlib import Path

import mido
import numpy as np
import pytest
from benchmarks import takes

from changewright.ear.audio import Audio
from changewright.ear.fakes import PlainListener
from changewright.ear.hear import hear
from changewright.ear.judge import judge
from changewright.ear.lag import lag_of, without_backing
from changewright.ear.midi import load_midi
from changewright.ear.transcribe import transcribe
from changewright.errors import TakeError
from changewright.theory.instrument import instrument
from tests.unit.ear.exercises import clock_of, recorded, root_up, slots

RATE = takes.RATE


def scale(timbre: str = "reed", detune: float = 0.0, first: int = 58) -> Audio:
    """Eight notes of a major scale, four tenths of a second each."""
    notes = [
        takes.Played(0.5 + 0.4 * k, 0.33, first + step)
        for k, step in enumerate((0, 2, 4, 5, 7, 9, 11, 12))
    ]
    voice = takes.synthetic_bank(timbre, 3, detune)
    return Audio(takes.render(notes, voice, 4.2).samples, RATE)


@pytest.mark.parametrize("engines", [None, PlainListener()], ids=["networks", "stand-in"])
def test_a_scale_is_eight_notes_with_their_pitches(engines: PlainListener | None) -> None:
    take = transcribe(scale(), instrument=instrument("tenor saxophone"), engines=engines)
    assert [n.midi for n in take.notes] == [58, 60, 62, 63, 65, 67, 69, 70]


def test_onsets_ends_loudness_and_confidence_of_a_scale() -> None:
    take = transcribe(scale(), instrument=instrument("tenor saxophone"))
    for k, note in enumerate(take.notes):
        assert note.onset_s == pytest.approx(0.5 + 0.4 * k, abs=0.04)
        assert note.end_s == pytest.approx(0.5 + 0.4 * k + 0.35, abs=0.06)
        assert -30 < note.loudness_db < -3
        assert note.confidence > 0.8


@pytest.mark.parametrize("cents", [-40, -16, 0, 20])
def test_the_players_own_tuning_is_the_reference(cents: float) -> None:
    """A = 436 Hz is 16 cents low: no note of it is out of tune with the others."""
    take = transcribe(scale("odd reed", cents))
    assert 1200 * np.log2(take.tuning_hz / 440) == pytest.approx(cents, abs=4)
    assert [n.midi for n in take.notes] == [58, 60, 62, 63, 65, 67, 69, 70]
    assert max(abs(n.cents) for n in take.notes) < 8


@pytest.mark.parametrize("rate", [8_000, 16_000, 48_000, 96_000])
def test_sample_rates_make_no_difference(rate: int) -> None:
    from scipy.signal import resample_poly

    sound = resample_poly(scale().samples, rate, RATE).astype(np.float32)
    assert [n.midi for n in transcribe(Audio(sound, rate)).notes] == [
        58,
        60,
        62,
        63,
        65,
        67,
        69,
        70,
    ]


def test_the_same_sound_gives_the_same_take() -> None:
    assert transcribe(scale()) == transcribe(scale())


def test_a_quiet_recording_is_heard_like_a_loud_one() -> None:
    loud = transcribe(scale())
    quiet = transcribe(Audio(scale().samples * np.float32(0.01), RATE))
    assert [n.midi for n in quiet.notes] == [n.midi for n in loud.notes]
    assert quiet.notes[0].loudness_db == pytest.approx(loud.notes[0].loudness_db - 40, abs=1)


@pytest.mark.parametrize("kind", ["noise", "hum", "clicks", "almost nothing", "too short"])
def test_what_is_no_melody_gives_no_notes(kind: str) -> None:
    rng = np.random.default_rng(5)
    seconds = 6 * RATE
    sounds = {
        "noise": 0.2 * rng.standard_normal(seconds),
        "hum": 0.2 * np.sin(2 * np.pi * 25 * np.arange(seconds) / RATE),
        "clicks": np.where(np.arange(seconds) % (RATE // 2) == 0, 0.9, 0.0),
        "almost nothing": 2e-4 * rng.standard_normal(seconds),
        "too short": 0.2 * rng.standard_normal(300),
    }
    audio = Audio(sounds[kind].astype(np.float32), RATE)
    assert [n for n in transcribe(audio).notes if n.confidence > 0.5] == []


@pytest.mark.slow
def test_notes_go_on_across_the_minute_at_which_the_hearing_is_cut() -> None:
    notes = [takes.Played(0.5 + 0.7 * k, 0.62, 60 + (0, 3, 7)[k % 3]) for k in range(180)]
    sound = takes.render(notes, takes.synthetic_bank("odd reed", 2), 128.0)
    heard = transcribe(Audio(sound.samples, RATE))
    assert [n.midi for n in heard.notes] == [n.midi for n in notes]
    late = [h.onset_s - p.onset_s for h, p in zip(heard.notes, notes, strict=True)]
    assert np.ptp(late) < 0.03
    assert len(heard.contour) * heard.contour.hop_s == pytest.approx(heard.length_s, abs=0.05)


@pytest.mark.parametrize("kind", ["chords", "band"])
def test_a_chord_instrument_or_a_full_band_is_not_judged_as_the_line(kind: str) -> None:
    sheet = root_up()
    band = takes.backing(4, sheet.tempo_bpm, 12, (40, 42, 45, 47))
    audio = Audio(band, RATE)
    if kind == "chords":
        keys = takes.synthetic_bank("plucked", 3)
        out = np.zeros(30 * RATE, dtype=np.float32)
        for k in range(14):
            for tone in (61, 64, 68, 71):
                wave = keys(tone + k % 3, 1.6, 0.8, False)
                out[2 * k * RATE : 2 * k * RATE + len(wave)] += wave
        audio = Audio(out * np.float32(0.2), RATE)
    hearing = judge(sheet, transcribe(audio, instrument=sheet.instrument), clock_of(sheet))
    assert not hearing.judged
    assert "More than one line" in hearing.reason


def bled(delay_s: float, gain: float) -> tuple[Audio, Audio]:
    """A take with the band in it, the whole recording late by a device's latency."""
    sheet = root_up()
    band = takes.backing(9, sheet.tempo_bpm, 12, [41] * 4 + [46, 46, 41, 41, 36, 46, 41, 41])
    own = recorded(slots(sheet)).samples
    mixed = np.zeros(max(len(own), len(band)), dtype=np.float32)
    mixed[: len(own)] += own
    mixed[: len(band)] += np.float32(gain) * band
    late = np.concatenate([np.zeros(round(delay_s * RATE), dtype=np.float32), mixed])
    noise = np.random.default_rng(1).standard_normal(len(late)).astype(np.float32)
    return Audio(late + np.float32(3e-4) * noise, RATE), Audio(band, RATE)


@pytest.mark.parametrize(("delay", "gain"), [(0.0, 0.1), (0.183, 0.1), (0.4, 0.01)])
def test_the_count_in_tells_the_latency(delay: float, gain: float) -> None:
    audio, band = bled(delay, gain)
    count_in = 4 * clock_of(root_up()).quarter_s
    assert lag_of(audio, band, count_in) == pytest.approx(delay, abs=0.001)


def test_with_headphones_the_count_in_tells_nothing() -> None:
    audio, band = bled(0.1, 0.0)
    assert lag_of(audio, band, 4 * clock_of(root_up()).quarter_s) is None


def test_the_band_is_taken_out_and_the_player_left() -> None:
    audio, band = bled(0.12, 0.15)
    left = without_backing(audio, band, 0.12).samples
    count_in = left[: round(0.12 * 22_050) + round(3.5 * clock_of(root_up()).quarter_s * 22_050)]
    before = audio.samples[: len(count_in) * 2]
    assert np.square(count_in).mean() < 0.02 * np.square(before).mean()


def test_a_clean_take_with_the_band_in_the_room_is_met_throughout() -> None:
    audio, band = bled(0.15, 0.12)
    sheet = root_up()
    hearing = hear(audio, sheet, clock_of(sheet), backing=band)
    assert hearing.judged, hearing.reason
    assert hearing.mistakes == ()
    assert hearing.placement.from_count_in == pytest.approx(0.15, abs=0.002)


def midi_file(path: Path, *messages: mido.Message) -> Path:
    song = mido.MidiFile(ticks_per_beat=480)
    song.tracks.append(mido.MidiTrack(messages))
    song.save(path)
    return path


def test_a_midi_take_is_heard_note_for_note(tmp_path: Path) -> None:
    """Timing by the Standard MIDI File: 480 ticks a quarter, 120 quarters a minute by default."""
    file = midi_file(
        tmp_path / "take.mid",
        mido.Message("note_on", note=60, velocity=100, time=480),
        mido.Message("note_on", note=64, velocity=100, time=240),
        mido.Message("note_off", note=60, time=10),
        mido.Message("note_off", note=64, time=470),
        mido.Message("note_on", note=38, velocity=90, time=0, channel=9),
    )
    take = load_midi(file)
    assert [(n.midi, n.onset_s, n.end_s) for n in take.notes] == [(60, 0.5, 0.75), (64, 0.75, 1.25)]
    assert take.source == "midi"


@pytest.mark.parametrize(
    "content", [b"", b"MThd", b"RIFF....WAVE", b"MThd\x00\x00\x00\x06\x00\x01"]
)
def test_what_is_no_midi_is_refused_in_words(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "take.mid").write_bytes(content)
    with pytest.raises(TakeError, match=r"take\.mid"):
        load_midi(tmp_path / "take.mid")


def test_a_midi_file_without_notes_is_refused(tmp_path: Path) -> None:
    with pytest.raises(TakeError, match="no notes"):
        load_midi(midi_file(tmp_path / "empty.mid"))
