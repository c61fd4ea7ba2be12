"""Spell what sounds: by chord degree and key, with approach notes spelled by their direction.

Three manners of spelling. ``usual``: no double accidentals, and Cb, Fb, E# or B# only where the
key signature or a chord tone asks for them. ``easy``: never any of those. ``strict``: what a
theorist would insist on, double accidentals included.

Source: domain reference 2.6; common practice.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from changewright.theory.chord import Chord
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Name, Pitch

__all__ = ["MANNERS", "Manner", "Sounding", "approach", "is_hard", "spell", "spell_line", "tidy"]

Manner = Literal["strict", "usual", "easy"]
MANNERS: tuple[Manner, ...] = ("strict", "usual", "easy")
"""The manners of spelling, the most learned first."""

_C = Key(Name(0))
_RARE = (-8, -7, 11, 12)  # Fb, Cb, E#, B# on the line of fifths
_MAJOR_DEFAULT = ("1", "b9", "9", "#9", "3", "11", "#11", "5", "b13", "13", "b7", "7")
_MINOR_DEFAULT = ("1", "b9", "9", "b3", "3", "11", "#11", "5", "b13", "13", "b7", "7")
_FLAT_FIFTH_DEFAULT = ("1", "b9", "9", "b3", "3", "11", "b5", "5", "b13", "13", "b7", "7")


@dataclass(frozen=True, slots=True)
class Sounding:
    """A note to be spelled: MIDI number, the chord it is heard over, and its bar."""

    midi: int
    chord: Chord | None = None
    bar: int = 1


def approach(target: Pitch, semitones: int) -> Pitch:
    """A chromatic approach note: raised when it rises to its target, lowered when it falls.

    ``semitones`` counts from the target: -1 is a semitone below, spelled on the letter below.

    >>> target = Pitch.parse("G4")
    >>> str(approach(target, -1)), str(approach(target, 1))
    ('F#4', 'Ab4')
    """
    if not 1 <= abs(semitones) <= 2:
        raise ValueError("an approach note lies one or two semitones from its target")
    letter_step = 1 if semitones > 0 else -1
    fifths = next(f for f in range(-19, 20) if _moves(f, semitones) == letter_step)
    return _at(Name(target.fifths + fifths), target.midi + semitones)


def _moves(fifths: int, semitones: int) -> int | None:
    """Staff steps of the interval with these fifths and semitones, None where there is none."""
    octaves, rest = divmod(semitones - 7 * fifths, 12)
    return 4 * fifths + 7 * octaves if rest == 0 else None


def spell(
    midi: int, *, chord: Chord | None = None, key: Key | None = None, towards: int | None = None
) -> Pitch:
    """Spell a MIDI pitch over a chord in a key; ``towards`` is the MIDI pitch that follows.

    Chord tones first, then the key's own notes, then approach notes by direction, then the
    usual degree of the chord. A #9 that falls is written as the minor third.

    >>> from changewright.theory.symbols import read_symbol
    >>> g7 = read_symbol("G7(#9)")
    >>> str(spell(70, chord=g7)), str(spell(70, chord=g7, towards=67))
    ('A#4', 'Bb4')
    """
    tone = _chord_tone(midi, chord, towards)
    if tone is None:
        tone = _key_note(midi, key)
    if tone is None and towards is not None and 1 <= abs(midi - towards) <= 2:
        return approach(spell(towards, chord=chord, key=key), midi - towards)
    return _at(tone or _usual_degree(midi, chord, key), midi)


def _at(name: Name, midi: int) -> Pitch:
    return Pitch(name.fifths, (midi - 12 - 7 * name.fifths) // 12)


def _chord_tone(midi: int, chord: Chord | None, towards: int | None) -> Name | None:
    if chord is None or chord.root is None:
        return None
    if chord.bass is not None and chord.bass.pc == midi % 12:
        return chord.bass
    degree = next((d for d in chord.degrees if (chord.root.pc + d.pc - midi) % 12 == 0), None)
    if degree is None:
        return _chord_tone(midi, chord.upper, towards)
    falls = towards is not None and 0 < midi - towards <= 3
    return chord.tone(Degree(3, -1) if degree == Degree(9, 1) and falls else degree)


def _key_note(midi: int, key: Key | None) -> Name | None:
    """The key's own note; in minor also the raised seventh and sixth."""
    if key is None:
        return None
    own = list(range(key.signature - 1, key.signature + 6))
    if key.mode == "minor":
        own += [key.tonic.fifths + 5, key.tonic.fifths + 3]
    return next((Name(f) for f in own if Name(f).pc == midi % 12), None)


