"""From a chart to a band that plays it in one form of practice: loops, trades, ladders."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import accumulate
from math import gcd

from changewright.band.accompany import MOST_BARS, accompany
from changewright.band.clocks import Clocks, clocks_of
from changewright.band.count import QUICK_BPM, spoken
from changewright.band.feel import Feel
from changewright.band.feel import feel as feel_named
from changewright.band.intro import intro_before, intro_of
from changewright.band.notated import CompingPart, bass_sheet, comping_part
from changewright.band.perform import perform_line
from changewright.band.practice import click, excerpt, joined, tagged, trade_windows, traded
from changewright.band.song import Ending, beat_lengths
from changewright.chart.chart import Chart
from changewright.chart.transpose import transpose_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError, Refusal
from changewright.lesson.compose import compose
from changewright.lesson.family import family
from changewright.lesson.level import level
from changewright.lesson.player import Player
from changewright.music.bar import Meter, Quarters
from changewright.music.clock import Seconds
from changewright.music.performance import Part, Performance
from changewright.music.sheet import Sheet
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.key import Key
from changewright.usecases.band_request import PLAYERS, BandRequest
from changewright.usecases.charts import open_chart
from changewright.usecases.instruments import named_instrument

__all__ = ["MOST_HOURS", "Band", "Round", "Rung", "Turn", "plan_band"]

MOST_HOURS = 6.0
"""The longest backing that is made in one go."""

_CHORUSES, _TIMES = 3, 8
_MODELS, _MODEL_LEVEL = ("etude", "enclosures", "approach-notes", "free-rhythm"), 3
_LINES = 4  # that many model lines in a key before the first comes back


@dataclass(frozen=True, slots=True)
class Round:
    """One time through the chorus or the loop: where it begins, its key, and the numbers of the
    bars that are played."""

    start_s: Seconds
    key: Key
    bars: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Turn:
    """A stretch that is left open for the student."""

    start_s: Seconds
    end_s: Seconds


@dataclass(frozen=True, slots=True)
class Rung:
    """What is played at one tempo, from its count-in on. Everything counts from the first sample
    of the recording but the clocks, which count from ``start_s``."""

    start_s: Seconds
    bpm: float
    clocks: Clocks
    rounds: tuple[Round, ...]
    open: tuple[Turn, ...]


@dataclass(frozen=True, slots=True)
class Band:
    """A backing, played and not yet sounded. The parts on paper are those of the first rung, None
    for a player who doesn't play."""

    request: BandRequest
    chart: Chart
    reading: Reading
    feel: Feel
    performance: Performance
    rungs: tuple[Rung, ...]
    bass: Sheet | None
    comping: CompingPart | None


@dataclass(slots=True)
class _Rehearsal:
    """What all rungs share. Readings and model lines are made when first asked for."""

    request: BandRequest
    chart: Chart
    reading: Reading
    feel: Feel
    readings: dict[int, Reading] = field(default_factory=dict)
    lines: dict[tuple[Key, int, int], Sheet] = field(default_factory=dict)

    @property
    def period(self) -> int:
        """How many keys the round of keys has."""
        move = self.request.keys
        return 1 if move is None else 12 // gcd(12, move.semitones % 12)

    @property
    def tempi(self) -> list[float]:
        ladder, own = self.request.ladder, self.request.tempo_bpm
        if ladder is not None:
            return ladder.tempi
        return [own if own is not None else float(unroll(self.chart).tempo_bpm)]

    def rounds(self, rung: int, last: bool) -> tuple[Reading, ...]:
        """What is played at one tempo: a reading each time round, and the tag at the very end."""
        custom = _TIMES if self.request.is_loop else _CHORUSES
        asked = self.request.rounds or (self.period if self.period > 1 else custom)
        found = tuple(self._moved((rung * asked + n) % self.period) for n in range(asked))
        if self.request.tag and last:
            found = (*found[:-1], *tagged(found[-1], self.request.tag))
        return found

    def intro(self, rung: int, first: Reading) -> Reading | None:
        """What comes before the first chorus of all."""
        asked = self.request.intro
        return None if asked is None or rung else intro_of(asked, first)

    def ending(self, last: bool) -> Ending:
        """How a rung ends: only the last one does, and a loop never."""
        if not last or self.request.is_loop:
            return "none"
        return self.request.ending or "stop"

    def _moved(self, moves: int) -> Reading:
        if moves not in self.readings:
            whole = self.reading
            if moves and self.request.keys is not None:
                key = self.reading.key
                for _ in range(moves):
                    key = key.transpose(self.request.keys)
                whole = analyse(unroll(transpose_chart(self.chart, key)))
            bars = self.request.bars
            lead_in = self.request.trade is None  # a trade has no bar to spare
            self.readings[moves] = whole if bars is None else excerpt(whole, *bars, lead_in)
        return self.readings[moves]

    def model(self, reading: Reading, number: int, bpm: float) -> Sheet:
        """The line that is traded with, another each time round."""
        seed = self.request.seed + number % _LINES
        found = (reading.key, seed, round(bpm))
        if found not in self.lines:
            self.lines[found] = self._composed(reading, seed, round(bpm))
        return self.lines[found]

    def _composed(self, reading: Reading, seed: int, bpm: int) -> Sheet:
        """An etude; where the rules leave none, the next best thing to trade with."""
        asked = self.request
        player = Player(named_instrument(asked.instrument or "", asked.instruments))
        rung, feel = level(max(asked.level, _MODEL_LEVEL)), self.feel.id
        *better, last = (name for name in _MODELS if family(name)[0].since <= rung.number)
        for name in better:
            try:
                return compose(reading, player, rung, name, seed, tempo_bpm=bpm, feel=feel)
            except Refusal:
                continue
        return compose(reading, player, rung, last, seed, tempo_bpm=bpm, feel=feel, relax=True)


