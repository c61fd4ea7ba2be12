"""Fill one day: warm-up, what is due, the new thing, the tune, something free, and rests."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from changewright.plan.curriculum import goal_bpm, rungs
from changewright.plan.ladder import Novelty, Rung
from changewright.plan.progress import Standing
from changewright.plan.skill import Skill, key_words, progression
from changewright.plan.week import Item, Kind, TuneGoal
from changewright.theory.instrument import Instrument

__all__ = ["BLOCK", "REST", "Wants", "fill_day"]

BLOCK, REST = 25, 5
"""Minutes of playing before a pause, and its length. Source: domain reference 10.2."""
_WARM_SHARE, _WARM_MOST = 0.15, 5
"""Source: domain reference 1.5 (3 of 20 minutes) and 10.2 (five minutes)."""
_FREE_SHARE, _FREE_MOST = 0.15, 8
_DUE_MINUTES, _DUE_MORE, _NEW_LEAST, _NEW_MOST = 3, 2, 4, 10
_TUNE_SHARES = ((10, 0.65), (28, 0.5), (10_000, 0.35))
"""Of what is left, by the days to the concert. Source: common practice, no source."""
_USE_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class Wants:
    """What a day could hold.

    ``due`` are standings with the skill as it is to be played, the ``forgotten`` ones first;
    ``begun`` says that the rung has been let in before; ``number`` counts the week's days from 0.
    """

    on: date
    number: int
    due: tuple[tuple[Standing, Skill], ...]
    forgotten: int
    rung: Rung | None
    begun: bool
    tune: TuneGoal | None
    order: tuple[str, ...]
    last: bool
    sore: bool
    level: int
    player: Instrument | None = None


def fill_day(wants: Wants, minutes: int) -> tuple[Item, ...]:
    """The items of a day within so many minutes, rests included."""
    if wants.sore:
        return _sore(wants, minutes)
    for rests in range(minutes // REST + 1):
        items = _items(wants, minutes - rests * REST)
        if _rests_in(items) <= rests:
            return _with_rests(items)
    raise AssertionError("a day of no playing needs no rest")  # pragma: no cover


def _items(wants: Wants, playing: int) -> list[Item]:
    """The day's items without rests; their minutes are exactly ``playing``."""
    warm = min(_WARM_MOST, max(1, round(_WARM_SHARE * playing)))
    free = min(_FREE_MOST, round(_FREE_SHARE * playing))
    left = playing - warm - free
    use = round(_use_share(wants) * left)
    theme = _theme(wants, left - use)
    use += left - use - sum(item.minutes for item in theme)
    return [
        _warm_up(wants, warm),
        *theme,
        *_use(wants, use),
        *([_free(wants, free)] if free else []),
    ]


def _use_share(wants: Wants) -> float:
    if wants.tune is None:
        return _USE_SHARE
    days = (wants.tune.concert - wants.on).days if wants.tune.concert else 10_000
    return next(share for most, share in _TUNE_SHARES if days <= most)


