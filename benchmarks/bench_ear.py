"""The ear: notes found, by condition and beside peers; planted mistakes named; speed.

Development seeds (below 2000) are those on which the weights were fitted; the figures come from
test seeds (from 7000), which no fitting has seen. Voices by synthesis are always there; where
``CHANGEWRIGHT_NOTES`` or ``CHANGEWRIGHT_SOUNDFONT`` name real notes or a SoundFont, those are heard
too (see ``benchmarks/takes.py``); so are two real singers where ``tools/sung.sh`` put them or
``CHANGEWRIGHT_SUNG`` names them (see ``benchmarks/singers.py``). ``CHANGEWRIGHT_LONG=1`` hears
several times as many takes.
"""

import os
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from statistics import mean
from time import perf_counter

import numpy as np

from benchmarks import planted as plant
from benchmarks import takes
from benchmarks.figure import Figure, core_ms, one_core_ms, paired_ms
from benchmarks.heard import Account, account
from benchmarks.repeats import Repeats, figures_of, repeats_of
from benchmarks.singers import clips
from changewright.ear._engines import ONSET_HOP, ONSET_RATE, PITCH_RATE, real_engines
from changewright.ear._sight import TICK_S, resampled
from changewright.ear._watch import Watch
from changewright.ear.audio import Audio
from changewright.ear.hear import hear
from changewright.ear.judge import judge
from changewright.ear.lag import without_backing
from changewright.ear.live import LiveTake
from changewright.ear.profile import ANY, profile_of
from changewright.ear.stream import heard_live
from changewright.ear.take import HeardNote
from changewright.ear.transcribe import transcribe
from changewright.music.clock import Clock
from changewright.music.sheet import Sheet
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Name

__all__ = ["DEVELOPMENT", "TEST", "f1_of", "figures", "takes_of"]

DEVELOPMENT, TEST = 100, 7000
LONG = bool(os.environ.get("CHANGEWRIGHT_LONG"))
Found = list[tuple[float, float, float]]
"""Notes as (onset, end, MIDI number with its fraction)."""

Row = tuple[float, ...]
"""The F1 of one take by each listener: ours, then the peers in the order of ``_PEERS``."""

VOICES = (
    ("synth:reed", "tenor saxophone", 46, 70),
    ("real:saxophone", "alto saxophone", 50, 77),
    ("font:71", "clarinet", 52, 80),
    ("synth:brass", "trumpet", 54, 80),
    ("real:trombone", "trombone", 44, 65),
    ("font:26", "guitar", 45, 76),
    ("synth:edge", "flute", 62, 88),
    ("real:clarinet", "clarinet", 52, 82),
    ("font:66", "tenor saxophone", 46, 70),
    ("synth:bowed", "violin", 57, 86),
    ("real:trumpet", "trumpet", 54, 78),
    ("font:73", "flute", 62, 88),
    ("synth:plucked", "guitar", 45, 76),
    ("real:flute", "flute", 62, 90),
    ("font:56", "trumpet", 54, 78),
    ("synth:odd reed", "clarinet", 52, 80),
    ("real:violin", "violin", 57, 86),
    ("real:guitar-acoustic", "guitar", 45, 70),
    ("synth:voice", "alto voice", 55, 74),
    ("font:53", "baritone voice", 45, 64),
    ("real:cello", "cello", 40, 64),
    ("real:piano", "piano", 50, 84),
    ("font:11", "vibraphone", 55, 86),
    ("font:41", "viola", 50, 80),
    ("font:32", "double bass", 30, 55),
)
HEARD_IN = ("clean", "phone", "reverb", "noise", "bleed -12")
HEARD_LONG = ("bleed -20", "bleed -6", "mp3 40", "mp3 128")
UNKNOWN = " unknown"
JUDGED_IN = ("clean", "phone", "bleed -12", "bleed -12" + UNKNOWN)
JUDGED_LONG = ("bleed -6", "bleed -6" + UNKNOWN, "bleed -20" + UNKNOWN, "mp3 40")
"""Unknown: the band is in the room, but the listener is not told what it played."""

TEMPI, TEMPI_IN = (80, 120, 160, 200, 240), ("clean", "bleed -12")
LOST_IN = ("clean", "phone", "bleed -12")