def plan_band(request: BandRequest) -> Band:
    """Play a chart as asked; nothing is sounded or written.

    Raises an :class:`InputError` for what can't be used or would take longer than
    :data:`MOST_HOURS`.
    """
    chart = open_chart(request.chart, request.key)
    form = unroll(chart)
    reading = analyse(form)
    rehearsal = _Rehearsal(request, chart, reading, feel_named(request.feel or form.feel))
    tempi = rehearsal.tempi
    _check_length(rehearsal, tempi)
    played = [_played(rehearsal, n, bpm, n == len(tempi) - 1) for n, bpm in enumerate(tempi)]
    starts = accumulate((one.length_s for one, _ in played), initial=0.0)
    rungs = [_later(rung, start) for (_, rung), start in zip(played, starts, strict=False)]
    return Band(
        request,
        chart,
        reading,
        rehearsal.feel,
        joined([one for one, _ in played]),
        tuple(rungs),
        *_on_paper(rehearsal, tempi),
    )


def _check_length(rehearsal: _Rehearsal, tempi: Sequence[float]) -> None:
    bars, length_s = 0, 0.0
    for number, bpm in enumerate(tempi):
        rounds = rehearsal.rounds(number, number == len(tempi) - 1)
        bars = max(bars, sum(len(one.bars) for one in rounds))
        length_s += sum(float(_length(one)) for one in rounds) * 60 / bpm
        if length_s > MOST_HOURS * 3600 or bars > MOST_BARS:
            raise InputError(
                f"that makes more than {MOST_HOURS:g} hours, or {MOST_BARS} bars at one tempo",
                remedy="Ask for fewer choruses or fewer tempi.",
            )


def _length(reading: Reading) -> Quarters:
    return reading.bars[-1].end - reading.bars[0].start


def _played(rehearsal: _Rehearsal, number: int, bpm: float, last: bool) -> tuple[Performance, Rung]:
    """One rung, as if it began the recording."""
    asked, rounds = rehearsal.request, rehearsal.rounds(number, last)
    intro = rehearsal.intro(number, rounds[0])
    before = intro_before(intro, rounds[0])
    first = rounds[0].bars[0] if intro is None else replace(intro.bars[0], start=-before)
    counted = _count_in_bars(asked, bpm, first.meter)
    # A bar of silence before words: to take up the horn, and for the first word's consonant.
    lead_in = counted + (asked.count_in == "spoken")
    clocks = clocks_of(
        rehearsal.feel,
        bpm,
        first.meter,
        count_in_bars=lead_in,
        before=before,
        swing=asked.swing,
    )
    band = accompany(
        rounds,
        bpm=bpm,
        feel=rehearsal.feel,
        seed=asked.seed + number,
        level=asked.level,
        count_in_bars=lead_in,
        swing=asked.swing,
        intro=intro,
        ending=rehearsal.ending(last),
    )
    parts = _chosen(band, asked)
    if asked.count_in == "spoken":
        parts.insert(0, spoken(first, counted, clocks.band))
    if asked.click:
        parts.append(click(rounds, clocks.band, intro=intro, before=before))
    if asked.trade is not None:
        line = _model_line(rehearsal, rounds, clocks)
        parts.append(traded(line, rounds, clocks.line, asked.trade))
    rung = Rung(0.0, bpm, clocks, tuple(_rounds(rounds, clocks)), _open(rounds, clocks, asked))
    return Performance(tuple(parts), band.length_s), rung


