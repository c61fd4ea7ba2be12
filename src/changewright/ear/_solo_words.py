"""An open solo in a teacher's words: bands by level, one strength, one thing to change, one thing
for next week. Nothing inside what solos on record do is called weak from level 5 on; at levels 7
and 8 the measures are shown and nothing else. Source of the bands: common practice, no source.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from changewright.ear._solo_habits import HABIT
from changewright.ear.measure import FEW, Measure

__all__ = ["Band", "band_of", "said_of"]


class Band(StrEnum):
    """Where a measure lies beside what its level asks; words, not grades."""

    THERE = "there"
    ON_THE_WAY = "on the way"
    NEXT = "next to work on"
    SHOWN = "shown only"


@dataclass(frozen=True, slots=True)
class _Asked:
    low: float
    high: float = 1.0


_NO_LIMIT = 1e9
_ASKED: dict[str, tuple[_Asked, _Asked, _Asked]] = {  # levels 1-2, 3-4, 5-6
    "J1": (_Asked(0.60), _Asked(0.50), _Asked(0.40)),
    "J4": (_Asked(0.60), _Asked(0.50), _Asked(0.38)),
    "J6": (_Asked(0.40), _Asked(0.50), _Asked(0.46)),
    "J12r": (_Asked(0.35, 0.60), _Asked(0.25, 0.50), _Asked(0.24, 0.43)),
    "J10s": (_Asked(0, 80), _Asked(0, 60), _Asked(0, 50)),
}
_HALF_WAY = 0.75  # of the way there is on the way
_FIRST = ("J10s", "J1", "J4", "J12r", "J13", "J6", "J3r")
"""In which order things are taken up: time, chord tones, landings, space, the rest."""


def band_of(measure: Measure, level: int) -> Band:
    """The band of a measure at a level (1 to 8)."""
    asked = _ASKED.get(measure.id)
    if asked is None or level >= 7 or measure.count < FEW:
        return Band.SHOWN
    wanted = asked[(level - 1) // 2]
    if wanted.low <= measure.value <= wanted.high:
        return Band.THERE
    if level >= 5 and (measure.inside_record or _is_more(measure, wanted)):
        return Band.THERE
    near = wanted.low * _HALF_WAY <= measure.value <= wanted.high / _HALF_WAY
    return Band.ON_THE_WAY if near else Band.NEXT


def _is_more(measure: Measure, wanted: _Asked) -> bool:
    """More chord tones or steps than the record is a manner of playing."""
    return measure.id in ("J1", "J4", "J6") and measure.value > wanted.high


_STRENGTHS = {
    "J4": "The line arrives with the changes: {met} of {count} land on a chord tone.",
    "J1": "Beats 1 and 3 tell the chord: {met} of {count} notes there are chord tones.",
    "J10s": "The time is steady: notes on the beat stay close to one place.",
    "J12r": "There is air in it: the phrases are given room.",
    "J6": "The line walks into the changes by step, {met} times of {count}.",
}
_CHANGES = {
    "J10s": "Notes on the beat lie in different places. Play four bars on one note, right with the "
    "ride, then go on.",
    "J1": "On beats 1 and 3 {met} of {count} notes are chord tones, so the chord is hard to hear. "
    "Choose one chord tone for each beat 1 before you start.",
    "J4": "{met} of {count} changes are met by a chord tone. Choose the last note of the phrase "
    "before you start it.",
    "J6": "The line leaps into most changes. Look for the nearest note of the next chord and step "
    "to it.",
}
_FULL = "There is hardly a rest in it. Take one bar out of every four."
_THIN = "Long rests stand between the phrases. Let two phrases in a row answer each other."
_STARTS = "Most phrases start on 1. Start three of them on the 'and' of 4."
_HABIT = "One figure comes {met} times ({first}). Keep it, and answer it once turned upside down."
_HABIT_LIFT, _HABIT_TIMES = 4.0, 4
_LED = "{detail}. The notes outside step back in: if that was meant, keep it."


def said_of(measures: Sequence[Measure], level: int) -> tuple[str, str, str]:
    """(what worked, what to change, what for next week); ``""`` where there is nothing to say.

    At levels 7 and 8 only the strength and a task are said.
    """
    by_id = {m.id: m for m in measures if m.count >= FEW}
    bands = {name: band_of(m, level) for name, m in by_id.items()}
    strength = next(iter(_strengths(by_id, bands)), "")
    changes = list(_to_change(by_id, bands)) if level < 7 else []
    return strength, changes[0] if changes else "", _for_next(by_id, changes)


def _strengths(by_id: Mapping[str, Measure], bands: Mapping[str, Band]) -> Iterator[str]:
    led = by_id.get("J3r")
    if led is not None and led.value >= 0.8:
        yield _LED.format(detail=led.detail[:1].upper() + led.detail[1:])
    for name, words in _STRENGTHS.items():
        if bands.get(name) is Band.THERE:
            yield _filled(words, by_id[name])


def _to_change(by_id: Mapping[str, Measure], bands: Mapping[str, Band]) -> Iterator[str]:
    """What lies furthest from its level first; among equals the trade's order."""
    for wanted in (Band.NEXT, Band.ON_THE_WAY):
        for name in _FIRST:
            if bands.get(name) is wanted:
                yield _change(by_id[name])


def _change(measure: Measure) -> str:
    if measure.id == "J12r":
        return _FULL if measure.value < 0.3 else _THIN
    return _filled(_CHANGES[measure.id], measure)


def _for_next(by_id: Mapping[str, Measure], changes: Sequence[str]) -> str:
    starts = by_id.get("J13")
    if starts is not None and starts.value > 0.5:
        return _STARTS
    if len(changes) > 1:
        return changes[1]
    habit = by_id.get(HABIT)
    if habit is not None and _is_habit(habit):
        first = habit.detail.partition(",")[0]
        return _HABIT.format(met=habit.met, first=first)
    return "Record a second chorus and begin it with the last idea of this one."


def _is_habit(measure: Measure) -> bool:
    """It comes far more often than its intervals would bring it about."""
    return measure.met >= _HABIT_TIMES and measure.value > _HABIT_LIFT * (measure.chance or 0.0)


def _filled(words: str, measure: Measure) -> str:
    return words.format(met=measure.met, count=measure.count)