def _usual_degree(midi: int, chord: Chord | None, key: Key | None) -> Name:
    if chord is None or chord.root is None:
        return _nearest_name(midi, (key or _C).signature + 1)
    table = _MAJOR_DEFAULT
    if chord.has(3, -1):
        table = _FLAT_FIFTH_DEFAULT if chord.has(5, -1) else _MINOR_DEFAULT
    return chord.tone(Degree.parse(table[(midi - chord.root.pc) % 12]))


def _nearest_name(midi: int, centre: int) -> Name:
    """The name of a pitch class that lies nearest to a point on the line of fifths."""
    names = (Name(f) for f in range(centre - 12, centre + 13))
    return min(
        (n for n in names if n.pc == midi % 12), key=lambda n: (abs(n.fifths - centre), n.fifths)
    )


def is_hard(name: Name, manner: Manner) -> bool:
    """Tell whether a manner does without a name where it can: ``easy`` without Cb, Fb, E# and B#
    as well, ``usual`` without double accidentals, ``strict`` without none.

    >>> is_hard(Name.parse("Cb"), "easy"), is_hard(Name.parse("Cb"), "usual")
    (True, False)
    """
    if manner == "strict":
        return False
    return abs(name.alter) > 1 or (manner == "easy" and name.fifths in _RARE)


def spell_line(
    line: Sequence[Sounding], key: Key | None = None, manner: Manner = "usual"
) -> tuple[Pitch, ...]:
    """Spell a line: each note by :func:`spell` towards the next, then :func:`tidy`."""
    following = (s.midi for s in line[1:])
    raw = [spell(s.midi, chord=s.chord, key=key, towards=next(following, None)) for s in line]
    firm = [_chord_tone(s.midi, s.chord, None) is not None for s in line]
    return tidy(raw, [s.bar for s in line], key, firm=firm, manner=manner)


def tidy(
    pitches: Sequence[Pitch],
    bars: Sequence[int],
    key: Key | None = None,
    *,
    firm: Sequence[bool] = (),
    manner: Manner = "usual",
) -> tuple[Pitch, ...]:
    """Clean up the spelling of a line: within a bar no pitch class has two names.

    ``bars`` gives each note's bar, in order; ``firm`` marks chord tones, whose spelling weighs
    most. What sounds stays the same. Idempotent.

    >>> line = [Pitch.parse(p) for p in ("F#4", "G4", "Gb4", "F4")]
    >>> " ".join(map(str, tidy(line, [1, 1, 1, 1], Key.parse("F"))))
    'Gb4 G4 Gb4 F4'
    """
    marks = list(firm) or [False] * len(pitches)
    rows = list(zip(pitches, bars, marks, strict=True))
    tidied: list[Pitch] = []
    for _, bar in groupby(rows, key=lambda row: row[1]):
        tidied += _tidy_bar([(pitch, mark) for pitch, _, mark in bar], key or _C, manner)
    return tuple(tidied)


def _tidy_bar(notes: list[tuple[Pitch, bool]], key: Key, manner: Manner) -> list[Pitch]:
    names: dict[int, Name] = {}
    for pitch, _ in notes:
        pc = pitch.midi % 12
        if pc not in names:
            same = [(p.name, mark) for p, mark in notes if p.midi % 12 == pc]
            names[pc] = min(_choices(same), key=lambda name: _cost(name, same, key, manner))
    return [_at(names[pitch.midi % 12], pitch.midi) for pitch, _ in notes]


def _choices(same: list[tuple[Name, bool]]) -> list[Name]:
    found = {name.fifths + turn for name, _ in same for turn in (-24, -12, 0, 12, 24)}
    return [Name(f) for f in sorted(found) if abs(Name(f).alter) <= 2]


def _cost(
    name: Name, same: list[tuple[Name, bool]], key: Key, manner: Manner
) -> tuple[int, float, float]:
    """What speaks against a name: what the manner forbids, whom it overrules, how far it lies."""
    firm = any(mark and n == name for n, mark in same)
    overruled = sum(3 if mark else 1 for n, mark in same if n != name)
    distance = abs(name.fifths - (key.signature + 1))
    return _forbidden(name, firm, key, manner), overruled, distance


def _forbidden(name: Name, firm: bool, key: Key, manner: Manner) -> int:
    if manner == "strict":
        return 0
    if abs(name.alter) > 1:
        return 2
    if name.fifths not in _RARE:
        return 0
    in_key = key.signature - 1 <= name.fifths <= key.signature + 5
    return 0 if manner == "usual" and (firm or in_key) else 1
