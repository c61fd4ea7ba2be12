"""Written notes against heard ones: which answers which, and what may be said of it."""

from dataclasses import dataclass

import numpy as np

from changewright.ear._align import Due, align
from changewright.ear._sounding import Shares, Sounding
from changewright.ear._window import Window
from changewright.ear.hearing import Ask, Fault, Finding, Verdict
from changewright.ear.place import Placement
from changewright.ear.take import HeardNote, Take
from changewright.music.clock import Clock
from changewright.music.line import Note
from changewright.music.sheet import Sheet

__all__ = ["SURE", "Answer", "answers", "extra", "findings"]

SURE = 0.7
LOCAL = 8  # notes on either side from which the player's place is followed
CROWDED_SURE, CROWDED_FALL_DB, CROWDED_SLIP = 0.9, 4.0, 5
CROWDED_HUSH_DB, CROWDED_LEAST_S = 6.0, 0.2
"""With a band in the room: how sure, how near to the player's louder notes and how near to the page
a note must be to be the player's own; how far the level falls where the player is silent, and how
long a silence must be to be told. Source: measured, fitted on development seeds."""

FAINT_DB = 13.0
"""A note so far under the player's louder ones may have begun unheard: it is not called late."""

STRANGE_DB = 17.0
"""A note so far under the player's louder ones may be somebody else's: it is not called another
note. Source: measured on development seeds: a trombone's softest lie 16 dB under, a band's 18."""

BESIDE, HIDDEN, STILL_DB = 0.3, 0.15, 30.0
"""From which chance on the asked note itself sounds beside what was followed: then no other note
is held against the player, and no missing one, unless it is as still there as a room without the
player. Source: measured, fitted on development seeds: of true claims nine in ten lie below, of
false ones nine in ten above; what is left of a band taken out lies 31 dB and more under the
player."""

_LOOKED_S, _AHEAD_S = 0.4, 0.03

_FAR = 12  # semitones: what lies further off is a harmonic, or somebody else's bass note


@dataclass(frozen=True, slots=True)
class Answer:
    """A written note, where it was due on the recording, and the heard note that answers it.

    ``due`` has the constant lag and the player's ``local_s`` drift in it; ``lateness_s`` is
    measured from there."""

    note: Note
    ask: Ask
    due: Due
    heard: HeardNote | None
    local_s: float = 0.0

    @property
    def lateness_s(self) -> float | None:
        """Signed seconds behind the player's own place."""
        return None if self.heard is None else self.heard.onset_s - self.due.onset_s


def answers(
    sheet: Sheet, take: Take, clock: Clock, laid: Placement, window: Window
) -> list[Answer]:
    """Pair every written note (blanks aside) with the heard note that answers it."""
    written = [n for n in sheet.line.notes if not n.blank]
    due = [_due(n, clock, laid, 0.0) for n in written]
    heard = list(take.notes)
    pairs = align(due, heard, window.reach_s)
    local = _local(due, heard, pairs, window)
    due = [_due(n, clock, laid, late) for n, late in zip(written, local, strict=True)]
    pairs = _settled(due, heard, align(due, heard, window.reach_s), window)
    return [
        Answer(note, _ask(note, sheet), d, None if j is None else heard[j], late)
        for note, d, j, late in zip(written, due, pairs, local, strict=True)
    ]


def _settled(
    due: list[Due], heard: list[HeardNote], pairs: list[int | None], window: Window
) -> list[int | None]:
    """A note far from its own place but right on an unanswered neighbour's belongs there."""
    settled = list(pairs)
    for k, j in enumerate(pairs):
        if j is None or abs(heard[j].onset_s - due[k].onset_s) <= window.fault_s:
            continue
        for other in (k - 1, k + 1):
            free = 0 <= other < len(due) and settled[other] is None
            if free and abs(heard[j].onset_s - due[other].onset_s) <= window.onset_s:
                settled[k], settled[other] = None, j
                break
    return settled


