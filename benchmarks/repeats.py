"""Notes struck anew and notes held: lines in which every second note comes again.

A tongue, a bow or a plectrum must be heard; a vibrato or a swell must not be taken for one.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from benchmarks import takes
from benchmarks.figure import Figure
from benchmarks.heard import Account, account, cut_in_two
from changewright.ear.audio import Audio
from changewright.ear.profile import profile_of
from changewright.ear.take import HeardNote
from changewright.theory.instrument import instrument

__all__ = ["CONDITIONS", "Repeats", "figures_of", "repeats_of"]

CONDITIONS = ("clean", "phone", "reverb")
Voice = tuple[str, str, int, int]
"""A bank's name, the instrument it plays, and its lowest and highest note."""


@dataclass(frozen=True, slots=True)
class Repeats:
    """A line in a room; ``held`` says which of its notes are long with vibrato or a swell."""

    player: str
    condition: str
    truth: list[tuple[float, float, float]]
    held: tuple[int, ...]
    audio: Audio


def repeats_of(seed: int, voices: Sequence[Voice], rounds: int) -> Iterator[Repeats]:
    """So many lines of every instrument that is here; a singer doesn't tongue."""
    for k, (name, player, low, high) in enumerate(list(voices) * rounds):
        bank = takes.named_bank(name, seed + k)
        profile = profile_of(instrument(player))
        if bank is None or profile.sings:
            continue
        bpm = float(np.random.default_rng(seed + k).uniform(72, 200))
        line = takes.repeating(seed + k, bpm, low, high, plucked=profile.rings)
        played = takes.render(line, bank, line[-1].onset_s + line[-1].length_s + 0.5)
        truth = [(a, b, float(m)) for a, b, m in played.truth]
        held = tuple(n for n, note in enumerate(line) if note.shape is not None)
        for condition in CONDITIONS:
            sound = takes.through(condition, played.samples, seed + k)
            yield Repeats(player, condition, truth, held, Audio(sound, takes.RATE))


def figures_of(
    cases: Iterable[Repeats], hear: Callable[[Repeats], Sequence[HeardNote]]
) -> Iterator[Figure]:
    """By condition: notes struck anew that are found, held notes cut in two, and of how many."""
    accounts: dict[str, Account] = defaultdict(Account)
    cut: dict[str, int] = defaultdict(int)
    held: dict[str, int] = defaultdict(int)
    for case in cases:
        notes = hear(case)
        accounts[case.condition] += account(case.truth, notes)
        cut[case.condition] += cut_in_two(case.truth, case.held, notes)
        held[case.condition] += len(case.held)
    for condition, told in accounts.items():
        yield Figure(f"ear.struck_anew.recall.{condition}", told.recall_of_repeated, "share")
        yield Figure(f"ear.struck_anew.count.{condition}", told.repeated, "notes")
        yield Figure(f"ear.held_cut_in_two.{condition}", cut[condition], "notes")
        yield Figure(f"ear.held.{condition}", held[condition], "notes")