def _theme(wants: Wants, minutes: int) -> list[Item]:
    """What is due and the rung: everything forgotten comes before anything new is let in."""
    new_waits = not wants.begun and wants.forgotten > 0
    wanted = 0 if wants.rung is None else _NEW_LEAST
    room = max(0, minutes - wanted) // _DUE_MINUTES
    if new_waits and wants.forgotten > room:
        wanted, room = 0, max(1, minutes // _DUE_MINUTES)
    ripe = [pair for pair in wants.due if _is_ripe(pair[0], wants.on)]
    spare = [pair for pair in wants.due if not _is_ripe(pair[0], wants.on)]
    due = (ripe if wanted else ripe + spare)[:room] if minutes else []
    left = minutes
    items = []
    spare_minutes = 0 if wanted else minutes - _DUE_MINUTES * len(due)
    for standing, skill in due:
        more = min(_DUE_MORE, max(0, spare_minutes))
        spare_minutes -= more
        items.append(_due(wants, standing, skill, min(_DUE_MINUTES + more, left)))
        left -= items[-1].minutes
    if wants.rung is not None and wanted and left >= 1:
        items.append(_rung(wants, wants.rung, min(left, _NEW_MOST)))
    return [item for item in items if item.minutes]


def _warm_up(wants: Wants, minutes: int) -> Item:
    key = key_words(wants.order[wants.on.toordinal() % len(wants.order)], wants.player)
    return Item(
        Kind.WARM_UP,
        minutes,
        f"Long tones and time, {key}",
        "Soft long tones up the scale of the key, then one note a bar with the ride.",
        "today's key of the twelve; cold muscles first of all need slow notes",
    )


def _is_ripe(standing: Standing, on: date) -> bool:
    return standing.is_forgotten or (standing.due is not None and standing.due <= on)


def _due(wants: Wants, standing: Standing, skill: Skill, minutes: int) -> Item:
    why = standing.because[0]
    if standing.is_forgotten:
        why = f"forgotten: {standing.because[1]}"
    elif not _is_ripe(standing, wants.on):
        why = f"nothing is due: this is the weakest, about {standing.chance:.0%} is left"
    else:
        why = f"due: {why}; about {standing.chance:.0%} is left"
    what = "From memory first, then from the page; twice through."
    return Item(Kind.DUE, minutes, _title(skill, wants.player), what, why, skill, _tempos(skill))


def _rung(wants: Wants, rung: Rung, minutes: int) -> Item:
    begun = wants.begun
    kind = Kind.THEME if begun else Kind.NEW
    what = "Up a tempo after two clean times, down one after a miss."
    because = "the week's one thing; it grows by coming back" if begun else rung.because
    if begun and rung.novelty is Novelty.TEMPO:
        because = rung.because
    return Item(
        kind,
        minutes,
        _title(rung.skill, wants.player),
        what,
        because,
        rung.skill,
        _upward(rung.skill),
    )


def _use(wants: Wants, minutes: int) -> list[Item]:
    """The tune, or choruses on the form; long ones in two halves, so that a pause fits between."""
    halves = [minutes] if minutes <= BLOCK // 2 + 3 else [minutes - minutes // 2, minutes // 2]
    while max(halves) > BLOCK:
        halves = [part for half in halves for part in (half - half // 2, half // 2)]
    return [_use_item(wants, part, n) for n, part in enumerate(halves) if part]


def _use_item(wants: Wants, minutes: int, half: int) -> Item:
    if wants.tune is None:
        return _choruses(wants, minutes, half)
    tune = wants.tune
    days = (tune.concert - wants.on).days if tune.concert else None
    if days is not None and days <= 10:
        what = "Whole, with count-in and ending, without stopping; then only what broke."
    else:
        what = _TUNE_WORK[(wants.number + half) % len(_TUNE_WORK)]
    because = (
        f"the concert is in {days} days" if days is not None else "a tune is the use of it all"
    )
    title = f"{tune.title} in {key_words(tune.key, wants.player)}"
    return Item(Kind.TUNE, minutes, title, what, because, None, (tune.tempo_bpm,))


_TUNE_WORK = (
    "Sing the melody, then play it by heart, slowly.",
    "Roots through the form, then thirds; one chorus each.",
    "Melody, one chorus of your own, melody.",
    "One chorus that leaves every other two bars empty.",
)


_CHORUS_WORK = (
    "Play the week's thing in bars you choose beforehand; the rest is free.",
    "Two bars of your own, two bars of silence, all the way through.",
    "One chorus on chord tones, one on anything; say afterwards which bars were clear.",
    "Begin each phrase on the week's thing and end it wherever it leads.",
)


def _choruses(wants: Wants, minutes: int, part: int) -> Item:
    skill = wants.rung.skill if wants.rung else wants.due[0][1] if wants.due else None
    over = progression(skill.strand.progression).title if skill else "blues"
    what = _CHORUS_WORK[(wants.number + part) % len(_CHORUS_WORK)]
    because = "an exercise is learned when it turns up in a chorus"
    return Item(Kind.USE, minutes, f"Choruses over the {over}", what, because)


def _free(wants: Wants, minutes: int) -> Item:
    if wants.last:
        what = "Record one take of the week's thing and one free chorus. First takes, no retakes."
        return Item(Kind.FREE, minutes, "Record for the lesson", what, "the last day before it")
    what = "Play what you like, and stop while it is good."
    return Item(Kind.FREE, minutes, "Free", what, "whatever turns up by itself is yours")


def _sore(wants: Wants, minutes: int) -> tuple[Item, ...]:
    """A day for a sore player: nearly everything in the head."""
    play = max(1, minutes // 4)
    title = wants.tune.title if wants.tune else "the form"
    return (
        Item(
            Kind.AWAY,
            minutes - play,
            f"Sing and clap through {title}",
            "Sing roots, then thirds; clap the rhythms. Nothing that hurts.",
            "you said that you are sore",
        ),
        Item(
            Kind.WARM_UP,
            play,
            "A few soft long tones, only if they feel easy",
            "Stop at the first sign. If it stays into the next day, see a health professional.",
            "just enough not to lose touch",
        ),
    )


def _title(skill: Skill, player: Instrument | None) -> str:
    words = skill.strand.words
    return f"{words[:1].upper()}{words[1:]} in {key_words(skill.key, player)}"


def _upward(skill: Skill) -> tuple[int, ...]:
    """The rung and the two above it: where to start, and how far this week may climb."""
    ladder = [rung for rung in rungs(goal_bpm(skill.strand)) if rung >= skill.tempo_bpm]
    return tuple(ladder[:3]) or (skill.tempo_bpm,)


def _tempos(skill: Skill) -> tuple[int, ...]:
    """The rung and the two below it, to warm to it."""
    ladder = [rung for rung in rungs(goal_bpm(skill.strand)) if rung <= skill.tempo_bpm]
    return tuple(ladder[-3:]) or (skill.tempo_bpm,)


def _rests_in(items: Sequence[Item]) -> int:
    return sum(item.kind is Kind.REST for item in _with_rests(items))


def _with_rests(items: Sequence[Item]) -> tuple[Item, ...]:
    """A pause before whatever would make a block longer than it may be."""
    found: list[Item] = []
    block = 0
    for item in items:
        if block + item.minutes > BLOCK:
            pause = "Put it down. Walk, drink, look at something far away."
            found.append(Item(Kind.REST, REST, "Rest", pause, "rest before you tire"))
            block = 0
        found.append(item)
        block += item.minutes
    return tuple(found)
