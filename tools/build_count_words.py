"""Speak the words of a count-in once: one to eight, by Flite.

Needs Debian's ``flite``; the package itself doesn't. Run from the root of the repository::

    python tools/build_count_words.py

Writes ``words.zip``, ``words.json`` and ``words-NOTICE.txt`` into ``src/changewright/sound/bank/``.
Words are brought to one loudness. Each one's ``attack`` is where a listener hears its beat: where
the band from 500 to 1600 Hz, which carries a vowel's first formants, reaches half its loudest.
Source: Scott, P-centres in speech: an acoustic analysis (PhD thesis, UCL, 1993), from memory; the
vowels that Flite reports begin within 25 ms of it, and up to 50 ms after it where a voiced w or r
leads in.
"""

import json
import subprocess
import zipfile
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, resample_poly, sosfiltfilt

__all__ = ["build"]

Audio = NDArray[np.float64]
RATE = 48_000
BANK = Path("src/changewright/sound/bank")
WORDS = ("one", "two", "three", "four", "five", "six", "seven", "eight")
VOICE, STRETCH = "slt", 0.75
LAYER = 80
LOUDNESS_DB = -20.0
CURVE = [(1, -36.0), (40, -12.0), (LAYER, 0.0), (127, 8.0)]
NOTICE = """The words one to eight in words.zip were spoken by Flite 2.2 (Debian package flite) with
its voice cmu_us_slt, and cut, levelled and resampled by tools/build_count_words.py. Flite itself is
not included. Its licence, reproduced here:

"""
LICENCE = Path("/usr/share/doc/flite/copyright")


def build(folder: Path) -> None:
    """Speak every word and write the pack, its index and its notice."""
    notes: list[dict[str, Any]] = []
    with zipfile.ZipFile(folder / "words.zip", "w", zipfile.ZIP_STORED) as pack:
        for number, word in enumerate(WORDS, start=1):
            audio = trimmed(spoken(word))
            level = 10 ** ((LOUDNESS_DB - weighted_db(audio)) / 20)
            peak = float(np.abs(audio).max())
            blob = BytesIO()
            soundfile.write(blob, audio / (2 * peak), RATE, format="FLAC", subtype="PCM_16")
            pack.writestr(zipfile.ZipInfo(f"{number}.flac"), blob.getvalue())
            notes.append(
                {
                    "midi": number,
                    "layer": LAYER,
                    "file": f"{number}.flac",
                    "frames": len(audio),
                    "level": float(f"{2 * peak * level:.6g}"),
                    "attack": beat(audio),
                    "loop": None,
                }
            )
    row = {
        "program": 56,
        "edges": [(LAYER, 127)],
        "curves": {str(n): CURVE for n in range(1, len(WORDS) + 1)},
        "notes": notes,
        "loudness": LOUDNESS_DB,
    }
    text = json.dumps({"rate": RATE, "voices": {"words": row}}, sort_keys=True, indent=1)
    (folder / "words.json").write_text(text + "\n", encoding="utf-8")
    terms = LICENCE.read_text("utf-8").split("All other files are under following license:")[1]
    terms = terms.split("This Debian package")[0].lstrip("=\n").rstrip()
    (folder / "words-NOTICE.txt").write_text(NOTICE + terms + "\n", encoding="utf-8")


def spoken(word: str) -> Audio:
    """One word at 48 kHz."""
    with TemporaryDirectory() as made:
        path = Path(made) / "word.wav"
        options = ["-voice", VOICE, "--setf", f"duration_stretch={STRETCH}"]
        subprocess.run(["flite", *options, "-t", word, "-o", str(path)], check=True)
        audio, rate = soundfile.read(path)
    return np.asarray(resample_poly(audio, RATE // rate, 1), dtype=np.float64)


def trimmed(audio: Audio) -> Audio:
    """Without the silence on either side, its edges faded."""
    heard = np.flatnonzero(np.abs(audio) > 0.015 * np.abs(audio).max())
    before, after = RATE // 200, RATE // 50
    kept = audio[max(heard[0] - before, 0) : heard[-1] + after].copy()
    kept[:before] *= np.linspace(0, 1, before)
    kept[-after:] *= np.linspace(1, 0, after)
    return kept


def beat(audio: Audio) -> int:
    """The frame at which a listener hears the word's beat."""
    band = sosfiltfilt(butter(2, (500, 1600), "bandpass", fs=RATE, output="sos"), audio)
    window = RATE // 100
    power = np.convolve(band**2, np.ones(window) / window, "same")
    return int(np.argmax(np.sqrt(power) >= 0.5 * np.sqrt(power.max())))


def weighted_db(audio: Audio) -> float:
    """K-weighted level over 400 ms. Source: ITU-R BS.1770-4, annex 1, filters at 48 kHz."""
    shelf = lfilter(
        (1.53512485958697, -2.69169618940638, 1.19839281085285),
        (1, -1.69065929318241, 0.73248077421585),
        audio,
    )
    weighted = lfilter((1, -2, 1), (1, -1.99004745483398, 0.99007225036621), shelf)
    return float(10 * np.log10(np.square(weighted).sum() / (0.4 * RATE)))


if __name__ == "__main__":
    build(BANK)
