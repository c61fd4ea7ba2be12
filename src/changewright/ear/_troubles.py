"""What is corrected first, and how it is said."""

from dataclasses import dataclass

from changewright.ear._words import (
    amount,
    asked_name,
    bars_text,
    beat_text,
    chord_text,
    degree_text,
    heard_name,
    place_text,
)
from changewright.ear.hearing import Fault, Hearing, Mistake

__all__ = ["Trouble", "ranked", "sentence", "shift_text"]

DRIFT_BEATS = 0.35
STRONG = ("1", "3")


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something to work on. ``kind`` names it for choosing what to suggest next."""

    kind: str
    text: str
    bars: tuple[int, ...]


def ranked(hearing: Hearing) -> list[Trouble]:
    """Troubles in the order in which a teacher takes them up; only the first is said."""
    makers = (_form, _presence, _drift, _wrong, _late, _not_heard, _rest)
    found = (make(hearing) for make in makers)
    return [trouble for trouble in found if trouble is not None]


def shift_text(beats: int, hearing: Hearing) -> str:
    """ "a bar ahead", "2 beats behind"; empty where in place."""
    if beats == 0:
        return ""
    bar = hearing.grid[0].meter.beats
    whole, rest = divmod(abs(beats), bar)
    size = (
        ("a bar" if whole == 1 else f"{whole} bars")
        if rest == 0
        else ("a beat" if abs(beats) == 1 else f"{abs(beats)} beats")
    )
    return f"{size} {'ahead' if beats > 0 else 'behind'}"


def sentence(mistake: Mistake, hearing: Hearing) -> str:
    """One mistake, in the bar-by-bar notes."""
    text = _sentence(mistake, hearing)
    return text[0].upper() + text[1:]


def _sentence(mistake: Mistake, hearing: Hearing) -> str:
    first = mistake.first
    name, beat = asked_name(first, hearing), beat_text(mistake.beat)
    match mistake.fault:
        case Fault.WRONG_NOTE if first.heard is not None:
            return f"{beat} has {heard_name(first.heard, hearing)} where {name} is asked."
        case Fault.LATE:
            return f"the {name} due on {beat} comes {_lateness(mistake, hearing)} late."
        case Fault.EARLY:
            return f"the {name} due on {beat} comes {_lateness(mistake, hearing)} early."
        case Fault.NOT_HEARD:
            return f"{beat}: no note was heard where {name} is asked."
        case Fault.FORM:
            shift = next(b.shift_beats for b in hearing.bars if b.number == mistake.bar)
            return f"from here on heard {shift_text(shift, hearing)} in the form."
        case Fault.SHORT:
            return f"the note on {beat} stops before its length is over."
        case Fault.FILLED:
            return f"a note on {beat} where the page rests."
        case _:
            return f"{beat} goes another way than the page asks."


def _lateness(mistake: Mistake, hearing: Hearing) -> str:
    late = next((f.lateness_s for f in mistake.findings if f.lateness_s is not None), None)
    return "a little" if late is None else amount(late / hearing.quarter_s)


def _form(hearing: Hearing) -> Trouble | None:
    if not hearing.placement.slips:
        return None
    slip = hearing.placement.slips[0]
    before = [b.number for b in hearing.bars if b.number < slip.bar]
    secure = f"{bars_text(before).capitalize()} {_are(before)} in place. " if before else ""
    where = shift_text(slip.beats, hearing)
    first, last = max(1, slip.bar - 1), slip.bar + 1
    text = (
        f"{secure}From bar {slip.bar} you were {where} in the form, so the line no longer fits the "
        f"chords under it. Loop {bars_text(list(range(first, last + 1)))} three times, only roots."
    )
    return Trouble("form", text, tuple(range(slip.bar, slip.until + 1)))


def _are(numbers: list[int]) -> str:
    return "is" if len(numbers) == 1 else "are"


def _presence(hearing: Hearing) -> Trouble | None:
    asked = [b.number for b in hearing.bars if any(a.kind == "note" for a in b.asked)]
    first, last = hearing.placement.first_bar, hearing.placement.last_bar
    if not asked or first is None or last is None:
        return None
    if last < asked[-1]:
        missing = [n for n in asked if n > last]
        return Trouble(
            "stop",
            f"The take stops after bar {last}; {bars_text(missing)} {_are(missing)} still to come. "
            "If the line gets away from you, keep the place and come back in on the next beat 1.",
            tuple(missing),
        )
    if first > asked[0]:
        missing = [n for n in asked if n < first]
        return Trouble(
            "start",
            f"Your first note comes in bar {first}; the page starts in bar {asked[0]}. "
            "Count the count-in aloud once and breathe on its last beat.",
            tuple(missing),
        )
    return None


def _drift(hearing: Hearing) -> Trouble | None:
    drift = hearing.timing.drift_beats
    if abs(drift) < DRIFT_BEATS:
        return None
    way = "behind" if drift > 0 else "ahead of"
    return Trouble(
        "drift",
        f"From the first bar to the last you move {amount(drift)} {way} the band. Listen to the "
        "bass on 1 and 3 and let it carry you; play two choruses of roots only.",
        tuple(b.number for b in hearing.bars),
    )


def _of(hearing: Hearing, *faults: Fault) -> list[Mistake]:
    shifted = {b.number for b in hearing.bars if b.shift_beats}
    return [m for m in hearing.mistakes if m.fault in faults and m.bar not in shifted]


def _wrong(hearing: Hearing) -> Trouble | None:
    found = [m for m in _of(hearing, Fault.WRONG_NOTE) if m.first.heard is not None]
    if not found:
        return None
    worst = next((m for m in found if m.beat in STRONG), found[0])
    heard, pitch = worst.first.heard, worst.first.ask.pitch
    assert heard is not None  # noqa: S101 - filtered above, for the type checker
    over = chord_text(worst.at, hearing)
    name = asked_name(worst.first, hearing)
    is_now = degree_text(worst.at, heard.pc, hearing)
    asked = f"the {degree_text(worst.at, pitch.midi % 12, hearing)} of {over}" if pitch else over
    text = (
        f"{place_text(worst).capitalize()} sits on {heard_name(heard, hearing)}, the {is_now} "
        f"over {over}; the page asks for {name}, {asked}, {_why(worst, hearing)}. "
        f"Play into bar {worst.bar} slowly, stop on {name}, and listen to it against the bass."
    )
    return Trouble("wrong", text + _elsewhere(found, worst), tuple(m.bar for m in found))


def _why(mistake: Mistake, hearing: Hearing) -> str:
    """What the asked note is good for."""
    pitch = mistake.first.ask.pitch
    degree = degree_text(mistake.at, pitch.midi % 12, hearing) if pitch else ""
    if degree in ("3rd", "7th"):
        return "the note that tells the ear which chord it is"
    if degree == "root":
        return "the note that the bar stands on"
    return "the note that completes the chord"


def _elsewhere(found: list[Mistake], told: Mistake) -> str:
    others = [m.bar for m in found if m is not told]
    return f" The same kind of thing happens in {bars_text(others)}." if others else ""


def _late(hearing: Hearing) -> Trouble | None:
    found = _of(hearing, Fault.LATE, Fault.EARLY)
    if not found:
        return None
    worst = next((m for m in found if m.beat in STRONG), found[0])
    name = asked_name(worst.first, hearing)
    side = "after" if worst.fault is Fault.LATE else "before"
    text = (
        f"The line arrives {_lateness(worst, hearing)} {side} its place, {place_text(worst)}, so "
        f"the chord has moved without it. Aim at {name} on {beat_text(worst.beat)} and practise "
        "only the last three notes before it."
    )
    return Trouble("late", text + _elsewhere(found, worst), tuple(m.bar for m in found))


def _not_heard(hearing: Hearing) -> Trouble | None:
    found = _of(hearing, Fault.NOT_HEARD)
    if not found:
        return None
    worst = found[0]
    name = asked_name(worst.first, hearing)
    text = (
        f"At {place_text(worst)} no note was heard where {name} is written, and the line has a "
        f"hole there. Sing {name} before you play bar {worst.bar}, then play it a little firmer."
    )
    return Trouble("not heard", text + _elsewhere(found, worst), tuple(m.bar for m in found))


def _rest(hearing: Hearing) -> Trouble | None:
    found = _of(hearing, Fault.SHORT, Fault.FILLED, Fault.NOT_KEPT)
    if not found:
        return None
    first = found[0]
    text = (
        f"In bar {first.bar}, {_sentence(first, hearing)} What the page asks there is the point of "
        f"the exercise: play bar {first.bar} alone four times, then with the bar before it."
    )
    return Trouble("other", text, tuple(m.bar for m in found))
