"""Find the pulse of a take that was recorded without the play-along: its tempo, and where bar 1 is.

The sheet's own tempo is the prior: a player is looked for within 40 % of it, so double and half
tempo lie outside. What the take can't tell is said to be unsure, and then nothing is judged.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from changewright.ear.take import HeardNote, Take
from changewright.music.clock import Clock
from changewright.music.sheet import Sheet
from changewright.reading.model import Reading

__all__ = ["Pulse", "pulse_of_exercise", "pulse_of_solo"]

Floats = NDArray[np.float64]

REACH = 0.4  # of the tempo, either way. Source: common practice, no source
_STEP, _FINE_STEP = 0.005, 0.0005
_BIN_S, _KERNEL_S = 0.02, 0.06
_MOST_NOTES = 500
_LEAST_SUPPORT, _CLEAR = 0.5, 0.85
_OTHER_TEMPO, _OTHER_BEATS = 0.04, 0.5
_LEAST_SOLO, _STEADY, _SOLO_CLEAR, _SURE_PLACE = 24, 0.4, 0.9, 0.85
_ON_RECORD = 0.55  # of notes are chord tones. Source: measured over solos on record
_TRUST = 1.0
_PRIOR = 0.35
_PLACES, _OFFBEATS = 48, (0.5, 0.55, 0.6, 0.65)


@dataclass(frozen=True, slots=True)
class Pulse:
    """A tempo (quarters a minute) and the second at which bar 1 begins.

    ``support`` is the share of what was asked (or played) that lies on it, ``rival`` how well the
    best other explanation does beside it (1: as well). ``sure`` is False where either forbids a
    verdict; ``reason`` then says why.
    """

    bpm: float
    start_s: float
    support: float
    rival: float
    sure: bool
    reason: str = ""

    def document(self) -> dict[str, object]:
        """The pulse as plain values."""
        return {
            "bpm": round(self.bpm, 2),
            "start_s": round(self.start_s, 3),
            "support": round(self.support, 3),
            "rival": round(self.rival, 3),
            "sure": self.sure,
        }

    def clock(self, swing_ratio: float = 1.0) -> Clock:
        """The clock of this pulse, with whatever came before bar 1 as its lead-in."""
        lead = Fraction(self.start_s * self.bpm / 60).limit_denominator(960)
        return Clock(self.bpm, swing_ratio, lead)


def pulse_of_exercise(take: Take, sheet: Sheet, swing_ratio: float = 1.0) -> Pulse:
    """The tempo and the start on which most pairs of written and heard notes agree.

    A count-in of the player's own, clicked or sung, need not be understood: the notes themselves
    say where they belong.
    """
    unit = Clock(60, swing_ratio)
    written = [(unit.to_seconds(n.onset), n.pitch.midi % 12) for n in sheet.line.notes]
    heard = _sure(take)
    if len(written) < 4 or len(heard) < 4:
        return _unknown(sheet.tempo_bpm, "Too few notes could be heard to find a tempo.")
    beats, onsets, weights = _pairs(written, heard)
    if len(beats) < 4:
        return _unknown(sheet.tempo_bpm, "Hardly a note of this exercise was recognised.")
    tempos = _tempos(sheet.tempo_bpm)
    peaks = [
        _peak(onsets - beats * 60 / bpm, weights, heard[0].onset_s, 60 / bpm) for bpm in tempos
    ]
    best = int(np.argmax([score for score, _ in peaks]))
    score, start = peaks[best]
    bpm, start = _refined(beats, onsets, float(tempos[best]), start)
    rival = _rival(beats, onsets, weights, tempos, peaks, best)
    return _weighed(bpm, start, score / len(written), rival)


def _weighed(bpm: float, start_s: float, support: float, rival: float) -> Pulse:
    support = min(1.0, support)
    reason = ""
    if support < _LEAST_SUPPORT:
        reason = (
            "The exercise could not be followed well enough to find its tempo. Record it with the "
            "play-along, or count yourself in and keep the pulse."
        )
    elif rival > _CLEAR:
        reason = (
            "The take fits more than one place or tempo, so nothing is judged. Record it with the "
            "play-along, or start from bar 1."
        )
    return Pulse(bpm, start_s, support, rival, not reason, reason)


def _unknown(bpm: float, reason: str) -> Pulse:
    return Pulse(float(bpm), 0.0, 0.0, 1.0, False, reason)


def _sure(take: Take) -> list[HeardNote]:
    return [n for n in take.notes if n.confidence > 0.5][:_MOST_NOTES]


def _tempos(bpm: float, step: float = _STEP) -> Floats:
    low, high = max(20.0, bpm * (1 - REACH)), min(400.0, bpm * (1 + REACH))
    return np.geomspace(low, high, int(np.log(high / low) / step) + 1)


def _pairs(
    written: Sequence[tuple[float, int]], heard: Sequence[HeardNote]
) -> tuple[Floats, Floats, Floats]:
    """Every written note with every heard one of its pitch class."""
    found = [(w, h.onset_s, h.confidence) for w, pc in written for h in heard if h.pc == pc]
    table = np.array(found, dtype=float).reshape(-1, 3)
    return table[:, 0], table[:, 1], table[:, 2]


def _peak(
    lags: Floats, weights: Floats, first_s: float, quarter_s: float, away_from: float | None = None
) -> tuple[float, float]:
    """The highest agreement among lags, and where; starts near the first heard note are a little
    more likely. ``away_from`` leaves out a lag and its neighbourhood."""
    from scipy.ndimage import gaussian_filter1d

    low = float(lags.min()) - 1
    bins = np.bincount(((lags - low) / _BIN_S).astype(int), weights)
    width = _KERNEL_S / _BIN_S
    smooth = gaussian_filter1d(np.append(bins, np.zeros(50)), width) * width * np.sqrt(2 * np.pi)
    at = low + (np.arange(len(smooth)) + 0.5) * _BIN_S
    early = np.abs(at - first_s) < 4 * quarter_s
    smooth = np.where(early, smooth, 0.92 * smooth)
    if away_from is not None:
        smooth[np.abs(at - away_from) < _OTHER_BEATS * quarter_s] = 0
    best = int(np.argmax(smooth))
    return float(smooth[best]), float(at[best])


def _rival(
    beats: Floats,
    onsets: Floats,
    weights: Floats,
    tempos: Floats,
    peaks: Sequence[tuple[float, float]],
    best: int,
) -> float:
    """The best other explanation, as a share of the chosen one: another tempo, or another place."""
    score, start = peaks[best]
    far = np.abs(np.log(tempos / tempos[best])) > _OTHER_TEMPO
    others = [s for (s, _), is_far in zip(peaks, far, strict=True) if is_far]
    quarter = 60 / float(tempos[best])
    moved, _ = _peak(onsets - beats * quarter, weights, start, quarter, away_from=start)
    return max([moved, *others]) / score if score else 1.0


def _refined(beats: Floats, onsets: Floats, bpm: float, start: float) -> tuple[float, float]:
    """A straight line through the pairs that agree, twice, each time nearer."""
    quarter = 60 / bpm
    for reach in (0.12, 0.08, 0.06):
        off = onsets - beats * quarter - start
        near = np.abs(off) < reach
        if near.sum() < 4 or np.ptp(beats[near]) < 2:
            break
        slope, base = np.polyfit(beats[near], onsets[near], 1)
        if not 0.97 < slope / quarter < 1.03:
            break
        quarter, start = float(slope), float(base)
    return 60 / quarter, start


# ---- an open solo


def pulse_of_solo(take: Take, reading: Reading, bpm: float) -> Pulse:
    """The tempo on which most onsets lie, and the place in the form whose chords fit best.

    ``bpm`` is the tempo asked for. A solo says little about its form; often this stays unsure.
    """
    heard = _sure(take)
    if len(heard) < _LEAST_SOLO:
        return _unknown(bpm, f"{len(heard)} notes are too few to find a tempo.")
    tempos = _tempos(bpm, _FINE_STEP)
    fits = _beat_fits(np.array([n.onset_s for n in heard]), tempos)
    near = np.exp(-0.5 * (np.log(tempos / bpm) / _PRIOR) ** 2)
    best = int(np.argmax(fits.max(axis=1) * near))
    tempo, fit = float(tempos[best]), fits[best]
    far = np.abs(np.log(tempos / tempo)) > _OTHER_TEMPO
    rival = float(fits[far].max() / fit.max())
    if fit.max() < _STEADY or rival > _SOLO_CLEAR:
        reason = "No one steady pulse could be heard, so nothing is said about time."
        return Pulse(tempo, 0.0, float(fit.max()), rival, False, reason)
    start, chance = _place_in_form(heard, reading, 60 / tempo, fit)
    sure = chance >= _SURE_PLACE
    reason = "" if sure else "The form could not be followed, so nothing is said about the changes."
    return Pulse(tempo, start, float(fit.max()), max(rival, 1 - chance), sure, reason)


def _beat_fits(onsets: Floats, tempos: Floats) -> Floats:
    """How well onsets lie on beats and (less so) on offbeats, straight or swung, for each tempo
    and each place of the beat: (tempos, places), 1 where all lie there and 0 by chance."""
    beats = _templates()
    found = np.zeros((len(tempos), _PLACES))
    for row, bpm in enumerate(tempos):
        places = (onsets * bpm / 60 * _PLACES).astype(int) % _PLACES
        counts = np.bincount(places, minlength=_PLACES) / len(onsets)
        found[row] = (beats @ counts).reshape(len(_OFFBEATS), _PLACES).max(axis=0)
    return found


def _templates() -> Floats:
    """For each offbeat and each place of the beat: what an onset is worth by where it falls."""
    grid = np.arange(_PLACES) / _PLACES
    rows = []
    for offbeat in _OFFBEATS:
        for place in grid:
            on, off = (np.abs((grid - place - s + 0.5) % 1 - 0.5) for s in (0.0, offbeat))
            bumps = [w * np.exp(-0.5 * (d / 0.06) ** 2) for w, d in ((1.0, on), (0.85, off))]
            worth = np.maximum(*bumps)
            rows.append((worth - worth.mean()) / (1 - worth.mean()))
    return np.array(rows)


def _place_in_form(
    heard: Sequence[HeardNote], reading: Reading, quarter_s: float, fit: Floats
) -> tuple[float, float]:
    """Where bar 1 begins, and the chance that it is there and nowhere else.

    Each note speaks for the places where it is a chord tone; most players start near the top.
    Where onbeats and offbeats could be exchanged, both are tried.
    """
    table = _evidence_by_beat(reading)
    straight = int(np.argmax(fit))
    around = [(straight + _PLACES // 2 + k) % _PLACES for k in range(-5, 6)]
    swapped = max(around, key=lambda k: float(fit[k]))
    starts: list[float] = []
    weights: list[Floats] = []
    for place in (straight, swapped):
        first, evidence = _evidence(heard, table, quarter_s, place / _PLACES)
        starts += [(first - k + place / _PLACES) * quarter_s for k in range(len(table))]
        weights.append(evidence + _TRUST * len(heard) * (fit[place] - fit[straight]))
    chances = np.exp(np.concatenate(weights) - max(w.max() for w in weights))
    best = int(np.argmax(chances))
    return starts[best], float(chances[best] / chances.sum())


def _evidence_by_beat(reading: Reading) -> Floats:
    """Log odds of each pitch class on each beat of the form, over chance."""
    base = float(reading.bars[0].start)
    length = round(float(reading.bars[-1].end) - base)
    rows = []
    for beat in range(length):
        tones = _tones(reading, base + beat + 0.25)
        inside = np.log(_ON_RECORD / len(tones) * 12)
        outside = np.log((1 - _ON_RECORD) / (12 - len(tones)) * 12)
        rows.append([inside if pc in tones else outside for pc in range(12)])
    return np.array(rows)


def _evidence(
    heard: Sequence[HeardNote], table: Floats, quarter_s: float, phase: float
) -> tuple[int, Floats]:
    """The first note's beat, and the log evidence for each place in the form of that beat."""
    length = len(table)
    beats = [int(np.floor(n.onset_s / quarter_s - phase + 0.25)) for n in heard]
    places = np.arange(length)
    evidence = np.log(np.full(length, 0.25 / length))
    top = {0: 0.3, 1: 0.15, 2: 0.12, 3: 0.06, 4: 0.06, length - 1: 0.06}
    for place, chance in top.items():
        evidence[place % length] = np.log(chance)
    for note, beat in zip(heard, beats, strict=True):
        worth = _TRUST * note.confidence
        evidence = evidence + worth * table[(beat - beats[0] + places) % length, note.pc]
    return beats[0], evidence


def _tones(reading: Reading, at: float) -> frozenset[int]:
    found = [c for c in reading.changes if float(c.change.onset) <= at]
    return (found[-1] if found else reading.changes[0]).change.chord.pcs