def _chosen(band: Performance, asked: BandRequest) -> list[Part]:
    counted = ("count-in",) if asked.count_in == "clicked" else ()
    return [part for part in band.parts if part.name in (*counted, *_players(asked))]


def _open(rounds: Sequence[Reading], clocks: Clocks, asked: BandRequest) -> tuple[Turn, ...]:
    windows = () if asked.trade is None else trade_windows(rounds, asked.trade)
    to_s = clocks.band.to_seconds
    return tuple(Turn(to_s(w.start), to_s(w.end)) for w in windows if w.is_open)


def _players(asked: BandRequest) -> tuple[str, ...]:
    return asked.players or (() if asked.click else PLAYERS)


def _count_in_bars(asked: BandRequest, bpm: float, meter: Meter) -> int:
    """Two bars where time is quick, one otherwise and for a loop. Source: common practice, no
    source."""
    if asked.count_in == "none":
        return 0
    has_halves = len(beat_lengths(meter, meter.length)) == 4
    return 2 if bpm >= QUICK_BPM and has_halves and not asked.is_loop else 1


def _rounds(rounds: Sequence[Reading], clocks: Clocks) -> Iterator[Round]:
    for start, reading in _starts(rounds):
        numbers = tuple(bar.number for bar in reading.bars if bar.number)
        yield Round(clocks.band.to_seconds(start), reading.key, numbers)


def _starts(rounds: Sequence[Reading]) -> Iterator[tuple[Quarters, Reading]]:
    """Each time round with the place of its first full bar; only the first has the pickup."""
    at = _pickup(rounds[0])
    for reading in rounds:
        yield at, reading
        at += _length(reading) - _pickup(reading)


def _pickup(reading: Reading) -> Quarters:
    first = reading.bars[0]
    return first.length if first.number == 0 else Fraction(0)


def _model_line(rehearsal: _Rehearsal, rounds: Sequence[Reading], clocks: Clocks) -> Part:
    """The model line over all rounds, before the turns are cut out of it."""
    events = []
    line: Part | None = None
    for number, (start, reading) in enumerate(_starts(rounds)):
        sheet = rehearsal.model(reading, number, clocks.line.bpm)
        line = perform_line(sheet, clocks=clocks, seed=rehearsal.request.seed + number)
        moved = float(start - _pickup(reading)) * clocks.line.quarter_s
        after = clocks.line.to_seconds(_pickup(reading)) - clocks.line.quarter_s / 8
        events += [
            replace(e, onset_s=e.onset_s + moved)
            for e in line.events
            if number == 0 or e.onset_s > after
        ]
    if line is None:
        raise ValueError("nothing is played")
    return replace(line, events=tuple(sorted(events)))


def _later(rung: Rung, start: Seconds) -> Rung:
    return replace(
        rung,
        start_s=start,
        rounds=tuple(replace(r, start_s=r.start_s + start) for r in rung.rounds),
        open=tuple(Turn(t.start_s + start, t.end_s + start) for t in rung.open),
    )


def _on_paper(
    rehearsal: _Rehearsal, tempi: Sequence[float]
) -> tuple[Sheet | None, CompingPart | None]:
    """The parts of the first rung, as far as those who play read them."""
    asked, last = rehearsal.request, len(tempi) == 1
    rounds, players = rehearsal.rounds(0, last), _players(asked)
    bpm, feel, ending = tempi[0], rehearsal.feel, rehearsal.ending(last)
    seed, rung, intro = asked.seed, asked.level, rehearsal.intro(0, rounds[0])
    bass = comping = None
    if "bass" in players:
        bass = bass_sheet(
            rounds, bpm=bpm, feel=feel, seed=seed, level=rung, intro=intro, ending=ending
        )
    if "comping" in players:
        comping = comping_part(
            rounds, bpm=bpm, feel=feel, seed=seed, level=rung, intro=intro, ending=ending
        )
    return bass, comping