def _due(note: Note, clock: Clock, laid: Placement, late_s: float) -> Due:
    shift = laid.offset_s + late_s
    return Due(
        clock.to_seconds(note.onset) + shift, clock.to_seconds(note.end) + shift, note.pitch.midi
    )


def _ask(note: Note, sheet: Sheet) -> Ask:
    bar = sheet.bar_at(note.onset)
    return Ask(note.onset, note.end, bar.number, bar.beat_of(note.onset), pitch=note.pitch)


def _local(
    due: list[Due], heard: list[HeardNote], pairs: list[int | None], window: Window
) -> list[float]:
    """The player's own place along the take: a running median of lateness, for slow drift only."""
    late = [
        heard[j].onset_s - d.onset_s if j is not None and heard[j].pc == d.midi % 12 else np.nan
        for d, j in zip(due, pairs, strict=True)
    ]
    place = []
    for k in range(len(due)):
        near = np.array(late[max(0, k - LOCAL) : k + LOCAL + 1])
        near = near[~np.isnan(near)]
        place.append(float(np.median(near)) if len(near) >= 5 else 0.0)
    limit = window.reach_s / 2
    return [float(np.clip(p, -limit, limit)) for p in place]


def findings(pairs: list[Answer], sounding: Sounding, window: Window) -> list[Finding]:
    """A verdict on each written note."""
    onsets = [a.heard.onset_s if a.heard else float("inf") for a in pairs]
    following = [min(onsets[k + 1 :], default=float("inf")) for k in range(len(pairs))]
    return [
        _verdict(answer, sounding, window, until)
        for answer, until in zip(pairs, following, strict=True)
    ]


def _verdict(answer: Answer, sounding: Sounding, window: Window, until_s: float) -> Finding:
    """``until_s`` is where the next answered note starts: what sounds from there is another."""
    right = frozenset({answer.due.midi % 12})
    if answer.heard is not None and answer.heard.pc in right:
        late = answer.lateness_s or 0.0
        in_octave = answer.heard.midi == answer.due.midi
        if in_octave or -window.early_s <= late <= window.fault_s:
            return _right_pitch(answer, answer.heard, sounding, window)
    begin, end = answer.due.onset_s, answer.due.end_s
    begin, end = begin + min(0.06, 0.2 * (end - begin)), end - 0.1 * (end - begin)
    until = max(begin + 0.05, min(end, until_s - 0.03))
    body = sounding.shares(begin, until)
    if body.of(right) >= 0.5:
        return Finding(answer.ask, Verdict.MET, confidence=body.of(right))
    if body.of(right) >= 0.12 or sounding.whispers(right, begin, until) >= 0.2:
        return Finding(answer.ask, Verdict.UNSURE)
    if answer.heard is None or abs(answer.lateness_s or 0.0) > window.fault_s:
        return _nothing(answer, sounding, begin, until)
    faint = answer.heard.loudness_db < sounding.loud_db - STRANGE_DB
    theirs = sounding.is_crowded and not (
        _is_own(answer.heard, sounding)
        and abs(answer.heard.midi - answer.due.midi) <= CROWDED_SLIP
        and _beside(answer, sounding) < BESIDE
    )
    if faint or theirs:
        return Finding(answer.ask, Verdict.UNSURE, None, answer.heard, answer.lateness_s)
    return _wrong_pitch(answer, answer.heard, body)


def _beside(answer: Answer, sounding: Sounding) -> float:
    """The chance that the asked note itself sounds in its place, whatever else is followed."""
    due = answer.due
    end = min(due.end_s, due.onset_s + _LOOKED_S)
    return sounding.key(due.midi, due.onset_s - _AHEAD_S, end)


def _is_own(heard: HeardNote, sounding: Sounding) -> bool:
    """With a band in the room: sure, and as loud as the player's louder notes."""
    is_loud = heard.loudness_db > sounding.loud_db - CROWDED_FALL_DB
    return heard.confidence >= CROWDED_SURE and is_loud


