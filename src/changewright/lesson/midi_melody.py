"""A melody from a standard MIDI file, set over changes that are given beside it.

Source: Standard MIDI Files 1.0 (MIDI Association); General MIDI: percussion on channel 10.
"""

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from io import BytesIO
from itertools import zip_longest

import mido

from changewright.chart.model import Form
from changewright.errors import InputError, Place
from changewright.music.bar import Quarters
from changewright.music.line import Line, Note
from changewright.theory.spelling import spell

__all__ = ["with_midi"]

_PERCUSSION = 9
_MOST_NOTES = 20_000
_GRID = tuple(Fraction(n, 12) for n in (0, 3, 4, 6, 8, 9, 12))
"""Where notes are taken to start in a quarter: halves, thirds, fourths."""

Played = tuple[Quarters, Quarters, int]


def with_midi(form: Form, content: bytes, name: str) -> Form:
    """Set the notes of a MIDI file over the changes of a form; the first bar lines coincide.

    Onsets are taken to the nearest half, third or fourth of a quarter; of notes together the
    highest counts. Raises :class:`InputError` for a file that is none, or longer than the form.
    """
    played = _one_voice(_played(content, name))
    if not played:
        raise _fault("the MIDI file has no notes", name, "Export the solo's own track.")
    if played[-1][0] >= form.length:
        raise _fault(
            f"the MIDI file goes on to quarter {float(played[-1][1]):g}, its changes last "
            f"{float(form.length):g}",
            name,
            "Name changes that are as long, or cut the file.",
        )
    coming = [midi for _, _, midi in played[1:]]
    notes = tuple(_note(form, *pair) for pair in zip_longest(played, coming))
    return replace(form, melody=Line(notes, form.length))


def _fault(what: str, name: str, remedy: str) -> InputError:
    return InputError(what, where=Place(file=name), remedy=remedy)


def _played(content: bytes, name: str) -> list[Played]:
    try:
        file = mido.MidiFile(file=BytesIO(content), clip=True)
        found = sorted(_events(file))
    except (OSError, EOFError, ValueError, KeyError, IndexError, TypeError) as error:
        raise _fault(
            f"this isn't a standard MIDI file ({error})", name, "Export it again as type 0 or 1."
        ) from None
    if len(found) > _MOST_NOTES:
        raise _fault(
            f"more than {_MOST_NOTES:,} notes are too many for a solo", name, "Cut the file."
        )
    return found


def _events(file: mido.MidiFile) -> Iterator[Played]:
    if file.ticks_per_beat <= 0:
        raise ValueError("no ticks a quarter")
    for track in file.tracks:
        now, sounding = 0, dict[tuple[int, int], int]()
        for message in track:
            now += message.time
            if message.type not in ("note_on", "note_off") or message.channel == _PERCUSSION:
                continue
            key = message.channel, message.note
            if key in sounding:
                start = sounding.pop(key)
                per = file.ticks_per_beat
                yield _near(Fraction(start, per)), _near(Fraction(now, per)), message.note
            if message.type == "note_on" and message.velocity:
                sounding[key] = now


def _near(at: Quarters) -> Quarters:
    whole = at // 1
    return whole + min(_GRID, key=lambda g: abs(at - whole - g))


def _one_voice(played: list[Played]) -> list[Played]:
    """The highest note of each onset, ended by the next; a gap below a fourth is none."""
    tops: dict[Quarters, Played] = {}
    for one in played:
        tops[one[0]] = max(tops.get(one[0], one), one, key=lambda p: (p[2], p[1]))
    line = [tops[at] for at in sorted(tops)]
    ended: list[Played] = []
    for index, (start, end, midi) in enumerate(line):
        after = line[index + 1][0] if index + 1 < len(line) else end
        end = min(max(end, start + Fraction(1, 4)), after) if after > start else end
        close = index + 1 < len(line) and after - end <= Fraction(1, 4)
        ended.append((start, after if close else max(end, start + Fraction(1, 4)), midi))
    return ended


def _note(form: Form, played: Played, towards: int | None) -> Note:
    start, end, midi = played
    change = next(c for c in form.changes if c.onset <= start < c.end)
    pitch = spell(midi, chord=change.chord, key=form.key, towards=towards)
    return Note(start, min(end, form.length) - start, pitch)
