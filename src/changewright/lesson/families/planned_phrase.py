"""A planned phrase: one short phrase comes back, word for word, wherever its chord stands.

Source: teaching practice: it fits the chord's quality, enters on its beat from within a
third, and is left by step.
"""

import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from importlib.resources import files
from random import Random

import numpy as np

from changewright.errors import InputError
from changewright.lesson.family import Family, Plan
from changewright.lesson.ground import Ground, Patch
from changewright.lesson.lines import line_plan
from changewright.lesson.rhythm import Need, compose_rhythm
from changewright.lesson.spots import Spot, spots_of, swell
from changewright.music.bar import Quarters
from changewright.music.line import Role
from changewright.music.promise import Quotes
from changewright.theory.pitch import Degree

__all__ = ["FAMILY"]


@dataclass(frozen=True, slots=True)
class _Phrase:
    over: str
    level: int
    notes: tuple[tuple[Degree, Quarters], ...]

    @property
    def onsets(self) -> tuple[Quarters, ...]:
        return tuple(
            sum((d for _, d in self.notes[:i]), Fraction(0)) for i in range(len(self.notes))
        )

    @property
    def shape(self) -> tuple[int, ...]:
        heights = [degree.interval.semitones for degree, _ in self.notes]
        return tuple(h - heights[0] for h in heights)


@lru_cache(maxsize=1)
def _phrases() -> Mapping[str, _Phrase]:
    text = files("changewright.lesson").joinpath("tables/phrases.toml").read_text("utf-8")
    return {
        name: _Phrase(row["over"], row["level"], tuple(map(_note, row["notes"].split())))
        for name, row in tomllib.loads(text).items()
    }


def _note(word: str) -> tuple[Degree, Quarters]:
    degree, _, length = word.partition(":")
    return Degree.parse(degree), Fraction(length)


def plan(ground: Ground, dice: Random) -> Plan:
    """Free bars in the scale, and the phrase wherever its kind of chord fills a bar."""
    homes = [i for i in range(len(ground.reading.bars)) if _kind(ground, i)]
    phrase = _chosen(ground, dice, [_kind(ground, i) for i in homes])
    places = [i for i in homes if _kind(ground, i) == phrase.over]
    places = [i for n, i in enumerate(places) if n == 0 or i > places[n - 1] + 1] or places[:1]
    bars = ground.reading.bars
    needs = {i: Need(on_one=i in places, rest=_rest(ground, i)) for i in range(len(bars))}
    rng = np.random.default_rng(dice.getrandbits(64))
    cells = compose_rhythm(ground.level, bars, needs, rng, 0.35)
    timed = [
        (bar.start + o, d)
        for i, (bar, cell) in enumerate(zip(bars, cells, strict=True))
        for o, d in (_timing(phrase) if i in places else cell.notes)
    ]
    starts = {bars[i].start: i for i in places}
    spots = swell(_quoted(spots_of(ground, timed, "scale"), phrase, set(starts)), ground, dice)
    quotes = [Quotes(at, phrase.onsets, phrase.shape) for at in starts]
    return line_plan(ground, spots, _instruction(ground, places), quotes)


def _kind(ground: Ground, index: int) -> str:
    """The kind of chord that fills a bar of four quarters, '' where none does."""
    bar = ground.reading.bars[index]
    patch = ground.patch_at(bar.start)
    if patch is None or bar.length != 4 or patch.length != 4:
        return ""
    chord, scale = patch.chord, {d.pc for d in patch.scale}
    if chord.is_dominant and chord.has(3) and {2, 7, 9} <= scale:
        return "dominant"
    if chord.is_minor and chord.has(7, -1) and {2, 5, 7} <= scale:
        return "minor"
    return "major" if chord.is_major and chord.has(3) and {2, 7, 9, 11} <= scale else ""


def _chosen(ground: Ground, dice: Random, kinds: Sequence[str]) -> _Phrase:
    if not kinds:
        raise InputError(
            "no bar holds one chord for a whole phrase",
            remedy="Choose another family, or a chart with bars of one chord in 4/4.",
        )
    wanted = Counter(kinds).most_common(1)[0][0]
    named = [p for p in _phrases().values() if p.over == wanted and p.level <= ground.level.number]
    tried = FAMILY.fallbacks.index(ground.fallback)
    return named[(dice.randrange(len(named)) + tried) % len(named)]


def _rest(ground: Ground, index: int) -> Quarters:
    every, last = ground.bars_a_breath, len(ground.reading.bars) - 1
    return Fraction(1) if index % every == every - 1 or index == last else Fraction(0)


def _timing(phrase: _Phrase) -> list[tuple[Quarters, Quarters]]:
    return [(at, d) for at, (_, d) in zip(phrase.onsets, phrase.notes, strict=True)]


def _quoted(spots: Sequence[Spot], phrase: _Phrase, starts: set[Quarters]) -> list[Spot]:
    marked = list(spots)
    for index, spot in enumerate(spots):
        if spot.at not in starts:
            continue
        for place, (degree, _) in enumerate(phrase.notes):
            link = phrase.shape[place] - phrase.shape[place - 1] if place else None
            marked[index + place] = replace(
                marked[index + place],
                pool=(_simple(degree, spot.patch),),
                link=link,
                entry=4 if place == 0 and not spot.fresh else 99,
                role=Role.PHRASE,
            )
        after = index + len(phrase.notes)
        if after < len(marked) and not marked[after].fresh and marked[after].at not in starts:
            marked[after] = replace(marked[after], entry=2)
    return marked


def _simple(degree: Degree, patch: Patch) -> Degree:
    """The degree as this chord has it (8 is its root, 2 its 9)."""
    own = next((d for d in patch.tones if d.pc == degree.pc), None)
    return own or (Degree(1) if degree.pc == 0 else degree)


def _instruction(ground: Ground, places: Sequence[int]) -> str:
    numbers = [str(ground.reading.bars[i].number) for i in places]
    if len(numbers) == 1:
        return f"Bar {numbers[0]} is a set phrase: know where it starts before you get there."
    *most, last = numbers[1:]
    rest = f"bars {', '.join(most)} and {last}" if most else f"bar {last}"
    return f"The phrase of bar {numbers[0]} comes back in {rest}: hear it coming."


FAMILY = Family(
    id="planned-phrase",
    title="A planned phrase",
    since=4,
    about="one short phrase, word for word, wherever its chord stands",
    plan=plan,
    fallbacks=("", "second choice", "third choice", "fourth choice"),
)