@dataclass(frozen=True, slots=True)
class Case:
    """A take in a room: ``voice`` is heard as ``player``; ``band`` is what bled into it."""

    voice: str
    player: str
    condition: str
    truth: Found
    audio: Audio
    band: Audio | None


def takes_of(seed: int, conditions: Iterable[str], count: int) -> Iterator[Case]:
    """Improvised lines of as many voices as are here, each in every condition."""
    here = [v for v in VOICES if takes.named_bank(v[0]) is not None][:count]
    for k, (voice, player, low, high) in enumerate(here):
        bpm = float(np.random.default_rng(seed + k).uniform(72, 200))
        bank = takes.named_bank(voice, seed + k)
        assert bank is not None
        plucked = profile_of(instrument(player)).rings
        line = takes.improvised(seed + k, bpm, low, high, 6, plucked)
        played = takes.render(line, bank, line[-1].onset_s + line[-1].length_s + 0.5)
        band = takes.backing(seed + k, bpm, 6)
        for condition in conditions:
            sound = takes.through(condition, played.samples, seed + k, band)
            bled = Audio(band, takes.RATE) if condition.startswith("bleed") else None
            truth = [(a, b, float(m)) for a, b, m in played.truth]
            yield Case(voice, player, condition, truth, Audio(sound, takes.RATE), bled)


def f1_of(truth: Found, found: Found, ends: bool = False) -> float:
    """Note F1: onset within 50 ms, pitch within 50 cents and, with ``ends``, end within 50 ms or a
    fifth of the note. Source: mir_eval's transcription."""
    import mir_eval

    if not found:
        return 0.0
    spans = [np.array([(a, max(b, a + 0.01)) for a, b, _ in notes]) for notes in (truth, found)]
    hertz = [np.array([440 * 2 ** ((m - 69) / 12) for *_, m in notes]) for notes in (truth, found)]
    _, _, score, _ = mir_eval.transcription.precision_recall_f1_overlap(
        spans[0], hertz[0], spans[1], hertz[1], offset_ratio=0.2 if ends else None
    )
    return float(score)


def _heard(case: Case) -> tuple[HeardNote, ...]:
    audio = case.audio if case.band is None else without_backing(case.audio, case.band, 0.0)
    return transcribe(audio, instrument=instrument(case.player)).notes


def _struck(case: Repeats) -> tuple[HeardNote, ...]:
    return transcribe(case.audio, instrument=instrument(case.player)).notes


def _without_lag(truth: Found, notes: tuple[HeardNote, ...]) -> tuple[HeardNote, ...]:
    """The notes as early as they were before the coder: less the median lateness of those that
    answer a true one (the peers are left as they are)."""
    late = [
        min((n.onset_s - at for n in notes if abs(n.pitch - midi) < 0.5), key=abs, default=1.0)
        for at, _, midi in truth
    ]
    by = float(np.median([gap for gap in late if abs(gap) < 0.15] or [0.0]))
    return tuple(
        replace(n, onset_s=n.onset_s - by, end_s=n.end_s - by) for n in notes if n.onset_s >= by
    )


def _segmenter(case: Case) -> Found:
    """The pitch network with its own package's note segmenter."""
    from swift_f0 import SwiftF0, segment_notes

    samples = resampled(case.audio.samples, case.audio.rate, PITCH_RATE)
    result = SwiftF0(threads=1, spin=False).detect(samples, PITCH_RATE)
    notes = segment_notes(result)
    return [(n.start, n.end, 69 + 12 * float(np.log2(n.pitch_hz / 440))) for n in notes]


def _picked(case: Case) -> Found:
    """The onset model alone: an onset peak above .5 starts a note, a posterior below .3 ends it."""
    watch = Watch(case.audio.rate, ANY, real_engines())
    watch.push(case.audio.samples, 1.0)
    watch.finish(1.0)
    sight = watch.sight(0, watch.ticks, 1.0)
    onset, note = sight.onset, sight.note
    found: Found = []
    for key in range(88):
        rise = onset[:, key]
        peaks = np.flatnonzero(
            (rise > 0.5) & (rise >= np.roll(rise, 1)) & (rise > np.roll(rise, -1))
        )
        for peak in (int(p) for p in peaks):
            low = np.flatnonzero(note[peak + 2 :, key] < 0.3)
            stop = peak + 2 + (int(low[0]) if len(low) else len(note))
            found.append((peak * TICK_S, min(stop, len(note)) * TICK_S, 21.0 + key))
    return sorted(found)


