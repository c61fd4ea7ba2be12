"""Takes that come as MIDI: an instrument that reports its own notes."""

from pathlib import Path

from changewright.ear.audio import LONGEST_S
from changewright.ear.take import HeardNote, Take
from changewright.errors import Place, TakeError

__all__ = ["load_midi"]

_MOST_BYTES = 8 << 20
_MOST_NOTES = 50_000
_DRUMS = 9
_SHORTEST_S = 0.01


def load_midi(path: Path | str) -> Take:
    """Read a Standard MIDI File as a take: every note sure, in equal temperament at A = 440 Hz.

    Drums are left out. Where notes overlap, the later one ends the earlier: the ear hears one
    line. Raises :class:`TakeError` where there is no file, no MIDI, no note, or no end.
    """
    file = Path(path)
    if not file.is_file():
        raise _refused(file, "there is no such file", "Give the path of a recording.")
    if file.stat().st_size > _MOST_BYTES:
        raise _refused(file, "it is too large for a take", "Cut out the chorus to be heard.")
    sounding = _sounding(file)
    if not sounding:
        raise _refused(file, "it holds no notes", "Record the line on a melodic channel.")
    notes = _one_line(sounding)
    return Take(notes=notes, length_s=max(n.end_s for n in notes), source="midi")


def _sounding(file: Path) -> list[tuple[float, float, int, int]]:
    """(onset, end, note number, velocity) of every note, in order."""
    import mido

    found: list[tuple[float, float, int, int]] = []
    held: dict[tuple[int, int], tuple[float, int]] = {}
    now = 0.0
    try:
        for message in mido.MidiFile(str(file)):
            now += message.time
            if now > LONGEST_S or len(found) > _MOST_NOTES:
                raise _refused(file, "it has no end in sight", "Cut out the chorus to be heard.")
            if message.type not in ("note_on", "note_off") or message.channel == _DRUMS:
                continue
            key = (message.channel, message.note)
            if key in held:
                onset, velocity = held.pop(key)
                found.append((onset, now, message.note, velocity))
            if message.type == "note_on" and message.velocity > 0:
                held[key] = (now, message.velocity)
    except (OSError, EOFError, ValueError, KeyError, IndexError, TypeError) as fault:
        raise _refused(
            file,
            f"this is not a MIDI file that can be read ({fault or type(fault).__name__})",
            "Save it again as a Standard MIDI File.",
        ) from fault
    found += [(onset, now, note, velocity) for (_, note), (onset, velocity) in held.items()]
    return sorted(found)


def _one_line(sounding: list[tuple[float, float, int, int]]) -> tuple[HeardNote, ...]:
    starts = [onset for onset, *_ in sounding[1:]] + [float("inf")]
    return tuple(
        HeardNote(
            onset_s=onset,
            end_s=max(onset + _SHORTEST_S, min(end, following)),
            pitch=float(note),
            cents=0.0,
            loudness_db=-30.0 + 30 * velocity / 127,
            confidence=1.0,
        )
        for (onset, end, note, velocity), following in zip(sounding, starts, strict=True)
        if following - onset > _SHORTEST_S
    )


def _refused(file: Path, what: str, remedy: str) -> TakeError:
    return TakeError(what, where=Place(file=str(file)), remedy=remedy)
