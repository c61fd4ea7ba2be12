"""The bass on paper: the line that the band plays, spelled and laid out to be read."""

from fractions import Fraction
from itertools import pairwise

from changewright.band.accompany import fitting_meter
from changewright.band.bass import GHOST, bass_line
from changewright.band.feel import Feel
from changewright.band.feel import feel as feel_named
from changewright.band.song import Song, song_of
from changewright.band.touch import Hit
from changewright.music.line import Line, Note, Role
from changewright.music.sheet import Recipe, Sheet
from changewright.reading.model import Reading
from changewright.theory.chord import Chord
from changewright.theory.instrument import instrument
from changewright.theory.pitch import Degree, Pitch
from changewright.theory.spelling import Sounding, spell_line

__all__ = ["bass_sheet"]


def bass_sheet(
    reading: Reading,
    *,
    bpm: int = 120,
    feel: Feel | str = "swing",
    seed: int = 0,
    level: int = 4,
    choruses: int = 1,
) -> Sheet:
    """The bass part that :func:`accompany` plays with the same arguments, as a sheet.

    Ghosted notes and the note after the last bar line are left to the player. Several choruses
    are written one after the other.
    """
    chosen = feel_named(feel) if isinstance(feel, str) else feel
    chosen = fitting_meter(chosen, reading.bars[0].meter)
    song = song_of((reading,) * choruses)
    hits = [h for h in bass_line(song, chosen, level, seed) if h.onset < song.length]
    shown = [h for h in hits if h.force > GHOST]
    return Sheet(
        recipe=Recipe("", "bass", level, str(reading.key), "double bass", seed),
        title=f"{reading.title}: bass",
        instruction=f"The bass of the band, {chosen.name.lower()}.",
        key=reading.key,
        instrument=instrument("double bass"),
        bars=song.laid_out(),
        line=Line(tuple(_notes(song, reading, shown)), song.length),
        promises=(),
        tempo_bpm=bpm,
        feel=chosen.id,
    )


def _notes(song: Song, reading: Reading, hits: list[Hit]) -> list[Note]:
    bars = [song.bar_at(hit.onset) for hit in hits]
    sounding = [
        Sounding(hit.midi, _chord(song, hit), song.bars.index(bar))
        for hit, bar in zip(hits, bars, strict=True)
    ]
    pitches = spell_line(sounding, key=reading.key)
    ends = [*(after.onset for _, after in pairwise(hits)), song.length]
    return [
        Note(
            hit.onset,
            min(hit.duration, end - hit.onset),
            pitch,
            *_meaning(pitch, _chord(song, hit)),
        )
        for hit, end, pitch in zip(hits, ends, pitches, strict=True)
    ]


def _chord(song: Song, hit: Hit) -> Chord:
    """The chord a note belongs to: the next, where its root is sounded early."""
    now, coming = song.at(hit.onset), song.at(hit.onset + Fraction(1, 2))
    early = coming is not now and coming.onset > hit.onset
    is_root = coming.chord.root is not None and coming.chord.root.pc == hit.midi % 12
    return coming.chord if early and is_root else now.chord


def _meaning(pitch: Pitch, chord: Chord) -> tuple[Role, Degree | None]:
    degree = next((d for d in chord.degrees if chord.tone(d) == pitch.name), None)
    return (Role.CHORD_TONE if degree else Role.APPROACH), degree
