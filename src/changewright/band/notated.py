"""Bass and comping on paper: what the band plays, spelled and laid out to be read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import ceil

from changewright.band.accompany import fitting_meter, last_length
from changewright.band.bass import GHOST, bass_line
from changewright.band.comping import comping
from changewright.band.feel import Feel
from changewright.band.feel import feel as feel_named
from changewright.band.song import Ending, Song, Stretch, song_of
from changewright.band.touch import Hit
from changewright.music.bar import Bar, Change, Quarters
from changewright.music.line import Line, Note, Role
from changewright.music.sheet import Recipe, Sheet
from changewright.reading.model import Reading
from changewright.theory.chord import Chord
from changewright.theory.instrument import Clef, Instrument, instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Name, Pitch
from changewright.theory.spelling import Sounding, spell, spell_line
from changewright.theory.symbols import write_symbol

__all__ = ["CompingPart", "bass_sheet", "comping_part"]

_GUITARS = range(24, 32)  # General MIDI
_MIDDLE_C = 28  # its place on the staff, one for each letter


@dataclass(frozen=True, slots=True)
class _Score:
    """What is written: the song as played, from the first bar of an intro to the last chord."""

    song: Song
    feel: Feel
    reading: Reading
    bpm: float
    level: int
    seed: int

    @property
    def length(self) -> Quarters:
        """From the first bar to the bar line after the last chord."""
        song, bar = self.song, self.song.bars[-1].bar.meter.length
        bars = ceil((song.after.end - song.length) / bar) if song.ends else 0
        return song.length + bars * bar - song.start

    def written(self, onset: Quarters) -> Quarters:
        """Where on paper something is played."""
        return onset - self.song.start

    def bars(self) -> tuple[Bar, ...]:
        """All bars, numbered through, those of the last chord among them."""
        song = self.song
        bars = [replace(b, label=_label(song, n, b)) for n, b in enumerate(song.laid_out())]
        while song.ends and bars[-1].end < self.length:
            last = bars[-1]
            chord, length = song.after.chord, last.meter.length
            change = Change(last.end, length, chord, write_symbol(chord))
            label = "End" if last.end + song.start == song.length else ""
            bars.append(Bar(last.number + 1, last.end, length, last.meter, (change,), label))
        return tuple(bars)

    def sheet(self, name: str, player: Instrument, notes: Sequence[Note]) -> Sheet:
        first = self.reading
        return Sheet(
            recipe=Recipe("", name, self.level, str(first.key), player.id, self.seed),
            title=f"{first.title}: {name}",
            instruction="",
            key=first.key,
            instrument=player,
            bars=self.bars(),
            line=Line(tuple(notes), self.length),
            promises=(),
            tempo_bpm=round(self.bpm),
            feel=self.feel.id,
        )


def _label(song: Song, number: int, bar: Bar) -> str:
    played = song.bars[number]
    if song.start == 0:
        return bar.label
    if played.chorus < 0:
        return "Intro" if number == 0 else ""
    return bar.label or ("Chorus" if song.bars[number - 1].chorus < 0 else "")


def _score(
    reading: Reading | Sequence[Reading],
    bpm: float,
    feel: Feel | str,
    seed: int,
    level: int,
    choruses: int,
    intro: Reading | None,
    ending: Ending,
) -> _Score:
    readings = (reading,) if isinstance(reading, Reading) else tuple(reading)
    meter = readings[0].bars[0].meter
    chosen = fitting_meter(feel_named(feel) if isinstance(feel, str) else feel, meter)
    song = song_of(readings * choruses, intro, ending, last_length(meter, bpm, ending))
    return _Score(song, chosen, readings[0], bpm, level, seed)


def bass_sheet(
    reading: Reading | Sequence[Reading],
    *,
    bpm: float = 120,
    feel: Feel | str = "swing",
    seed: int = 0,
    level: int = 4,
    choruses: int = 1,
    intro: Reading | None = None,
    ending: Ending = "stop",
) -> Sheet:
    """The bass part that :func:`accompany` plays with the same arguments, as a sheet.

    Ghosted notes are left to the player. An intro, several choruses and the bars of the last
    chord are written one after the other.
    """
    score = _score(reading, bpm, feel, seed, level, choruses, intro, ending)
    shown = [h for h in bass_line(score.song, score.feel, level, seed) if h.force > GHOST]
    return score.sheet("bass", instrument("double bass"), _notes(score, shown))


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
    intro: Reading | None = None,
    ending: Ending = "stop",
) -> CompingPart:
    """The chords that :func:`accompany` plays with the same arguments, voiced as played."""
    score = _score(reading, bpm, feel, seed, level, choruses, intro, ending)
    struck: dict[Quarters, list[Hit]] = {}
    for hit in comping(score.song, score.feel, bpm, level, seed):
        struck.setdefault(hit.onset, []).append(hit)
    onsets = sorted(struck)
    end = score.length + score.song.start
    notes, above = [], {}
    for onset, after in zip(onsets, [*onsets[1:], end], strict=True):
        low, *rest = _chord_pitches(score.song, score.reading.key, struck[onset])
        at = score.written(onset)
        notes.append(Note(at, min(struck[onset][0].duration, after - onset), low))
        above[at] = tuple(rest)
    if score.feel.comping.program in _GUITARS:
        return CompingPart(score.sheet("comping", instrument("guitar"), notes), above)
    pitches = [p for note in notes for p in (note.pitch, *above[note.onset])]
    player = replace(instrument("piano"), name="Piano", clef=_hand_clef(pitches))
    return CompingPart(score.sheet("comping", player, notes), above)


def _hand_clef(pitches: Sequence[Pitch]) -> Clef:
    """The clef of one hand at the piano: that with fewer ledger lines."""
    treble = sum(max((_MIDDLE_C + 2 - pitch.step) // 2, 0) for pitch in pitches)
    bass = sum(max((pitch.step - _MIDDLE_C + 2) // 2, 0) for pitch in pitches)
    return "treble" if treble <= bass else "bass"


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


def _notes(score: _Score, hits: list[Hit]) -> list[Note]:
    song = score.song
    bars = [song.bar_at(hit.onset) for hit in hits]
    sounding = [
        Sounding(hit.midi, _chord(song, hit), song.bars.index(bar))
        for hit, bar in zip(hits, bars, strict=True)
    ]
    pitches = spell_line(sounding, key=score.reading.key)
    ends = [*(after.onset for _, after in pairwise(hits)), score.length + song.start]
    return [
        Note(
            score.written(hit.onset),
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