def _right_pitch(answer: Answer, heard: HeardNote, sounding: Sounding, window: Window) -> Finding:
    """Late is said only where nothing of the note sounds before: slow attacks start softly."""
    late = answer.lateness_s or 0.0
    if -window.early_s <= late <= window.fault_s:
        return Finding(answer.ask, Verdict.MET, None, heard, late, heard.confidence)
    before = sounding.shares(answer.due.onset_s + 0.02, heard.onset_s - 0.02)
    own = frozenset({heard.pc})
    soft = late > 0 and (before.of(own) > 0.1 or before.silent + before.other(own) < 0.5)
    faint = heard.loudness_db < sounding.loud_db - FAINT_DB
    theirs = sounding.is_crowded and not _is_own_and_late(answer, heard, sounding)
    if heard.confidence < SURE or soft or faint or theirs:
        return Finding(answer.ask, Verdict.UNSURE, None, heard, late, heard.confidence)
    fault = Fault.LATE if late > 0 else Fault.EARLY
    return Finding(answer.ask, Verdict.MISSED, fault, heard, late, heard.confidence)


def _is_own_and_late(answer: Answer, heard: HeardNote, sounding: Sounding) -> bool:
    """With a band in the room: the player's own note in the asked octave, and until it comes
    neither that note nor anything as loud as the player."""
    due, end = answer.due, heard.onset_s - 2 * _AHEAD_S
    return (
        _is_own(heard, sounding)
        and heard.midi == due.midi
        and heard.onset_s > due.onset_s
        and sounding.key(due.midi, due.onset_s - _AHEAD_S, end) < BESIDE
        and sounding.hush_db(due.onset_s + _AHEAD_S, end) > CROWDED_HUSH_DB
    )


def _wrong_pitch(answer: Answer, heard: HeardNote, body: Shares) -> Finding:
    late = answer.lateness_s
    sure = (
        (heard.confidence >= SURE or (heard.confidence >= 0.5 and body.pcs[heard.pc] >= 0.7))
        and heard.length_s >= 0.07
        and abs(heard.midi - answer.due.midi) <= _FAR
        and body.pcs[heard.pc] >= 0.3
    )
    if not sure:
        return Finding(answer.ask, Verdict.UNSURE, None, heard, late, heard.confidence)
    return Finding(answer.ask, Verdict.MISSED, Fault.WRONG_NOTE, heard, late, heard.confidence)


def _nothing(answer: Answer, sounding: Sounding, begin_s: float, until_s: float) -> Finding:
    """No note is told where none sounds, the asked one not even beside others; with a band in the
    room only where the level, too, falls well below the player's."""
    body, beside = sounding.shares(begin_s, until_s, without_tails=True), _beside(answer, sounding)
    due = answer.due
    length = min(due.end_s - due.onset_s, _LOOKED_S)
    hush = sounding.hush_db(due.onset_s, due.onset_s + length)
    gone = beside < HIDDEN or hush > STILL_DB
    if sounding.is_crowded:
        gone = gone and hush > CROWDED_HUSH_DB and length >= CROWDED_LEAST_S
    if gone and body.silent >= 0.7:
        return Finding(answer.ask, Verdict.MISSED, Fault.NOT_HEARD, confidence=body.silent)
    return Finding(answer.ask, Verdict.UNSURE)


def extra(
    sheet: Sheet, take: Take, clock: Clock, laid: Placement, pairs: list[Answer]
) -> list[tuple[int, HeardNote]]:
    """Sure notes that answer nothing, with the bar they fall in."""
    used = {id(a.heard) for a in pairs if a.heard is not None}
    found = []
    for note in take.notes:
        if id(note) not in used and note.confidence >= SURE and note.length_s >= 0.09:
            at = clock.to_quarters(note.onset_s - laid.offset_s)
            bar = next((b for b in sheet.bars if b.start <= at < b.end), None)
            if bar is not None:
                found.append((bar.number, note))
    return found