def _probabilistic(case: Case) -> Found:
    """A pitch tracker that shares no part with ours, probabilistic YIN, plainly segmented: a run of
    voiced frames on one semitone, five frames smoothed, is a note from 50 ms on."""
    import librosa
    from scipy.ndimage import median_filter

    samples = resampled(case.audio.samples, case.audio.rate, ONSET_RATE)
    low, high = profile_of(instrument(case.player)).limits_hz
    hertz, voiced, _ = librosa.pyin(
        samples, fmin=low, fmax=high, sr=ONSET_RATE, frame_length=2048, hop_length=ONSET_HOP
    )
    midi = 69 + 12 * np.log2(np.where(voiced, hertz, 440) / 440)
    keys = median_filter(np.where(voiced, np.round(midi), 0), 5)
    edges = np.flatnonzero(np.diff(keys, prepend=0, append=0))
    return [
        (a * TICK_S, b * TICK_S, float(np.median(midi[a:b])))
        for a, b in pairwise(int(e) for e in edges)
        if keys[a] > 0 and (b - a) * TICK_S >= 0.05
    ]


_PEERS = (_segmenter, _picked, _probabilistic)


def figures() -> Iterable[Figure]:
    """Accuracy by condition beside the peers, planted mistakes, speed."""
    scores: dict[str, list[Row]] = defaultdict(list)
    players: dict[str, list[Row]] = defaultdict(list)
    accounts: dict[str, Account] = defaultdict(Account)
    whole: dict[str, list[float]] = defaultdict(list)
    for case in takes_of(TEST, HEARD_IN + HEARD_LONG * LONG, len(VOICES) if LONG else 5):
        notes = _heard(case)
        if case.condition.startswith("mp3"):
            notes = _without_lag(case.truth, notes)
        ours = [(n.onset_s, n.end_s, n.pitch) for n in notes]
        row = tuple(f1_of(case.truth, f) for f in (ours, *(listen(case) for listen in _PEERS)))
        accounts[case.condition] += account(case.truth, notes)
        scores[case.condition].append(row)
        whole[case.condition].append(f1_of(case.truth, ours, ends=True))
        kind = case.voice.partition(":")[0]
        players[f"{kind}.{case.player}"].append(row)
        if case.condition == "clean":
            players[f"clean.{kind}.{case.player}"].append(row)
    every = [row for rows in scores.values() for row in rows]
    yield _beside("ear.f1", every, 1, "segmenter_of_the_pitch_network")
    yield _beside("ear.f1_vs_onset_model", every, 2, "onset_model_alone")
    yield _beside("ear.f1_vs_probabilistic_yin", every, 3, "probabilistic_yin")
    for condition, rows in scores.items():
        name = condition.replace(" ", "")
        yield _beside(f"ear.f1.{name}", rows, 1, "segmenter_of_the_pitch_network")
        yield _beside(f"ear.f1_vs_yin.{name}", rows, 3, "probabilistic_yin")
    for condition in ("clean", "noise"):  # in a room or on a telephone nobody grades an end
        yield Figure(f"ear.f1_with_ends.{condition}", mean(whole[condition]), "F1")
    for condition, told in accounts.items():
        name = condition.replace(" ", "")
        yield Figure(f"ear.repeated_recall.{name}", told.recall_of_repeated, "share")
        yield Figure(f"ear.precision_of_surest_80.{name}", told.precision(0.8), "share")
        yield Figure(f"ear.wrong_class.{name}", told.wrong_class, "share")
    for player, rows in players.items():
        name = player.replace(" ", "_")
        yield _beside(f"ear.f1.{name}", rows, 1, "segmenter_of_the_pitch_network")
    yield from _singers()
    voices = VOICES if LONG else VOICES[:5]
    yield from figures_of(repeats_of(TEST, voices, 2 if LONG else 1), _struck)
    yield from _mistakes()
    yield from _lost_bars()
    yield from _speed()


