"""What a bandleader asks of the band, checked before a note is played."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from changewright.band.accompany import PARTS
from changewright.band.intro import Intro
from changewright.band.practice import tempi
from changewright.band.song import Ending
from changewright.errors import InputError, UnknownName
from changewright.theory.pitch import Interval

__all__ = ["COUNT_INS", "BandRequest", "CountStyle", "TempoLadder", "read_bars", "read_ladder"]

CountStyle = Literal["clicked", "spoken", "none"]
COUNT_INS: tuple[CountStyle, ...] = ("clicked", "spoken", "none")
"""How the band may be counted in."""

PLAYERS = PARTS[1:]
"""Who can be asked to play alone."""

_SLOWEST, _FASTEST = 20, 400
_MOST_TIMES, _MOST_TRADE, _MOST_TAG = 2000, 64, 16
_BARS = re.compile(r"\s*(\d{1,4})\s*(?:-\s*(\d{1,4})\s*)?")


@dataclass(frozen=True, slots=True)
class TempoLadder:
    """Tempi in quarters a minute, up or down by ``step_bpm``, each for some choruses."""

    start_bpm: float
    stop_bpm: float
    step_bpm: float
    choruses: int = 2

    @property
    def tempi(self) -> list[float]:
        """Every tempo; raises :class:`InputError` for steps that don't arrive."""
        return tempi(self.start_bpm, self.stop_bpm, self.step_bpm)


@dataclass(frozen=True, slots=True)
class BandRequest:
    """One backing. What is None is the chart's own, or left to custom.

    ``bars`` are first and last of a loop that is played ``times`` times, its lead-in bar before
    it; ``intro`` comes before the first chorus; ``tag`` is how many of the last bars are played
    twice more, ``ending`` how the band ends; ``keys`` moves each time round
    by an interval; ``trade`` is how many bars ``instrument`` plays and leaves open in turn;
    ``players`` are those who play, all if empty; ``click`` replaces them by a click on 2 and 4, or
    joins those named. Raises :class:`InputError` for what can't be played.
    """

    chart: str
    key: str | None = None
    feel: str | None = None
    tempo_bpm: float | None = None
    level: int = 4
    seed: int = 1
    swing: float = 1.0
    choruses: int | None = None
    count_in: CountStyle = "clicked"
    bars: tuple[int, int] | None = None
    times: int | None = None
    intro: Intro | None = None
    tag: int = 0
    ending: Ending | None = None
    keys: Interval | None = None
    ladder: TempoLadder | None = None
    trade: int | None = None
    instrument: str | None = None
    instruments: Path | None = None
    players: tuple[str, ...] = ()
    click: bool = False

    def __post_init__(self) -> None:
        _check_numbers(self)
        _check_players(self)
        _check_forms(self)

    @property
    def rounds(self) -> int | None:
        """How often the chorus or the loop is played at each tempo; None where custom says."""
        if self.ladder is not None:
            return self.ladder.choruses
        return self.choruses if self.bars is None else self.times

    @property
    def is_loop(self) -> bool:
        """Tell whether a few bars go round."""
        return self.bars is not None


def read_bars(text: str) -> tuple[int, int]:
    """Read ``5-8`` or ``5``; raises :class:`InputError`."""
    match = _BARS.fullmatch(text)
    if match is None:
        raise InputError(f"can't read the bars {text!r}", remedy="Write them like 5-8, or 5.")
    return int(match[1]), int(match[2] or match[1])


def read_ladder(text: str) -> TempoLadder:
    """Read ``80:140:6:2``, from 80 to 140 by 6 every 2 choruses; raises :class:`InputError`."""
    words = text.split(":")
    try:
        start, stop, step, choruses = words if len(words) == 4 else [*words, "2"]
        return TempoLadder(float(start), float(stop), float(step), int(choruses))
    except ValueError:
        raise InputError(
            f"can't read the ladder {text!r}",
            remedy="Write start:stop:step, or start:stop:step:choruses, like 80:140:6:2.",
        ) from None


def _within(what: str, value: float | None, low: float, high: float, remedy: str = "") -> None:
    # PITFALL: NaN compares false with everything, so ask what is inside, not what is outside.
    if value is not None and not low <= value <= high:
        raise InputError(
            f"{what} of {value:g} can't be played",
            remedy=remedy or f"Give a number from {low:g} to {high:g}.",
        )


def _check_numbers(asked: BandRequest) -> None:
    _within("a tempo", asked.tempo_bpm, _SLOWEST, _FASTEST)
    _within("a level", asked.level, 1, 8)
    _within("a swing", asked.swing, 0, 1.5, "0 is even, 1 as professionals play, 1.5 the most.")
    _within("a number of choruses", asked.choruses, 1, _MOST_TIMES)
    _within("a number of times", asked.times, 1, _MOST_TIMES)
    _within("a trade", asked.trade, 1, _MOST_TRADE, f"Trade 1 to {_MOST_TRADE} bars.")
    _within("a tag", asked.tag, 0, _MOST_TAG, f"Tag the last 1 to {_MOST_TAG} bars.")
    if asked.keys is not None and asked.keys.semitones % 12 == 0:
        raise InputError(
            "an interval of octaves leads to no other key", remedy="Write one like P4."
        )
    if asked.ladder is not None:
        _within("a ladder's start", asked.ladder.start_bpm, _SLOWEST, _FASTEST)
        _within("a ladder's stop", asked.ladder.stop_bpm, _SLOWEST, _FASTEST)
        _within("a ladder's step", abs(asked.ladder.step_bpm), 0, _FASTEST)
        _within("a number of choruses", asked.ladder.choruses, 1, _MOST_TIMES)
        _ = asked.ladder.tempi


def _check_players(asked: BandRequest) -> None:
    for name in asked.players:
        if name not in PLAYERS:
            raise UnknownName("player", name, PLAYERS)
    if asked.trade is not None and asked.instrument is None:
        raise InputError(
            "trading needs somebody to trade with",
            remedy='Name the instrument of the model line, like --for "tenor saxophone".',
        )
    if asked.instrument is not None and asked.trade is None:
        raise InputError(
            "the band alone plays for anybody",
            remedy="Leave --for out, or trade with a model line: --trade 4.",
        )


def _check_forms(asked: BandRequest) -> None:
    """Refuse what contradicts itself."""
    if asked.times is not None and asked.bars is None:
        raise InputError("times of what?", remedy="Name the bars to repeat, like --bars 5-8.")
    if asked.choruses is not None and asked.bars is not None:
        raise InputError(
            "a loop has no choruses", remedy="Say how often it is played with --times."
        )
    if asked.tag and asked.bars is not None:
        raise InputError("a loop has no tag", remedy="Leave --tag or --bars out.")
    if asked.intro is not None and asked.bars is not None:
        raise InputError("a loop has no intro", remedy="Leave --intro or --bars out.")
    if asked.ending not in (None, "none") and asked.bars is not None:
        raise InputError("a loop has no ending", remedy="Leave --ending or --bars out.")
    if asked.ladder is not None and (asked.tempo_bpm, asked.choruses, asked.times) != (None,) * 3:
        raise InputError(
            "a ladder has its own tempi and says how often each is played",
            remedy="Leave --tempo, --choruses and --times out; write --ladder 80:140:6:2.",
        )
