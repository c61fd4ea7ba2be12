"""Promises against what was played. A promise falls only on a note the listener is sure of; where
it isn't sure, it says so."""

from collections.abc import Iterable
from itertools import pairwise

from changewright.ear._scene import Event, Scene
from changewright.ear.hearing import Ask, Fault, Finding, Verdict
from changewright.music.bar import Quarters
from changewright.music.promise import (
    Approached,
    Avoids,
    Climbs,
    Echoes,
    Holds,
    Keeps,
    Lands,
    Leaps,
    Promise,
    Quotes,
    Rests,
    Stays,
    Steps,
    Within,
)

__all__ = ["findings"]

OCTAVE = 12


def findings(scene: Scene) -> list[Finding]:
    """A verdict on each promise of the sheet; a motif that comes back is judged as the phrase that
    it quotes."""
    asked = (p for p in scene.sheet.promises if not isinstance(p, Echoes))
    return [_judged(promise, scene) for promise in asked]


def _judged(promise: Promise, scene: Scene) -> Finding:
    match promise:
        case Lands():
            return _lands(promise, scene)
        case Steps():
            return _steps(promise, scene)
        case Holds():
            return _holds(promise, scene)
        case Rests():
            return _rests(promise, scene)
        case Approached():
            return _approached(promise, scene)
        case Keeps() | Quotes():
            return _rhythm_and_shape(promise, scene)
        case Echoes():
            raise AssertionError("an echo is judged as a quotation")
        case _:
            return _spanned(promise, scene)


def _ask(promise: Promise, scene: Scene) -> Ask:
    start = promise.start
    end = getattr(promise, "end", start)
    bar = scene.sheet.bar_at(start)
    return Ask(start, end, bar.number, bar.beat_of(start), promise=promise)


def _met(promise: Promise, scene: Scene, event: Event | None = None) -> Finding:
    return Finding(_ask(promise, scene), Verdict.MET, heard=event.heard if event else None)


def _unsure(promise: Promise, scene: Scene) -> Finding:
    return Finding(_ask(promise, scene), Verdict.UNSURE)


def _missed(promise: Promise, scene: Scene, event: Event, fault: Fault | None = None) -> Finding:
    heard = event.heard
    return Finding(
        _ask(promise, scene),
        Verdict.MISSED,
        fault or event.fault or Fault.NOT_KEPT,
        heard,
        confidence=heard.confidence if heard else 0.9,
        at=_where(event.at),
    )


def _where(at: Quarters | float) -> Quarters:
    return at if isinstance(at, Quarters) else Quarters(round(at * 4), 4)


def _lands(promise: Lands, scene: Scene) -> Finding:
    event = scene.at(promise.at)
    if event is None:
        return _sounds(promise, scene)
    if event.fault in (Fault.LATE, Fault.EARLY, Fault.NOT_HEARD):
        return _missed(promise, scene, event)
    if event.midi is None:
        return _unsure(promise, scene)
    fits = event.midi % OCTAVE in scene.pcs(promise.at, promise.degrees)
    return _met(promise, scene, event) if fits else _missed(promise, scene, event, Fault.WRONG_NOTE)


def _sounds(promise: Lands, scene: Scene) -> Finding:
    """No onset is known there: then what sounds in the beat from there tells, or nothing."""
    start, end = scene.second(promise.at), scene.second(promise.at + 1)
    shares = scene.sounding.shares(start + 0.05, end)
    right = scene.pcs(promise.at, promise.degrees)
    if shares.of(right) >= 0.5:
        return _met(promise, scene)
    if shares.silent >= 0.9 and not scene.sounding.is_crowded:
        silent = Event(promise.at, None, silent=True, fault=Fault.NOT_HEARD)
        return _missed(promise, scene, silent)
    return _unsure(promise, scene)


def _steps(promise: Steps, scene: Scene) -> Finding:
    event = scene.at(promise.at)
    before = scene.before(event) if event else None
    if event is None or event.midi is None or before is None or before.midi is None:
        return _unsure(promise, scene)
    size = abs(event.midi - before.midi)
    folded = min(size % OCTAVE, OCTAVE - size % OCTAVE)  # PITFALL: octaves are heard wrong at times
    if min(size, folded) <= promise.most:
        return _met(promise, scene, event)
    blamed = event if event.fault else before if before.fault else event
    return _missed(promise, scene, blamed, blamed.fault or Fault.NOT_KEPT)


