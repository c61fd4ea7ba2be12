"""The Stand: stems on one time axis, takes kept once, a verdict, and nothing without consent."""

import io
import json
import re
from dataclasses import replace
from html import unescape
from itertools import pairwise
from secrets import token_hex

import mido
import pytest
import soundfile

from changewright.store.records import Heard, Take
from changewright.studio.door import Throttle
from changewright.studio.studio import TAKES_A_MINUTE
from changewright.studio.takes import media_of
from changewright.usecases.lesson_folder import load_assignment
from tests.unit.studio.manners import SAME, Made


def told(html: str) -> dict:  # type: ignore[type-arg]
    found = re.search(r'data-stand="([^"]*)"', html)
    assert found is not None
    return dict(json.loads(unescape(found[1])))


def midi_take(made: Made, *, wrong_bar: int | None = None) -> bytes:
    """The model line 30 ms late, as a MIDI file written by mido; one bar a semitone too high."""
    asked = load_assignment(made.lesson, 1)
    events = []
    for note in asked.sheet.line.notes:
        if note.pitch is None:
            continue
        bar = asked.sheet.bar_at(note.onset).number
        midi = note.pitch.midi + (bar == wrong_bar)
        events.append((asked.clock.to_seconds(note.onset) + 0.03, "note_on", midi))
        events.append((asked.clock.to_seconds(note.onset + note.duration), "note_off", midi))
    track, before = mido.MidiTrack(), 0
    for at_s, kind, midi in sorted(events):
        tick = round(at_s * 1000)
        track.append(mido.Message(kind, note=midi, velocity=80, time=max(0, tick - before)))
        before = tick
    file = mido.MidiFile(ticks_per_beat=500)  # at 120 a minute a tick is a millisecond
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def test_the_bars_follow_one_another_in_time(with_lesson: Made) -> None:
    client, at, _ = with_lesson
    sheet = told(client.get(f"{at}/1").text)
    bars = sheet["bars"]
    assert [bar["number"] for bar in bars] == list(range(1, 13))
    assert bars[0]["start_s"] == pytest.approx(sheet["lead_s"])
    assert sheet["lead_s"] == pytest.approx(4 * 60 / 68), "one bar of four at 68 a minute"
    for bar, after in pairwise(bars):
        assert bar["end_s"] == after["start_s"]
        assert bar["end_s"] - bar["start_s"] == pytest.approx(4 * 60 / 68, abs=1e-5)


def test_all_stems_lie_on_one_time_axis(with_lesson: Made) -> None:
    """Decoded by soundfile, as a browser would: as many frames at one rate in each."""
    client, at, _ = with_lesson
    sheet = told(client.get(f"{at}/1").text)
    assert sheet["stems"] == ["count-in", "drums", "bass", "comping", "line"]
    lengths = set()
    for name in sheet["stems"]:
        answer = client.get(f"{at}/1/stems/{name}")
        assert answer.headers["content-type"] == "audio/flac"
        told_by = soundfile.info(io.BytesIO(answer.content))
        lengths.add((told_by.frames, told_by.samplerate))
    assert len(lengths) == 1
    frames, rate = lengths.pop()
    assert frames / rate >= sheet["bars"][-1]["end_s"]
    assert client.get(f"{at}/1/stems/nobody").status_code == 404
    assert client.get(f"{at}/2/stems/bass").status_code == 404


def test_nothing_is_kept_before_somebody_agreed(fresh: Made) -> None:
    client, at, root = fresh
    assert 'name="agree"' in client.get(f"{at}/1").text
    assert not told(client.get(f"{at}/1").text)["consent"]
    key = token_hex(16)
    answer = client.post(f"{at}/1/takes?key={key}", content=midi_take(fresh), headers=SAME)
    assert answer.status_code == 422
    assert "nobody has agreed" in answer.text
    assert fresh.store.all(Take) == ()
    assert not (root / "recordings").exists()
    assert client.post(f"{at}/consent", headers=SAME).status_code == 204
    assert told(client.get(f"{at}/1").text)["consent"]
    answer = client.post(f"{at}/1/takes?key={key}", content=midi_take(fresh), headers=SAME)
    assert answer.status_code == 200


def test_who_agreed_once_is_not_asked_for_his_next_lesson(fresh: Made) -> None:
    client, at, _ = fresh
    client.post(f"{at}/consent", headers=SAME)
    other = client.post(f"{at}/change", data={"way": "another"}, headers=SAME).headers["location"]
    assert told(client.get(f"{other}/1").text)["consent"]


def test_a_take_is_heard_bar_by_bar(fresh: Made) -> None:
    client, at, _ = fresh
    client.post(f"{at}/consent", headers=SAME)
    sound = midi_take(fresh, wrong_bar=5)
    answer = client.post(f"{at}/1/takes?key={token_hex(16)}", content=sound, headers=SAME)
    words = re.findall(r'<li class="(\w+)" value="(\d+)"', answer.text)
    assert len(words) == 12
    assert [int(n) for word, n in words if word != "met"] == [5]
    assert answer.text.index("your own ears") < answer.text.index("What the machine heard")
    assert "%" not in answer.text, "no bare score"