def _beside(name: str, rows: list[Row], peer: int, peer_name: str) -> Figure:
    return Figure(name, mean(r[0] for r in rows), "F1", peer_name, mean(r[peer] for r in rows))


def _singers() -> Iterator[Figure]:
    """Real voices: the mean over two musicians who wrote them down, beside how far those two agree
    and beside the segmenter."""
    for clip in clips():
        case = Case("real:voice", clip.player, "clean", clip.annotators[0], clip.audio, None)
        ours = [(n.onset_s, n.end_s, n.pitch) for n in _heard(case)]
        score, peer = (mean(f1_of(w, f) for w in clip.annotators) for f in (ours, _segmenter(case)))
        name = f"ear.f1_sung.{clip.use}"
        yield Figure(name, score, "F1", "annotators_agree", f1_of(*clip.annotators))
        yield Figure(f"{name}.segmenter", score, "F1", "segmenter_of_the_pitch_network", peer)


def _mistakes() -> Iterator[Figure]:
    """Verdicts on exercises with known mistakes, and on perfect takes: by room and, long, by
    tempo."""
    total: dict[str, plant.Tally] = defaultdict(plant.Tally)
    shapes = list(plant.SHAPES)
    here = [v for v in VOICES if takes.named_bank(v[0]) is not None]
    rooms = JUDGED_IN + JUDGED_LONG * LONG
    for k in range(16 if LONG else 3):
        voice, player, _, _ = here[k % len(here)]
        shape = shapes[k % len(shapes)]
        for condition, tally in _judged(TEST + k, voice, player, shape, rooms):
            total[condition] += tally
    whole = sum((total[c] for c in JUDGED_IN), plant.Tally())
    yield Figure("ear.planted_precision", whole.precision, "share")
    yield Figure("ear.planted_recall", whole.recall, "share")
    yield Figure("ear.false_alarm_bars", whole.alarms, "share")
    for j, bpm in enumerate(TEMPI * LONG):
        for k in range(8):
            voice, player, _, _ = here[(3 * k + j) % len(here)]
            seed, shape = TEST + 200 + 10 * j + k, shapes[(k + j) % len(shapes)]
            for condition, tally in _judged(seed, voice, player, shape, TEMPI_IN, bpm):
                total[f"{condition} at {bpm}"] += tally
    for condition, tally in total.items():
        name = condition.replace(" ", "")
        yield Figure(f"ear.planted_precision.{name}", tally.precision, "share")
        yield Figure(f"ear.planted_recall.{name}", tally.recall, "share")
        yield Figure(f"ear.false_alarm_bars.{name}", tally.alarms, "share")


def _lost_bars() -> Iterator[Figure]:
    """Takes that go a bar ahead or behind somewhere: told at the right place and size?"""
    told: dict[str, list[bool]] = defaultdict(list)
    shapes = list(plant.SHAPES)
    here = [v for v in VOICES if takes.named_bank(v[0]) is not None]
    for k in range(20 if LONG else 3):
        seed, (voice, player, _, _) = TEST + 100 + k, here[5 * k % len(here)]
        bpm = int(np.random.default_rng(seed).integers(60, 200))
        sheet = plant.exercise(instrument(player), shapes[k % len(shapes)], Key(Name(-2)), bpm)
        clock = Clock(bpm, 1.0, Fraction(4))
        plan, bar, beats = plant.lost_bar(sheet, clock, seed)
        bank = takes.named_bank(voice, seed)
        assert bank is not None
        sound = takes.render(plan.notes, bank, clock.to_seconds(sheet.length) + 2).samples
        band = _band_for(sheet, seed)
        for condition in LOST_IN if LONG else LOST_IN[:1]:
            audio = Audio(takes.through(condition, sound, seed, band), takes.RATE)
            known = Audio(band, takes.RATE) if condition.startswith("bleed") else None
            hearing = hear(audio, sheet, clock, backing=known)
            told[condition].append(plant.is_told(hearing, bar, beats))
    yield Figure("ear.lost_bars_found", mean(t for row in told.values() for t in row), "share")
    for condition, row in told.items():
        yield Figure(f"ear.lost_bars_found.{condition.replace(' ', '')}", mean(row), "share")


