"""A performance as a standard MIDI file, format 1: tempo and meter first, then one track a player.

Source: Standard MIDI Files 1.0 (MIDI Association); General MIDI: percussion on channel 10.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise

import mido

from changewright.music.bar import FOUR_FOUR, Meter
from changewright.music.clock import Seconds
from changewright.music.performance import Event, Part, Performance

__all__ = ["TICKS_A_QUARTER", "write_midi"]

TICKS_A_QUARTER = 960
"""Divides by 2, 3 and 5, and is finer than a millisecond above 63 quarters a minute."""

_PERCUSSION = 9  # channel 10 as people count
_MELODIC = tuple(c for c in range(16) if c != _PERCUSSION)


def write_midi(
    performance: Performance,
    *,
    bpm: float,
    meter: Meter = FOUR_FOUR,
    title: str = "",
    later: Sequence[tuple[Seconds, float]] = (),
) -> bytes:
    """Write all parts on one time axis, count-in included; the same performance, the same bytes.

    ``bpm`` is quarters a minute; ``later`` gives instants at which it changes, and to what, in
    order. Each onset is worked out from its own time, so that rounding
    never adds up: nothing lies more than half a tick from where it sounds. Raises ``ValueError``
    for more players than MIDI has channels.
    """
    tempi = _Tempi.of(((0.0, bpm), *later))
    melodic = [p for p in performance.parts if not p.is_drums]
    if len(melodic) > len(_MELODIC):
        raise ValueError(f"MIDI has {len(_MELODIC)} channels beside drums, not {len(melodic)}")
    channels = dict(zip((id(p) for p in melodic), _MELODIC, strict=False))
    end = tempi.tick(_length_s(performance))
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_A_QUARTER)
    file.tracks.append(_head(tempi, meter, title, end))
    for part in performance.parts:
        file.tracks.append(_track(part, channels.get(id(part), _PERCUSSION), tempi, end))
    written = BytesIO()
    file.save(file=written)
    return written.getvalue()


def _length_s(performance: Performance) -> Seconds:
    rings = (e.onset_s + e.duration_s for p in performance.parts for e in p.events)
    return max([performance.length_s, *rings])


@dataclass(frozen=True, slots=True)
class _Tempi:
    """From seconds to ticks: where each tempo begins, in both, and microseconds a quarter."""

    starts_s: tuple[float, ...]
    ticks: tuple[int, ...]
    beats_us: tuple[int, ...]

    @classmethod
    def of(cls, steps: Sequence[tuple[Seconds, float]]) -> "_Tempi":
        starts = tuple(start for start, _ in steps)
        beats = tuple(mido.bpm2tempo(bpm) for _, bpm in steps)
        ticks = [0]
        for (before, after), beat_us in zip(pairwise(starts), beats, strict=False):
            ticks.append(ticks[-1] + round((after - before) * 1e6 / beat_us * TICKS_A_QUARTER))
        return cls(starts, tuple(ticks), beats)

    def tick(self, at_s: Seconds) -> int:
        step = max(bisect_right(self.starts_s, at_s) - 1, 0)
        past_s = at_s - self.starts_s[step]
        return self.ticks[step] + round(past_s * 1e6 / self.beats_us[step] * TICKS_A_QUARTER)


def _head(tempi: _Tempi, meter: Meter, title: str, end: int) -> mido.MidiTrack:
    clocks = 36 if meter.unit == 8 and meter.beats % 3 == 0 else 96 // meter.unit
    track = mido.MidiTrack(
        [
            mido.MetaMessage("track_name", name=_latin(title)),
            mido.MetaMessage("set_tempo", tempo=tempi.beats_us[0]),
            mido.MetaMessage(
                "time_signature",
                numerator=meter.beats,
                denominator=meter.unit,
                clocks_per_click=clocks,
            ),
        ]
    )
    at = 0
    for tick, beat_us in zip(tempi.ticks[1:], tempi.beats_us[1:], strict=True):
        track.append(mido.MetaMessage("set_tempo", tempo=beat_us, time=tick - at))
        at = tick
    track.append(mido.MetaMessage("end_of_track", time=max(end - at, 0)))
    return track


def _latin(text: str) -> str:
    """A name in the character set of MIDI's text events."""
    return text.encode("latin-1", "replace").decode("latin-1")


def _track(part: Part, channel: int, tempi: _Tempi, end: int) -> mido.MidiTrack:
    track = mido.MidiTrack([mido.MetaMessage("track_name", name=_latin(part.name))])
    if not part.is_drums:
        track.append(mido.Message("program_change", channel=channel, program=part.program))
    at = 0
    for tick, kind, note, velocity in sorted(_strokes(part.events, tempi)):
        name = "note_on" if kind else "note_off"
        track.append(
            mido.Message(name, channel=channel, note=note, velocity=velocity, time=tick - at)
        )
        at = tick
    track.append(mido.MetaMessage("end_of_track", time=end - at))
    return track


def _strokes(events: Sequence[Event], tempi: _Tempi) -> Iterator[tuple[int, int, int, int]]:
    """Tick, 0 for off or 1 for on, note and velocity: at one tick, a note ends before
    the next begins.

    PITFALL: a note that still sounds when the same note starts again is cut there, or its
    own end would silence the new one.
    """
    ordered = sorted(events)
    again: dict[int, int] = {}
    for event in reversed(ordered):
        on = tempi.tick(event.onset_s)
        off = max(on + 1, tempi.tick(event.onset_s + event.duration_s))
        off = min(off, again.get(event.midi, off))
        if off <= on:  # doubled at the same instant: one stroke is enough
            continue
        again[event.midi] = on
        yield on, 1, event.midi, event.velocity
        yield off, 0, event.midi, 0