def test_a_take_sent_twice_is_kept_and_heard_once(fresh: Made) -> None:
    client, at, _ = fresh
    client.post(f"{at}/consent", headers=SAME)
    key, sound = token_hex(16), midi_take(fresh)
    first = client.post(f"{at}/1/takes?key={key}", content=sound, headers=SAME)
    again = client.post(f"{at}/1/takes?key={key}", content=sound[:-9], headers=SAME)
    assert first.text == again.text
    assert [(one.id, one.media) for one in fresh.store.all(Take)] == [(key, "mid")]
    assert len(fresh.store.all(Heard)) == len(list(fresh.store.blobs.digests())) == 1


def test_a_recording_made_elsewhere_is_as_good(fresh: Made) -> None:
    client, at, _ = fresh
    key = token_hex(16)
    files = {"recording": ("../../phone.mid", midi_take(fresh), "audio/midi")}
    form = {"key": key, "agree": "yes"}
    answer = client.post(f"{at}/1/recordings", data=form, files=files, headers=SAME)
    assert answer.headers["location"] == f"{at}/1/takes/{key}"
    assert "What worked" in client.get(f"{at}/1/takes/{key}").text
    assert client.get(f"{at}/1/takes/{key}/sound").content == midi_take(fresh)
    assert f"{at}/1/takes/{key}" in client.get(f"{at}/1").text


def test_without_agreeing_a_form_keeps_nothing(fresh: Made) -> None:
    client, at, root = fresh
    files = {"recording": ("phone.mid", midi_take(fresh), "audio/midi")}
    form = {"key": token_hex(16)}
    answer = client.post(f"{at}/1/recordings", data=form, files=files, headers=SAME)
    assert answer.status_code == 422
    assert fresh.store.all(Take) == ()
    assert not (root / "recordings").exists()


def test_a_deleted_take_is_gone_from_the_disk(fresh: Made) -> None:
    client, at, _ = fresh
    client.post(f"{at}/consent", headers=SAME)
    key = token_hex(16)
    client.post(f"{at}/1/takes?key={key}", content=midi_take(fresh), headers=SAME)
    assert client.post(f"{at}/1/takes/{key}/delete", headers=SAME).status_code == 303
    assert fresh.store.all(Take) == fresh.store.all(Heard) == ()
    assert list(fresh.store.blobs.digests()) == []
    assert client.get(f"{at}/1/takes/{key}").status_code == 404


@pytest.mark.parametrize("sound", [b"not music at all", b"RIFF\x00\x00\x00\x00WAVE", b"\x00" * 99])
def test_what_is_no_recording_is_told_and_breaks_nothing(fresh: Made, sound: bytes) -> None:
    client, at, _ = fresh
    client.post(f"{at}/consent", headers=SAME)
    answer = client.post(f"{at}/1/takes?key={token_hex(16)}", content=sound, headers=SAME)
    assert answer.status_code == 200
    assert 'class="fault"' in answer.text
    assert "/tmp" not in answer.text
    assert client.get(f"{at}/1").status_code == 200


@pytest.mark.parametrize("key", ["", "x", "../../../etc/passwd", "A" * 32, "0" * 33])
def test_a_take_needs_a_key_of_the_right_shape(fresh: Made, key: str) -> None:
    client, at, root = fresh
    client.post(f"{at}/consent", headers=SAME)
    answer = client.post(f"{at}/1/takes", params={"key": key}, content=b"MThd", headers=SAME)
    assert answer.status_code == 422
    assert fresh.store.all(Take) == ()
    assert not (root / "recordings").exists()


def test_an_exercise_that_the_lesson_lacks_is_not_there(with_lesson: Made) -> None:
    client, at, _ = with_lesson
    for number in ("0", "2", "99999999999999999999"):
        assert client.get(f"{at}/{number}").status_code in (404, 422)
        assert client.get(f"{at}/{number}/systems").status_code in (404, 422)


def test_a_recording_is_known_by_its_first_bytes() -> None:
    """Source: the magic numbers of RIFF, FLAC, Ogg, ID3v2 and Standard MIDI Files."""
    said = [media_of(b) for b in (b"RIFF....", b"fLaC", b"OggS", b"ID3\x04", b"MThd", b"<html>")]
    assert said == [".wav", ".flac", ".ogg", ".mp3", ".mid", ".sound"]


def test_a_flood_of_takes_is_stemmed(fresh: Made) -> None:
    assert fresh.studio.takes.tries == TAKES_A_MINUTE
    fresh.client.app._app.state.studio = replace(fresh.studio, takes=Throttle(3, 60))
    fresh.client.post(f"{fresh.at}/consent", headers=SAME)
    to = f"{fresh.at}/1/takes?key="
    codes = [
        fresh.client.post(to + token_hex(16), content=b"?", headers=SAME).status_code
        for _ in range(5)
    ]
    assert codes == [200] * 3 + [422] * 2
    assert len(fresh.store.all(Take)) == 3
