"""A backing as a folder: stems and their mix, MIDI, parts to read, and a manifest with its clocks.

The manifest is ``band.json``; every path of it is named in docs/json.md.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, replace
from hashlib import file_digest
from pathlib import Path

from changewright import __version__
from changewright.band.count import WORDS_KIT
from changewright.band.feel import PIECES
from changewright.chart.writer import write_chart
from changewright.errors import InputError, UnknownName
from changewright.music.bar import Quarters
from changewright.music.clock import Clock
from changewright.music.document import Document
from changewright.music.midi import write_midi
from changewright.music.musicxml import write_musicxml
from changewright.music.performance import Part
from changewright.music.sheet import Sheet
from changewright.page import part_pdf
from changewright.page.words import is_swung
from changewright.sound.files import FORMATS, write_stems
from changewright.sound.kept import StemShelf
from changewright.sound.loudness import Loudness
from changewright.sound.soundfont import render_by
from changewright.sound.stems import MOST_HELD_S
from changewright.theory.pitch import Pitch
from changewright.usecases.band import Band, Rung
from changewright.usecases.folder import whole_folder
from changewright.usecases.stems import stems_into

__all__ = ["CAUTION", "MARKER", "SHAPE", "write_band"]

MARKER = "band.json"
"""The manifest, by which a folder of ours is known."""

SHAPE = 1
"""The version of the manifest's shape."""

CAUTION = "Start with the volume low. Play 20 minutes, then rest five. Stop if it hurts."
"""Said wherever sound is made. Source: guide values for hearing and for strain in practice."""

_MOST_WRITTEN = 256  # bars of a part on paper: twenty pages, and more than anybody reads


def write_band(
    band: Band,
    folder: Path,
    *,
    format: str = "flac",
    soundfont: Path | None = None,
    shelf: StemShelf | None = None,
) -> Document:
    """Sound a backing and write it to ``folder``, or nothing; returns the manifest.

    What was sounded before comes from the ``shelf``; without one nothing is kept. Long ones are
    sounded a stretch at a time, in bounded memory; a SoundFont of the user's own is played in
    memory, so for ten minutes at most. Raises :class:`InputError` for more, and
    :class:`UnknownName` for a format that we don't write.
    """
    if format not in FORMATS:
        raise UnknownName("audio format", format, FORMATS)
    if soundfont is not None and band.performance.length_s > MOST_HELD_S:
        raise InputError(
            f"a SoundFont of your own plays {MOST_HELD_S / 60:.0f} minutes at most",
            remedy="Ask for fewer choruses or fewer tempi, or leave --soundfont out.",
        )
    with whole_folder(folder, MARKER) as making:
        if soundfont is None:
            stems, heard = stems_into(making, band.performance, shelf, format)
        else:
            played = render_by(soundfont, band.performance)
            stems, heard = write_stems(played, making, format), played.loudness
        files: Document = {
            "mix": stems[-1].name,
            "stems": {path.stem: path.name for path in stems[:-1]},
            "midi": _midi(band, making),
            **_parts(band, making),
        }
        manifest = _manifest(band, files, heard, making)
        text = json.dumps(manifest, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
        (making / MARKER).write_text(text, encoding="utf-8")
    return manifest


def _midi(band: Band, making: Path) -> str:
    first, *later = band.rungs
    midi = write_midi(
        replace(band.performance, parts=tuple(map(_clicked, band.performance.parts))),
        bpm=first.bpm,
        meter=band.reading.bars[-1].meter,
        title=band.chart.title,
        later=[(rung.start_s, rung.bpm) for rung in later],
    )
    (making / "band.mid").write_bytes(midi)
    return "band.mid"


def _clicked(part: Part) -> Part:
    """A spoken count as side stick: MIDI has no words."""
    if part.program != WORDS_KIT or not part.is_drums:
        return part
    key = PIECES["cross-stick"]
    return replace(part, program=32, events=tuple(replace(e, midi=key) for e in part.events))


def _parts(band: Band, making: Path) -> Document:
    """Write the parts of those who read, as pages and as MusicXML; the names of the files."""
    swung = is_swung(band.feel.id, band.reading.bars[-1].meter)
    pages: Document = {}
    scores: Document = {}
    for name, sheet, above in _read(band):
        pages[name], scores[name] = f"{name}.pdf", f"{name}.musicxml"
        score = write_musicxml(sheet, swung=swung, above=above)
        (making / scores[name]).write_text(score, encoding="utf-8")
        page = part_pdf(sheet, name.capitalize(), title=band.chart.title, above=above)
        (making / pages[name]).write_bytes(page)
    return {"pdf": pages, "musicxml": scores}


def _read(band: Band) -> Iterator[tuple[str, Sheet, Mapping[Quarters, tuple[Pitch, ...]] | None]]:
    if band.bass is not None:
        yield "bass", _cut(band.bass), None
    if band.comping is not None:
        yield "comping", _cut(band.comping.sheet), band.comping.above


def _cut(sheet: Sheet) -> Sheet:
    bars = sheet.bars[:_MOST_WRITTEN]
    end = bars[-1].end - bars[0].start
    return replace(sheet, bars=bars, line=sheet.line.cut(end - end, end))


def _manifest(band: Band, files: Document, heard: Loudness, making: Path) -> Document:
    asked = band.request
    return {
        "shape": SHAPE,
        "made_by": f"changewright {__version__}",
        "title": band.chart.title,
        "chart": write_chart(band.chart),
        "feel": band.feel.id,
        "level": asked.level,
        "seed": asked.seed,
        "swing": asked.swing,
        "count_in": asked.count_in,
        "loop": list(asked.bars) if asked.bars is not None else None,
        "intro": None if asked.intro is None else asdict(asked.intro),
        "tag": asked.tag,
        "ending": "none" if asked.is_loop else asked.ending or "stop",
        "trade": asked.trade,
        "instrument": asked.instrument,
        "length_s": band.performance.length_s,
        "rungs": [_rung(rung) for rung in band.rungs],
        "loudness_lufs": round(heard.lufs, 2),
        "true_peak_dbtp": round(heard.true_peak_dbtp, 2),
        "caution": CAUTION,
        "files": files,
        "digests": {path.name: _digest(path) for path in sorted(making.iterdir())},
    }


def _digest(path: Path) -> str:
    """Read piece by piece: the mix of two hours takes half a gigabyte."""
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def _rung(rung: Rung) -> Document:
    return {
        "start_s": rung.start_s,
        "bpm": rung.bpm,
        "clocks": {"band": _clock(rung.clocks.band), "line": _clock(rung.clocks.line)},
        "rounds": [
            {"start_s": one.start_s, "key": str(one.key), "bars": list(one.bars)}
            for one in rung.rounds
        ],
        "open": [{"start_s": one.start_s, "end_s": one.end_s} for one in rung.open],
    }


def _clock(clock: Clock) -> Document:
    return {
        "bpm": clock.bpm,
        "swing_ratio": clock.swing_ratio,
        "lead_in": str(clock.lead_in),
    }
