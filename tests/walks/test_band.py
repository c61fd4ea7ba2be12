"""The band from the command line, listened to with numbers: what sounds where, and where it
doesn't."""

import json
from collections.abc import Mapping
from fractions import Fraction
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from typing import Any

import mido
import numpy as np
import pytest
import soundfile
from pypdf import PdfReader
from typer.testing import CliRunner

from changewright.cli.main import app
from changewright.music.clock import Clock

RATE = 48_000
Audio = np.ndarray


def band(folder: Path, *options: str) -> tuple[dict[str, Any], Mapping[str, Audio]]:
    """The manifest, and the stems as integers by name, the mix among them."""
    done = CliRunner().invoke(
        app, ["band", "quayside-blues", "-o", str(folder), *options, "--json"]
    )
    assert done.exit_code == 0, done.output
    manifest = json.loads(done.stdout)
    assert manifest == json.loads((folder / "band.json").read_text("utf-8"))
    names = {**manifest["files"]["stems"], "mix": manifest["files"]["mix"]}
    read = {name: soundfile.read(folder / file, dtype="int16") for name, file in names.items()}
    assert {rate for _, rate in read.values()} == {RATE}
    return manifest, {name: audio.astype(np.int32) for name, (audio, _) in read.items()}


def clock_of(rung: Mapping[str, Any], player: str = "band") -> Clock:
    row = rung["clocks"][player]
    return Clock(row["bpm"], row["swing_ratio"], Fraction(row["lead_in"]))