def _holds(promise: Holds, scene: Scene) -> Finding:
    event = scene.at(promise.at)
    if event is None or event.midi is None:
        return _unsure(promise, scene)
    late = 0.0
    if event.heard is not None:
        late = max(0.0, event.heard.onset_s - scene.second(promise.at))
    start, end = scene.second(promise.at) + late, scene.second(promise.at + promise.least) + late
    shares = scene.sounding.shares(start, end)
    held = shares.of(frozenset({event.midi % OCTAVE}))
    if held >= 0.75:
        return _met(promise, scene, event)
    gone = shares.silent + sum(shares.pcs) - held
    if held < 0.45 and held + gone > 0.9 and event.fault is None:
        return _missed(promise, scene, event, Fault.SHORT)
    return _unsure(promise, scene)


def _rests(promise: Rests, scene: Scene) -> Finding:
    """A note rung over into the rest is never held against the player: rooms ring too."""
    low = scene.second(promise.start) + scene.window.fault_s
    high = scene.second(promise.end) - scene.window.early_s
    for event in scene.events:
        heard = event.heard
        if (
            heard
            and event.midi is not None
            and low < heard.onset_s < high
            and heard.length_s > 0.12
        ):
            return _missed(promise, scene, event, Fault.FILLED)
    return _met(promise, scene)


def _approached(promise: Approached, scene: Scene) -> Finding:
    target = scene.at(promise.at)
    chain: list[Event | None] = [target]
    for _ in promise.offsets:
        chain.append(scene.before(chain[-1]) if chain[-1] else None)
    known = [e for e in chain if e is not None and e.midi is not None]
    if target is None or target.midi is None or len(known) < len(chain):
        return _unsure(promise, scene)
    for event, offset in zip(known[1:], reversed(promise.offsets), strict=True):
        if ((event.midi or 0) - target.midi - offset) % OCTAVE:
            blamed = event if event.fault or not target.fault else target
            return _missed(promise, scene, blamed)
    return _met(promise, scene, target)


def _rhythm_and_shape(promise: Keeps | Quotes, scene: Scene) -> Finding:
    """Asked onsets by the events that stand there; of a phrase also its shape."""
    first = promise.at if isinstance(promise, Quotes) else Quarters(0)
    events = [scene.at(first + onset) for onset in promise.onsets]
    for event in events:
        if event is not None and event.fault in (Fault.LATE, Fault.EARLY, Fault.NOT_HEARD):
            return _missed(promise, scene, event)
    if any(e is None or (e.midi is None and e.heard is None) for e in events):
        return _unsure(promise, scene)
    if isinstance(promise, Quotes):
        return _shaped(promise, scene, [e for e in events if e is not None])
    return _met(promise, scene)


def _shaped(promise: Quotes, scene: Scene, events: list[Event]) -> Finding:
    if any(e.midi is None for e in events):
        return _unsure(promise, scene)
    for event, shape in zip(events, promise.shape, strict=True):
        if ((event.midi or 0) - (events[0].midi or 0) - shape) % OCTAVE:
            blamed = events[0] if events[0].fault else event
            return _missed(promise, scene, blamed)
    return _met(promise, scene, events[0])


def _spanned(promise: Stays | Within | Leaps | Avoids | Climbs, scene: Scene) -> Finding:
    events = scene.between(promise.start, promise.end)
    sounding = [e for e in events if not e.silent]
    fallen = _first_against(promise, scene, [e for e in sounding if e.midi is not None])
    if fallen is not None:
        return _missed(promise, scene, fallen)
    if not sounding or any(e.midi is None for e in sounding):
        return _unsure(promise, scene)
    return _met(promise, scene)


def _first_against(
    promise: Stays | Within | Leaps | Avoids | Climbs, scene: Scene, events: list[Event]
) -> Event | None:
    """The first sure note that breaks the promise. Octaves alone never break one."""
    match promise:
        case Stays():
            return _first(
                e for e in events if _midi(e) % OCTAVE not in scene.pcs(e.at, promise.degrees)
            )
        case Avoids():
            banned = {p.midi for p in promise.pitches}
            return _first(e for e in events if _midi(e) in banned)
        case Within():
            low, high = promise.low.midi - OCTAVE, promise.high.midi + OCTAVE
            return _first(e for e in events if not low <= _midi(e) <= high)
        case Leaps():
            wide = (
                b for a, b in pairwise(events) if promise.most < abs(_midi(a) - _midi(b)) < OCTAVE
            )
            return _first(wide)
        case Climbs():
            sign = 1 if promise.up else -1
            turned = (b for a, b in pairwise(events) if -OCTAVE < sign * (_midi(b) - _midi(a)) <= 0)
            return _first(turned)


def _midi(event: Event) -> int:
    return event.midi if event.midi is not None else -1


def _first(events: Iterable[Event]) -> Event | None:
    return next(iter(events), None)