def _band_for(sheet: Sheet, seed: int) -> takes.Wave:
    roots = [36 + bar.changes[0].chord.tones[0].pc for bar in sheet.bars]
    return takes.backing(seed, sheet.tempo_bpm, len(sheet.bars), roots)


def _judged(
    seed: int,
    voice: str,
    player: str,
    shape: str,
    rooms: Iterable[str] = JUDGED_IN,
    bpm: int | None = None,
) -> Iterator[tuple[str, plant.Tally]]:
    rng = np.random.default_rng(seed)
    key, drawn = Key(Name(int(rng.integers(-4, 3)))), int(rng.integers(72, 120))
    bpm = bpm or drawn
    sheet = plant.exercise(instrument(player), shape, key, bpm)
    clock = Clock(bpm, 1.0, Fraction(4))
    bank = takes.named_bank(voice, seed)
    assert bank is not None
    band = _band_for(sheet, seed)
    plans = (plant.planted(sheet, clock, seed), plant.planted(sheet, clock, seed + 500, 0, 0, 0))
    for plan in plans:
        sound = takes.render(plan.notes, bank, clock.to_seconds(sheet.length) + 0.5).samples
        for condition in rooms:
            room = condition.removesuffix(UNKNOWN)
            audio = Audio(takes.through(room, sound, seed, band), takes.RATE)
            known = room == condition and room.startswith("bleed")
            bled = Audio(band, takes.RATE) if known else None
            yield condition, plant.tally(hear(audio, sheet, clock, backing=bled), plan)


def _speed() -> Iterator[Figure]:
    """A minute judged on one core, beside the pitch network and its segmenter alone."""
    horn = instrument("tenor saxophone")
    sheet = plant.exercise(horn, "root-up", Key(Name(-1)), 60)
    clock = Clock(60, 1.0, Fraction(4))
    plan = plant.planted(sheet, clock, TEST)
    sound = takes.render(plan.notes, takes.synthetic_bank("reed", 1), 60.0).samples
    audio = Audio(sound[: 60 * takes.RATE], takes.RATE)
    case = Case("synth:reed", horn.id, "clean", [], audio, None)
    work: Callable[[], object] = lambda: hear(audio, sheet, clock)  # noqa: E731
    ours, peer = paired_ms(work, lambda: _segmenter(case), times=3)
    yield Figure("ear.minute_ms", ours, "ms", "segmenter_of_the_pitch_network", peer)
    yield Figure(
        "ear.x_realtime", 60_000 / ours, "x", "segmenter_of_the_pitch_network", 60_000 / peer
    )
    yield Figure("ear.minute_core_ms", core_ms(work, times=3), "ms")
    yield Figure("ear.minute_one_core_ms", one_core_ms(work, times=3), "ms")
    ours, peer = paired_ms(work, lambda: _picked(case), times=3)
    yield Figure("ear.minute_ms_vs_onset_model", ours, "ms", "onset_model_alone", peer)
    ours, peer = paired_ms(work, lambda: _probabilistic(case), times=3)
    yield Figure("ear.minute_ms_vs_yin", ours, "ms", "probabilistic_yin", peer)
    blocks = [audio.samples[k : k + 1024] for k in range(0, len(audio.samples), 1024)]
    live, whole = paired_ms(
        lambda: list(heard_live(blocks, audio.rate, instrument=horn)), work, times=2
    )
    yield Figure("ear.live_minute_ms", live, "ms", "the_same_minute_at_once", whole)
    yield _after_the_last_note(audio, sheet, clock, whole)


def _after_the_last_note(audio: Audio, sheet: Sheet, clock: Clock, whole_ms: float) -> Figure:
    """What is left to do when a take of a minute stops that was heard while it was played."""
    took = []
    for _ in range(2):
        live = LiveTake(audio.rate, instrument=sheet.instrument)
        for first in range(0, len(audio.samples), 4096):
            live.push(audio.samples[first : first + 4096])
        begun = perf_counter()
        take, _lag = live.finish()
        judge(sheet, take, clock)
        took.append(1000 * (perf_counter() - begun))
    return Figure("ear.after_stop_ms", min(took), "ms", "the_same_minute_at_once", whole_ms)