def struck(audio: Audio, at_s: float, within_s: float = 0.025) -> bool:
    """Tell whether something begins at an instant: four times as loud as just before."""
    mono = np.abs(audio).max(axis=1)
    at, reach = round(at_s * RATE), round(within_s * RATE)
    before = mono[max(at - reach - RATE // 25, 0) : max(at - reach, 0)].max(initial=0)
    return bool(mono[max(at - reach, 0) : at + 2 * reach].max() > max(4 * before, 60))


def assert_sums(stems: Mapping[str, Audio]) -> None:
    total = sum(stems[name] for name in stems if name != "mix")
    assert np.array_equal(total, stems["mix"])
    assert np.abs(stems["mix"]).max() < 2**15 * 10 ** (-1 / 20)


def test_a_loop_comes_round_on_time_and_is_written_whole(tmp_path: Path) -> None:
    manifest, stems = band(
        tmp_path / "b", "--bars", "5-6", "--times", "3", "--tempo", "180", "--click"
    )
    assert_sums(stems)
    [rung] = manifest["rungs"]
    assert [one["bars"] for one in rung["rounds"]] == [[4, 5, 6]] * 3
    beat = 60 / 180
    for number, one in enumerate(rung["rounds"]):
        assert one["start_s"] == pytest.approx((4 + number * 12) * beat)
        for two in (1, 3, 5, 7, 9, 11):
            assert struck(stems["click"], one["start_s"] + two * beat, 0.003)
            assert not struck(stems["click"], one["start_s"] + (two - 1) * beat, 0.003)
    digests = {
        path.name: sha256(path.read_bytes()).hexdigest()
        for path in (tmp_path / "b").iterdir()
        if path.name != "band.json"
    }
    assert manifest["digests"] == digests


def test_a_trade_leaves_its_turns_open(tmp_path: Path) -> None:
    options = ("--trade", "4", "--for", "tenor saxophone", "--choruses", "1", "--tempo", "160")
    manifest, stems = band(tmp_path / "b", *options)
    assert_sums(stems)
    [rung] = manifest["rungs"]
    [turn] = rung["open"]
    bar = 4 * 60 / 160
    assert turn["end_s"] - turn["start_s"] == pytest.approx(4 * bar)
    line = np.abs(stems["line"]).max(axis=1)
    ring = 0.5  # the model's last note may ring into the open bars, but nothing begins there
    inside = line[round((turn["start_s"] + ring) * RATE) : round((turn["end_s"] - bar / 4) * RATE)]
    assert inside.max() < 30
    for start in (rung["rounds"][0]["start_s"], turn["end_s"]):
        heard = line[round(start * RATE) : round((start + 4 * bar) * RATE)]
        assert heard.max() > 1000
    assert np.abs(stems["bass"][round(turn["start_s"] * RATE) :][: RATE * 2]).max() > 500


def test_a_ladder_counts_in_every_tempo_and_lands_on_its_one(tmp_path: Path) -> None:
    manifest, stems = band(tmp_path / "b", "--ladder", "220:260:20:1", "--only", "drums")
    assert_sums(stems)
    assert [rung["bpm"] for rung in manifest["rungs"]] == [220, 240, 260]
    starts = [rung["start_s"] for rung in manifest["rungs"]]
    lengths = [(8 + 48) * 60 / bpm for bpm in (220, 240, 260)]
    assert starts == pytest.approx([0, lengths[0], sum(lengths[:2])])
    for rung in manifest["rungs"]:
        clock = clock_of(rung)
        for beat in (-8, -6, -4, -3, -2, -1):
            at = rung["start_s"] + clock.to_seconds(Fraction(beat))
            assert struck(stems["count-in"], at, 0.004)
        assert not struck(
            stems["count-in"], rung["start_s"] + clock.to_seconds(Fraction(-7)), 0.004
        )
        one = rung["start_s"] + clock.to_seconds(Fraction(0))
        assert rung["rounds"][0]["start_s"] == pytest.approx(one)


def test_the_ladder_in_midi_keeps_its_bar_lines(tmp_path: Path) -> None:
    manifest, _ = band(tmp_path / "b", "--ladder", "220:260:20:1", "--only", "bass")
    file = mido.MidiFile(file=BytesIO((tmp_path / "b" / "band.mid").read_bytes()))
    # mido (MIT) as an oracle for the tempo map.
    tempi = [m.tempo for m in file.tracks[0] if m.type == "set_tempo"]
    assert [round(mido.tempo2bpm(t)) for t in tempi] == [220, 240, 260]
    [track] = [t for t in file.tracks if t.name == "bass"]
    at, first = 0, []
    for message in track:
        at += message.time
        if message.type == "note_on":
            first.append(at / file.ticks_per_beat)
    for rung in range(3):
        down = 8 + rung * 56  # quarters: two bars counted in, twelve played
        assert min(abs(q - down) for q in first) < 0.06
    assert file.length == pytest.approx(manifest["length_s"], abs=1.0)


def test_each_key_of_the_cycle_has_its_own_bass(tmp_path: Path) -> None:
    options = ("--keys", "P4", "--choruses", "3", "--tempo", "300", "--only", "bass")
    manifest, stems = band(tmp_path / "b", *options, "--count-in", "none", "--level", "1")
    [rung] = manifest["rungs"]
    # Hertz of F, B flat and E flat in the second octave, by equal temperament from A 440.
    for one, hz in zip(rung["rounds"], (87.31, 116.54, 77.78), strict=True):
        at = round(one["start_s"] * RATE)
        mono = stems["bass"][at : at + RATE // 3].mean(axis=1)
        power = np.abs(np.fft.rfft(mono * np.hanning(len(mono)), 2**18))
        bins = np.fft.rfftfreq(2**18, 1 / RATE)
        near = (bins > 30) & (bins < 400)
        top = bins[near][int(np.argmax(power[near]))]
        cents = 1200 * np.log2(top / hz)
        assert abs((cents + 600) % 1200 - 600) < 35


def test_words_are_spoken_on_the_beats_before_one(tmp_path: Path) -> None:
    manifest, stems = band(
        *(tmp_path / "b", "--count-in", "spoken", "--choruses", "1", "--tempo", "90"),
        *("--only", "drums"),
    )
    [rung] = manifest["rungs"]
    beat, one = 60 / 90, rung["rounds"][0]["start_s"]
    assert one == pytest.approx(8 * beat)
    words = np.abs(stems["count-in"]).max(axis=1)
    assert words[: round(3.5 * beat * RATE)].max() == 0
    for number in range(4):
        at = round((4 + number) * beat * RATE)
        assert words[at : at + RATE // 10].max() > 300
    file = mido.MidiFile(tmp_path / "b" / "band.mid")
    notes = [m.note for t in file.tracks if t.name == "count-in" for m in t if m.type == "note_on"]
    assert notes == [37] * 4  # side stick of the General MIDI percussion map


def test_the_same_request_gives_the_same_bytes(tmp_path: Path) -> None:
    options = ("--choruses", "1", "--tempo", "200", "--tag", "2")
    one, _ = band(tmp_path / "one", *options)
    other, _ = band(tmp_path / "other", *options)
    assert one == other
    rounds = one["rungs"][0]["rounds"]
    assert [r["bars"] for r in rounds] == [list(range(1, 13)), [11, 12], [11, 12]]


def test_drums_alone_lead_in_and_a_last_chord_is_held(tmp_path: Path) -> None:
    options = ("--intro", "drums:2", "--ending", "held", "--choruses", "1", "--tempo", "200")
    manifest, stems = band(tmp_path / "b", *options)
    assert_sums(stems)
    assert manifest["intro"] == {"kind": "drums", "bars": 2}
    [rung] = manifest["rungs"]
    bar, top = 4 * 60 / 200, rung["rounds"][0]["start_s"]
    assert top == pytest.approx(4 * bar)
    intro = slice(round(2 * bar * RATE), round((top - bar / 4) * RATE))
    assert np.abs(stems["bass"][intro]).max() == np.abs(stems["comping"][intro]).max() == 0
    assert np.abs(stems["drums"][intro]).max() > 500
    assert struck(stems["bass"], top)
    last = top + 12 * bar
    assert manifest["length_s"] == pytest.approx(last + 3 * bar)
    assert struck(stems["comping"], last)
    ringing = stems["comping"][round((last + 2 * bar) * RATE) : round((last + 2.5 * bar) * RATE)]
    assert np.abs(ringing).max() > 30
    assert np.abs(stems["mix"][-RATE // 100 :]).max() < 33  # a thousandth of full scale


def test_the_parts_are_pages_to_read(tmp_path: Path) -> None:
    manifest, _ = band(tmp_path / "b", "--choruses", "1", "--tempo", "240", "--intro", "4")
    assert manifest["files"]["pdf"] == {"bass": "bass.pdf", "comping": "comping.pdf"}
    for name, file in manifest["files"]["pdf"].items():
        [page] = PdfReader(tmp_path / "b" / file).pages  # pypdf (BSD) as another reader
        text = page.extract_text()
        assert all(word in text for word in ("Quayside Blues", name.capitalize(), "Intro", "End"))
    manifest, _ = band(tmp_path / "c", "--choruses", "1", "--tempo", "240", "--only", "drums")
    assert manifest["files"]["pdf"] == {}


def test_the_verb_says_what_it_made_and_warns(tmp_path: Path) -> None:
    options = ["band", "quayside-blues", "-o", str(tmp_path / "b"), "--click", "--choruses", "1"]
    done = CliRunner().invoke(app, options)
    assert done.exit_code == 0
    assert "volume low" in done.stdout
    assert "once round, F" in done.stdout


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (("--tempo", "4000"), "20 to 400"),
        (("--bars", "5-80"), "12 bars"),
        (("--bars", "five"), "5-8"),
        (("--ladder", "80"), "80:140:6:2"),
        (("--keys", "H"), "P4"),
        (("--trade", "4"), "--for"),
        (("--count-in", "shouted"), "clicked"),
        (("--format", "mp3"), "flac"),
        (("--only", "bass,tuba"), "comping"),
        (("--soundfont", "gone.sf2"), "gone.sf2"),
        (("--intro", "four"), "vamp"),
        (("--intro", "13"), "12 bars"),
        (("--bars", "5-8", "--intro", "4"), "--intro"),
        (("--ending", "loud"), "held"),
    ],
)
def test_bad_input_is_answered_and_nothing_is_left(
    options: tuple[str, ...], word: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from changewright.cli import main

    with pytest.MonkeyPatch.context() as patch:
        args = ["changewright", "band", "quayside-blues", "-o", str(tmp_path / "b"), *options]
        patch.setattr("sys.argv", args)
        with pytest.raises(SystemExit) as left:
            main.main()
    assert left.value.code == 2
    assert word in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.longest
def test_two_hours_stream_to_disk_in_bounded_memory(tmp_path: Path) -> None:
    """A ladder of two hours in under 300 MB, measured by the kernel's high-water mark."""
    import subprocess
    import sys

    code = (
        "import resource, sys; from changewright.cli.main import app\n"
        "try: app(sys.argv[1:])\n"
        "except SystemExit: pass\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)"
    )
    options = ("--ladder", "80:140:6:26", "-o", str(tmp_path / "b"))
    done = subprocess.run(
        [sys.executable, "-c", code, "band", "quayside-blues", *options],
        capture_output=True,
        text=True,
        check=True,
    )
    manifest = json.loads((tmp_path / "b" / "band.json").read_text("utf-8"))
    assert manifest["length_s"] > 7200
    assert int(done.stdout.split()[-1]) < 300
