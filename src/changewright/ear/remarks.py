"""What a teacher would say of a take: one strength, one correction, one suggestion, then the bars.

Each remark says what happened, where, why it matters, and one thing to do, about the sound and not
about the person. The order of what is corrected first is the trade's: form, time, wrong chord
tones, landings, the rest. Source: common practice, no source.
"""

from dataclasses import dataclass

from changewright.ear import _strengths, _troubles
from changewright.ear._words import beat_text, listed
from changewright.ear.hearing import BarHearing, Hearing
from changewright.ear.intonation import intonation_of

__all__ = ["CAVEAT", "MY_EARS", "WITH_BAND", "BarRemark", "Remark", "Remarks", "remarks"]

MY_EARS = (
    "Which two bars would you keep?",
    "Where did you feel least at home?",
    "What will you do first when you play it again?",
)
"""Asked of the player before anything else is shown: one's own ear comes first."""

CAVEAT = (
    "These notes come from a machine's ear. None of its measures has been checked against human "
    "judges; where it was not sure it says so."
)

WITH_BAND = (
    "The band is heard in this recording beside you. Only what is surely yours is named here; "
    "another slip, a note left out or a late one may have gone unsaid. With the play-along on "
    "headphones more can be told."
)


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing said, with the bars it rests on."""

    text: str
    bars: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class BarRemark:
    """What is said of one bar; ``clear`` is False where it could not be heard well enough."""

    number: int
    text: str
    clear: bool


@dataclass(frozen=True, slots=True)
class Remarks:
    """Listening notes. ``headline`` stands where a take can't be judged, and then nothing else
    is claimed; ``pitch`` tells of intonation, ``""`` where there is nothing to tell. No
    percentages, no total."""

    questions: tuple[str, ...]
    headline: str
    strength: Remark | None
    correction: Remark | None
    suggestion: Remark | None
    bars: tuple[BarRemark, ...]
    pitch: str = ""
    caveat: str = CAVEAT

    def lines(self) -> tuple[str, ...]:
        """Everything in order, a sentence or two a line."""
        said = [self.headline] if self.headline else []
        said += [r.text for r in (self.strength, self.correction, self.suggestion) if r]
        said += [self.pitch] if self.pitch else []
        said += [f"Bar {b.number}: {b.text}" for b in self.bars]
        return (*said, self.caveat)


def remarks(hearing: Hearing) -> Remarks:
    """Put a hearing into words for the player of its instrument (written pitch names)."""
    if not hearing.judged:
        return Remarks(MY_EARS, hearing.reason, None, None, None, ())
    troubles = _troubles.ranked(hearing)
    strength = _strengths.strength(hearing)
    suggestion = _strengths.suggestion(hearing, [t.kind for t in troubles])
    return Remarks(
        questions=MY_EARS,
        headline="",
        strength=Remark(*strength) if strength else None,
        correction=Remark(troubles[0].text, troubles[0].bars) if troubles else None,
        suggestion=Remark(*suggestion),
        bars=tuple(_bar_remark(bar, hearing) for bar in hearing.bars if bar.asked),
        pitch=intonation_of(
            hearing.intonation, level=hearing.level, with_band=hearing.pulse is None
        ),
        caveat=f"{WITH_BAND} {CAVEAT}" if hearing.with_band else CAVEAT,
    )


def _bar_remark(bar: BarHearing, hearing: Hearing) -> BarRemark:
    mistakes = [m for m in hearing.mistakes if m.bar == bar.number]
    told = [_troubles.sentence(m, hearing) for m in mistakes]
    shift = _troubles.shift_text(bar.shift_beats, hearing)
    if shift:
        return BarRemark(bar.number, f"heard {shift} in the form.", True)
    unclear = _unclear(bar)
    if unclear:
        told.append(unclear)
    return BarRemark(bar.number, " ".join(told) or _all_met(bar), not unclear)


def _all_met(bar: BarHearing) -> str:
    notes = sum(f.ask.kind == "note" for f in bar.met)
    return "as asked." if notes < 2 else f"all {notes} notes as written."


def _unclear(bar: BarHearing) -> str:
    notes = [f for f in bar.unsure if f.ask.kind == "note"]
    if not notes:
        return ""
    if len(notes) * 2 >= sum(a.kind == "note" for a in bar.asked):
        return "could not be heard clearly; judge it yourself."
    beats = listed([beat_text(f.ask.beat) for f in notes])
    return f"{beats} could not be heard clearly."
