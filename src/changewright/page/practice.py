"""How to practise an exercise: a few steps in a teacher's words, each with its tempo.

First away from the instrument, then slowly with one player of the band, then with all of it, then
at the goal tempo in two keys. Source: domain reference 1.5 and 5.2.
"""

from dataclasses import dataclass

from changewright.lesson.level import levels
from changewright.music.sheet import Sheet
from changewright.page.language import Language, language
from changewright.page.symbol import name_text
from changewright.theory.instrument import Instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Interval
from changewright.theory.transposition import transpose_key_for

__all__ = ["Step", "comfort_bpm", "practice_steps", "second_key"]

_SLOWER = 0.8
_FASTEST_COMFORT = 0.9  # as shares of the goal
_SLOWEST_COMFORT = 0.75
_RELATIVE = Interval(3, -1)
_BRASS, _BASSES = range(56, 64), range(32, 40)  # programs from 0. Source: General MIDI 1


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do; ``bpm`` is in quarters a minute, None where the tempo is the student's."""

    words: str
    bpm: int | None = None


def practice_steps(sheet: Sheet, in_language: str = "en") -> tuple[Step, ...]:
    """The steps by which a student learns an exercise, in order."""
    words = language(in_language)
    comfort, goal = comfort_bpm(sheet), sheet.tempo_bpm
    return (
        Step(_first(sheet, words)),
        Step(words.practice(_companion(sheet.instrument)), comfort),
        Step(words.practice(_with_all(sheet.instrument)), comfort),
        Step(_in_two_keys(sheet, words), goal),
    )


def comfort_bpm(sheet: Sheet) -> int:
    """A tempo at which nothing is hard yet, in quarters a minute, even.

    The slow end of the level's band where that lies a little below the exercise's own tempo,
    which is the goal; otherwise four fifths of the goal. Source: domain reference 1.5; common
    practice, no source, for the shares.
    """
    goal, known = sheet.tempo_bpm, levels().get(sheet.recipe.level)
    low = known.tempo_bpm[0] if known else 0
    fits = _SLOWEST_COMFORT * goal <= low <= _FASTEST_COMFORT * goal
    return 2 * round((low if fits else _SLOWER * goal) / 2)


def second_key(sheet: Sheet) -> Key | None:
    """The concert key to take the exercise to: the level's next after its own, or None.

    A minor exercise goes to the relative minor of the level's next key.
    """
    known = levels().get(sheet.recipe.level)
    keys = [_in_mode(Key.parse(name), sheet.key) for name in known.keys] if known else []
    start = keys.index(sheet.key) + 1 if sheet.key in keys else 0
    return next((key for key in keys[start:] + keys[:start] if key != sheet.key), None)


def _in_mode(key: Key, like: Key) -> Key:
    return Key(key.tonic + _RELATIVE, "minor") if like.mode == "minor" else key


def _first(sheet: Sheet, words: Language) -> str:
    """What to do away from the instrument."""
    family = sheet.recipe.family.partition(".")[0]
    usual = "open" if any(note.blank for note in sheet.line.notes) else "usual"
    return words.practice(family if family in words.tables["practice"] else usual)


def _companion(instrument: Instrument) -> str:
    """Who plays along first: the bass, which says root and beat; for a bass player the drums."""
    return "with_drums" if instrument.gm_program in _BASSES else "with_bass"


def _with_all(instrument: Instrument) -> str:
    """Lips tire first. Source: domain reference 10.2: brass rest as much as they play."""
    return "brass" if instrument.gm_program in _BRASS else "with_band"


def _in_two_keys(sheet: Sheet, words: Language) -> str:
    """The keys as the player reads them."""
    other = second_key(sheet)
    if other is None:
        return words.practice("goal")
    keys = (transpose_key_for(sheet.instrument, key) for key in (sheet.key, other))
    first, then = (words.key(k) if k.mode == "minor" else name_text(k.tonic) for k in keys)
    return words.practice("goal_in", first=first, then=then)
