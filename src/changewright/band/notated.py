"""Bass and comping on paper: what the band plays, spelled and laid out to be read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from changewright.band.accompany import fitting_meter
from changewright.band.bass import GHOST, bass_line
from changewright.band.comping import comping
from changewright.band.feel import Feel
from changewright.band.feel import feel as feel_named
from changewright.band.song import Song, Stretch, song_of
from changewright.band.touch import Hit
from changewright.music.bar import Quarters
from changewright.music.line import Line, Note, Role
from changewright.music.sheet import Recipe, Sheet
from changewright.reading.model import Reading
from changewright.theory.chord import Chord
from changewright.theory.instrument import Instrument, instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Name, Pitch
from changewright.theory.spelling import Sounding, spell, spell_line

__all__ = ["CompingPart", "bass_sheet", "comping_part"]

_GUITARS = range(24, 32)  # General MIDI
_Made = tuple[Song, Feel]


def bass_sheet(
    reading: Reading | Sequence[Reading],
    *,
    bpm: float = 120,
    feel: Feel | str = "swing",
    seed: int = 0,
    level: int = 4,
    choruses: int = 1,
    ending: bool = True,
) -> Sheet:
    """The bass part that :func:`accompany` plays with the same arguments, as a sheet.

    Ghosted notes and the note after the last bar line are left to the player. Several choruses
    are written one after the other.
    """
    song, chosen = _song(reading, feel, choruses)
    hits = [h for h in bass_line(song, chosen, level, seed, ending) if h.onset < song.length]
    shown = [h for h in hits if h.force > GHOST]
    line = Line(tuple(_notes(song, _key(reading), shown)), song.length)
    return _sheet(song, reading, chosen, line, "bass", instrument("double bass"), bpm, level, seed)


@dataclass(frozen=True, slots=True)
class CompingPart:
    """The comping on paper. ``sheet`` holds the lowest note of each chord, ``above`` the others
    by onset, upwards."""

    sheet: Sheet
    above: Mapping[Quarters, tuple[Pitch, ...]]


def comping_part(
    reading: Reading | Sequence[Reading],
    *,
    bpm: float = 120,
    feel: Feel | str = "swing",
    seed: int = 0,
    level: int = 4,
    choruses: int = 1,
    ending: bool = True,
) -> CompingPart:
    """The chords that :func:`accompany` plays with the same arguments, voiced as played.

    The chord after the last bar line is left to the player.
    """
    song, chosen = _song(reading, feel, choruses)
    struck: dict[Quarters, list[Hit]] = {}
    for hit in comping(song, chosen, bpm, level, seed, ending):
        if hit.onset < song.length:
            struck.setdefault(hit.onset, []).append(hit)
    onsets = sorted(struck)
    notes, above = [], {}
    for onset, after in zip(onsets, [*onsets[1:], song.length], strict=True):
        low, *rest = _chord_pitches(song, _key(reading), struck[onset])
        notes.append(Note(onset, min(struck[onset][0].duration, after - onset), low))
        above[onset] = tuple(rest)
    line = Line(tuple(notes), song.length)
    guitar = chosen.comping.program in _GUITARS
    player = instrument("guitar") if guitar else replace(instrument("piano"), name="Piano")
    sheet = _sheet(song, reading, chosen, line, "comping", player, bpm, level, seed)
    return CompingPart(sheet, above)


def _chord_pitches(song: Song, key: Key, hits: Sequence[Hit]) -> list[Pitch]:
    """The notes of one chord upwards, spelled by the chord, then by its scale."""
    onset, midis = hits[0].onset, sorted({hit.midi for hit in hits})
    now, coming = song.at(onset), song.at(onset + Fraction(1, 2))
    best = max((now, coming), key=lambda s: (len(_named(s, midis)), s is now))
    names = _named(best, midis)
    return [
        _pitch(names[m % 12], m) if m % 12 in names else spell(m, chord=best.chord, key=key)
        for m in midis
    ]


def _named(stretch: Stretch, midis: Sequence[int]) -> dict[int, Name]:
    """The names that a chord and its scale give the notes, by pitch class."""
    tones = stretch.chord.tones if stretch.chord.root is not None else ()
    scale = stretch.scale.tones if stretch.scale is not None else ()
    names = {name.pc: name for name in (*scale, *tones)}
    return {m % 12: names[m % 12] for m in midis if m % 12 in names}


def _pitch(name: Name, midi: int) -> Pitch:
    return next(p for o in range(-1, 11) if (p := name.at(o)).midi == midi)


def _song(reading: Reading | Sequence[Reading], feel: Feel | str, choruses: int) -> _Made:
    readings = (reading,) if isinstance(reading, Reading) else tuple(reading)
    chosen = feel_named(feel) if isinstance(feel, str) else feel
    return song_of(readings * choruses), fitting_meter(chosen, readings[0].bars[0].meter)


def _key(reading: Reading | Sequence[Reading]) -> Key:
    return reading.key if isinstance(reading, Reading) else reading[0].key


def _sheet(
    song: Song,
    reading: Reading | Sequence[Reading],
    feel: Feel,
    line: Line,
    name: str,
    player: Instrument,
    bpm: float,
    level: int,
    seed: int,
) -> Sheet:
    first = reading if isinstance(reading, Reading) else reading[0]
    return Sheet(
        recipe=Recipe("", name, level, str(first.key), player.id, seed),
        title=f"{first.title}: {name}",
        instruction=f"The {name} of the band, {feel.name.lower()}.",
        key=first.key,
        instrument=player,
        bars=song.laid_out(),
        line=line,
        promises=(),
        tempo_bpm=round(bpm),
        feel=feel.id,
    )


def _notes(song: Song, key: Key, hits: list[Hit]) -> list[Note]:
    bars = [song.bar_at(hit.onset) for hit in hits]
    sounding = [
        Sounding(hit.midi, _chord(song, hit), song.bars.index(bar))
        for hit, bar in zip(hits, bars, strict=True)
    ]
    pitches = spell_line(sounding, key=key)
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
