"""The composing engine: speed beside a general constraint solver, variety, scaling, promises.

``python -m benchmarks.bench_line 100000`` examines that many sheets instead of a hundred: ten lines
from each of ten thousand plans, in about twenty minutes of one core.
"""

import resource
import sys
import time
from bisect import bisect_right
from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import cache, partial
from itertools import pairwise, product
from random import Random
from subprocess import run

import numpy as np

from benchmarks.figure import Figure, median_ms, paired_ms
from changewright.chart.model import form_of
from changewright.errors import Refusal
from changewright.lesson.compose import compose, compose_many, grounds, plan_of
from changewright.lesson.family import Plan, families
from changewright.lesson.level import level, levels
from changewright.lesson.player import Player
from changewright.line.slot import Slot
from changewright.line.tables import move_between, shared_tables, single_move
from changewright.line.trellis import Trellis
from changewright.music.keeping import broken
from changewright.music.sheet import Sheet
from changewright.reading.analyse import analyse
from changewright.reading.model import Reading
from changewright.theory.instrument import Span, instrument, instruments
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Name, Pitch

__all__ = ["figures"]

KEYS = ["F", "Bb", "Eb", "Ab", "C", "Db", "G", "Gb", "D", "A", "B", "E"]
BLUES = "1:7|4:7|1:7|5:m7,1:7|4:7|#4:°7|1:7|6:7(b9)|2:m7|5:7|1:7,6:7(b9)|2:m7,5:7"
EIGHT = "1:maj7,6:m7|2:m7,5:7|1:maj7,6:m7|2:m7,5:7|1:maj7,1:7|4:maj7,4:m6|1:maj7|1:maj7"
AABA = "|".join([EIGHT, EIGHT, "3:7|3:7|6:7|6:7|2:7|2:7|5:7|5:7", EIGHT])
TENOR = Player(instrument("tenor saxophone"))


def figures() -> Iterable[Figure]:
    """Every figure of the room."""
    yield from _speed()
    yield from _batch()
    yield from _scaling()
    yield from _book()
    yield from _tastes()
    yield from _levels()
    yield from _refusing()
    yield from _promises(120)


@cache
def _reading(form: str, key: str) -> Reading:
    home = Key.parse(key)
    symbols: list[tuple[str, int]] = []
    for bar in form.split("|"):
        chords = bar.split(",")
        for chord in chords:
            degree, quality = chord.split(":")
            root = (home.tonic + Degree.parse(degree).interval).fifths
            root -= 12 * ((root + 6) // 12 if abs(root) > 6 else 0)
            symbols.append((f"{Name(root)}{quality}", 4 // len(chords)))
    return analyse(form_of(symbols, key=home, title="bench"))


def _plan(form: str, family: str = "etude", seed: int = 1) -> Plan:
    ground = next(grounds(_reading(form, "F"), TENOR, level(5), family))
    return plan_of(ground, family, seed)


def _speed() -> Iterable[Figure]:
    trellis = _plan(BLUES).trellis
    solver = _Solver(trellis)
    rng = np.random.default_rng(1)
    ours, peer = paired_ms(lambda: trellis.solve().sample(1, rng), solver.line)
    yield Figure("line.chorus_ms", ours, "ms", "cp-sat", peer)
    yield Figure("line.vs_solver", peer / ours, "x")
    long = _plan(AABA).trellis
    yield Figure("line.chorus_32_ms", median_ms(lambda: long.solve().sample(1, rng)), "ms")
    reading = _reading(AABA, "F")
    work = partial(compose, reading, TENOR, level(5), "etude", 1)
    yield Figure("line.compose_32_ms", _best_cpu_ms(work), "ms, of one core")
    yield Figure("line.first_32_ms", min(_first_ms() for _ in range(3)), "ms, of one core")
    drawn = long.solve()
    each = _best_cpu_ms(lambda: drawn.sample(100, rng)) / 100
    yield Figure("line.choruses_a_second", 1000 / each, "further lines on one core")
    yield Figure("line.states", float(long.solve().states), "states")
    yield Figure("line.arcs", long.solve().arcs / len(long.slots), "arcs/note")


def _best_cpu_ms(work: Callable[[], object], times: int = 9) -> float:
    """The least processor time of several runs: what other programs take isn't counted."""
    found: list[float] = []
    for _ in range(times):
        start = time.process_time()
        work()
        found.append((time.process_time() - start) * 1000)
    return min(found)


_FIRST = """
import time
from benchmarks.bench_line import AABA, TENOR, _reading
from changewright.lesson.compose import compose
from changewright.lesson.level import level
reading = _reading(AABA, "F")
start = time.process_time()
compose(reading, TENOR, level(5), "etude", 1)
print((time.process_time() - start) * 1000)
"""


def _first_ms() -> float:
    """The first chorus of a fresh process: families, levels, phrases and tables all cold."""
    told = run([sys.executable, "-c", _FIRST], capture_output=True, check=True, text=True)
    return float(told.stdout)


class _Solver:
    """The same hard rules as tables of allowed pairs for a general constraint solver, one worker;
    any feasible line will do. The model is built once and not timed."""

    def __init__(self, trellis: Trellis) -> None:
        from ortools.sat.python import cp_model

        self._engine = cp_model
        self._model = cp_model.CpModel()
        rules = trellis.grammar.rules
        self._line = [
            self._model.new_int_var(0, s.size - 1, f"n{i}") for i, s in enumerate(trellis.slots)
        ]
        for variable, slot in zip(self._line, trellis.slots, strict=True):
            legal = np.ones((1, slot.size), dtype=bool)
            for rule in (r for r in rules if r.single):
                legal &= ~np.broadcast_to(rule.breaks(single_move(slot)), legal.shape)
            self._model.add_allowed_assignments(
                [variable], [[int(c)] for c in np.flatnonzero(legal)]
            )
        for (a, b), pair in zip(pairwise(self._line), pairwise(trellis.slots), strict=True):
            self._model.add_allowed_assignments([a, b], _pairs(trellis, pair))
        self._seed = 0

    def line(self) -> list[int]:
        """One feasible line."""
        self._seed += 1
        solver = self._engine.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = self._seed
        solver.parameters.randomize_search = True
        status = solver.solve(self._model)
        assert status in (self._engine.OPTIMAL, self._engine.FEASIBLE)
        return [int(solver.value(v)) for v in self._line]


def _pairs(trellis: Trellis, pair: tuple[Slot, Slot]) -> list[tuple[int, int]]:
    before = np.arange(pair[0].size)
    move = move_between(pair, before, np.zeros_like(before))
    legal = np.ones((pair[0].size, pair[1].size), dtype=bool)
    for rule in (r for r in trellis.grammar.rules if not r.single):
        legal &= ~np.broadcast_to(rule.breaks(move), legal.shape)
    return [(int(a), int(b)) for a, b in zip(*np.nonzero(legal), strict=True)]


def _batch() -> Iterable[Figure]:
    trellis = _plan(BLUES).trellis
    solution = trellis.solve()
    rng = np.random.default_rng(2)
    start = time.perf_counter()
    drawn = solution.sample(1000, rng)
    yield Figure("line.further_ms", time.perf_counter() - start, "ms/line")
    lines = [tuple(map(int, row)) for row in drawn]
    yield Figure("line.distinct_of_1000", float(len(set(lines))), "lines")
    dice = Random(3)
    each = [_spread(form, seed, dice) for form in (BLUES, AABA) for seed in range(1, 11)]
    yield Figure("line.edit_distance", float(np.mean(each)), "of length, in one plan")
    tries = 4000
    kept = sum(_legal(trellis, dice) for _ in range(tries))
    yield Figure("line.rejection_accepts", kept / tries, "share")


def _spread(form: str, seed: int, dice: Random) -> float:
    """The mean edit distance of lines of one plan, which have its rhythm, motifs and targets in
    common. Plans differ much in how free they leave a line, so one alone says little."""
    drawn = _plan(form, seed=seed).trellis.solve().sample(200, np.random.default_rng(2))
    lines = [tuple(map(int, row)) for row in drawn]
    some = [dice.sample(lines, 2) for _ in range(40)]
    return float(np.mean([_edits(a, b) / max(len(a), len(b)) for a, b in some]))


def _legal(trellis: Trellis, dice: Random) -> bool:
    """Choose every note of the pool at random and see whether the rules let the line through."""
    before: tuple[Slot, int] | None = None
    for slot in trellis.slots:
        choice = dice.randrange(slot.size)
        single = single_move(slot)
        for rule in trellis.grammar.rules:
            if rule.single and np.broadcast_to(rule.breaks(single), (1, slot.size))[0, choice]:
                return False
        if before is not None:
            move = move_between(
                (before[0], slot), np.array([before[1]]), np.array([0]), np.array([choice])
            )
            if any(np.any(r.breaks(move)) for r in trellis.grammar.rules if not r.single):
                return False
        before = slot, choice
    return True


def _edits(a: tuple[int, ...], b: tuple[int, ...]) -> int:
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, start=1):
        last, row[0] = row[0], i
        for j, y in enumerate(b, start=1):
            last, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, last + (x != y))
    return row[-1]


def _scaling() -> Iterable[Figure]:
    """Repeat one chorus to the length wanted: solve and draw one line."""
    slots = _plan(BLUES).trellis.slots
    grammar = _plan(BLUES).trellis.grammar
    each: dict[int, float] = {}
    for bars in (12, 120, 1_200, 10_000):
        longer = Trellis(
            grammar, tuple(slots[i % len(slots)] for i in range(len(slots) * bars // 12))
        )
        longer.solve() if bars < 1000 else None
        start = time.perf_counter()
        longer.solve().sample(1, np.random.default_rng(1))
        each[bars] = (time.perf_counter() - start) * 1000 / bars
        yield Figure(f"line.ms_a_bar_{bars}", each[bars], "ms/bar")
    yield Figure("line.scaling", each[10_000] / each[1_200], "x (1 is linear)")
    yield from _scaling_in_pitches()


_SPANS = {14: "C3 D4", 20: "C3 Ab4", 28: "C3 E5"}


def _scaling_in_pitches() -> Iterable[Figure]:
    """The same blues on narrower and wider ranges: time by arc, and arcs by state."""
    by_arc: dict[int, float] = {}
    for wide in _SPANS:
        player = Player(TENOR.instrument, span=Span.parse(_SPANS[wide]))
        ground = next(grounds(_reading(BLUES, "F"), player, level(5), "free-rhythm"))
        trellis = plan_of(ground, "free-rhythm", 1).trellis
        found = trellis.solve()
        by_arc[wide] = _best_cpu_ms(trellis.solve, 5) * 1e6 / found.arcs
        yield Figure(f"line.states_{wide}", float(found.states), f"states at {wide} semitones")
        yield Figure(f"line.arcs_{wide}", float(found.arcs), f"arcs at {wide} semitones")
        yield Figure(f"line.ns_an_arc_{wide}", by_arc[wide], "ns, of one core")
    yield Figure("line.scaling_pitches", by_arc[28] / by_arc[14], "x by arc (1 is linear)")


def _book() -> Iterable[Figure]:
    """Ten etudes over a blues in each of twelve keys, tables cold at the start."""
    shared_tables.clear()
    start = time.process_time()
    for key, seed in product(KEYS, range(10)):
        compose(_reading(BLUES, key), TENOR, level(5), "etude", seed)
    yield Figure("line.book_120_s", time.process_time() - start, "s, of one core")
    yield Figure("line.tables_mb", shared_tables.arcs * 16 / 1e6, "MB")
    yield Figure("line.peak_mb", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, "MB")


def _tastes() -> Iterable[Figure]:
    """Etudes beside solos on record: 456 in all, 340 in swing 4/4 for what concerns chords.

    Source: aggregate figures of the Weimar Jazz Database (ODbL), medians per solo or shares.
    """
    sheets = [
        compose(_reading(form, key), TENOR, level(number), "etude", seed)
        for form, key, number, seed in product((BLUES, AABA), ("F", "Db"), (3, 5, 7), (1, 2))
    ]
    phrases = [p for sheet in sheets for p in _phrases(sheet)]
    yield from _moves([[b - a for a, b in pairwise(p)] for p in phrases])
    yield from _harmony(sheets)
    played = sum(n.duration for s in sheets for n in s.line.notes)
    whole = sum(s.line.length for s in sheets)
    yield Figure("line.rest_share", float(1 - Fraction(played) / whole), "share", "solos", 0.326)
    span = [max(p) - min(p) for s in sheets if (p := [n.pitch.midi for n in s.line.notes])]
    yield Figure("line.range", float(np.median(span)), "semitones", "solos", 24.0)
    notes = [float(len(p)) for p in phrases]
    yield Figure("line.phrase_notes", float(np.median(notes)), "notes", "solos", 14.0)


def _levels() -> Iterable[Figure]:
    """What grows with the level, beside the solos on record; and the one highest note."""
    for number in (3, 5, 8):
        sheets = [
            compose(_reading(form, key), TENOR, level(number), "etude", seed)
            for form, key, seed in product((BLUES, AABA), ("F", "Db"), (1, 2, 3))
        ]
        phrases = [p for sheet in sheets for p in _phrases(sheet)]
        heights = [[n.pitch.midi for n in sheet.line.notes] for sheet in sheets]
        moves = [abs(b - a) for p in phrases for a, b in pairwise(p)]
        rest = 1 - sum(n.duration for s in sheets for n in s.line.notes) / sum(
            (s.line.length for s in sheets), Fraction(0)
        )
        starts = [at % 4 for sheet in sheets for at in _starts(sheet)]
        told = f"line.L{number}."
        lengths = [len(p) for p in phrases]
        yield Figure(f"{told}phrase_notes", float(np.median(lengths)), "notes", "solos", 14.0)
        span = [max(h) - min(h) for h in heights]
        yield Figure(f"{told}range", float(np.median(span)), "semitones", "solos", 24.0)
        leaps = sum(m >= 5 for m in moves) / len(moves)
        yield Figure(f"{told}leaps", leaps, "share", "solos", 0.122)
        yield Figure(f"{told}rest_share", float(rest), "share", "solos", 0.326)
        late = sum(s.denominator > 1 for s in starts) / len(starts)
        yield Figure(f"{told}offbeat_starts", late, "share", "solos", 0.35)
        once = sum(h.count(max(h)) == 1 for h in heights) / len(heights)
        yield Figure(f"{told}highest_once", once, "share of choruses")


_SIZES = (
    ("repeats", 0, 0, 0.043),
    ("semitones", 1, 1, 0.284),
    ("tones", 2, 2, 0.285),
    ("thirds", 3, 4, 0.267),
    ("fourths", 5, 6, 0.075),
    ("fifths_and_wider", 7, 99, 0.047),
    ("leaps", 5, 99, 0.122),
    ("steps", 1, 2, 0.568),
)
"""Moves inside phrases: name, from and to in semitones, share in the solos."""


def _moves(moves: list[list[int]]) -> Iterable[Figure]:
    sizes = [abs(m) for phrase in moves for m in phrase]
    pairs = [(a, b) for phrase in moves for a, b in pairwise(phrase)]
    turns = [a * b < 0 for a, b in pairs if a and b]
    leaps = [(a, b) for a, b in pairs if abs(a) >= 5]
    back = sum(a * b < 0 and abs(b) <= 2 for a, b in leaps)
    yield Figure("line.turns", sum(turns) / len(turns), "share", "solos", 0.424)
    yield Figure("line.leaps_recovered", back / len(leaps), "share", "solos", 0.252)
    for name, low, high, record in _SIZES:
        share = sum(low <= size <= high for size in sizes) / len(sizes)
        yield Figure(f"line.{name}", share, "share", "solos", record)


def _harmony(sheets: list[Sheet]) -> Iterable[Figure]:
    """Chord tones on beats one and three, and steps into the first note of a new chord."""
    strong: list[bool] = []
    steps: list[bool] = []
    for sheet in sheets:
        changes = set(sheet.chord_onsets())
        for before, note in pairwise(sheet.line.notes):
            if note.onset % 2 == 0:
                pcs = {p % 12 for p in sheet.change_at(note.onset).chord.pcs}
                strong.append(note.pitch.midi % 12 in pcs)
            if any(before.onset < at <= note.onset for at in changes):
                steps.append(abs(note.pitch.midi - before.pitch.midi) <= 2)
    yield Figure("line.strong_beats", sum(strong) / len(strong), "chord tones", "solos", 0.526)
    yield Figure("line.step_at_change", sum(steps) / len(steps), "share", "solos", 0.619)


def _phrases(sheet: Sheet) -> list[list[int]]:
    found: list[list[int]] = []
    end = Fraction(-9)
    for note in sheet.line.notes:
        if note.onset - end >= 1:
            found.append([])
        found[-1].append(note.pitch.midi)
        end = note.end
    return found


def _starts(sheet: Sheet) -> list[Fraction]:
    """Where phrases start."""
    ends = [Fraction(-9), *(n.end for n in sheet.line.notes)]
    return [n.onset for n, end in zip(sheet.line.notes, ends, strict=False) if n.onset - end >= 1]


def _refusing() -> Iterable[Figure]:
    """Two conflicts at once: a target held outside the range in two bars of an etude."""
    ways = grounds(_reading(BLUES, "F"), TENOR, level(5), "etude")
    # the last ways give the high point up, which would leave no choice out of range
    trellis = plan_of(next(g for g in ways if g.fallback == "plain"), "etude", 1).trellis
    slots = list(trellis.slots)
    able = [i for i, slot in enumerate(slots) if max(dict(slot.columns)["outside"]) > 0]
    for index in (able[len(able) // 3], able[2 * len(able) // 3]):
        outside = dict(slots[index].columns)["outside"]
        slots[index] = slots[index].only([i for i, o in enumerate(outside) if o > 0])
    stuck = Trellis(trellis.grammar, tuple(slots))

    def refuse() -> int:
        try:
            stuck.solve()
        except Refusal as refusal:
            return len(refusal.repairs)
        raise AssertionError("two targets out of range leave no line")

    assert refuse() > 0
    yield Figure("line.refusal_ms", _best_cpu_ms(refuse, 5), "ms, of one core")


_PLANS = 10_000
"""Plans at most: beyond that, more lines are drawn from each."""


def _promises(count: int) -> Iterable[Figure]:
    """Random chart, instrument, level, family, key and seed, and one line of each plan, or as many
    as ``count`` asks for beyond ten thousand plans; examined by the checker."""
    dice = Random(11)
    each = -(-count // _PLANS)
    broke = refused = made = plans = doubles = twice = 0
    forms = [_reading(form, key) for form in (BLUES, AABA) for key in KEYS]
    names = sorted(instruments())
    while made + refused < count:
        number = dice.choice(sorted(levels()))
        family = dice.choice(
            [f.id for f in families().values() if f.since <= number and not f.wants_melody]
        )
        player = Player(instrument(dice.choice(names)))
        try:
            sheets = compose_many(
                dice.choice(forms), player, level(number), family, dice.randrange(10**6), each
            )
        except Refusal:
            refused += each
            continue
        plans += 1
        made += len(sheets)
        for sheet in sheets:
            broke += len(broken(sheet))
            doubles += sum(abs(n.pitch.name.alter) > 1 for n in sheet.line.notes)
            twice += _spelled_twice(sheet)
    yield Figure("line.promises_broken", float(broke), f"in {made} sheets of {plans} plans")
    yield Figure("line.refused", refused / count, "share")
    yield Figure("line.double_accidentals", float(doubles), f"in {made} sheets")
    yield Figure("line.spelled_two_ways", float(twice), f"bars in {made} sheets")


def _spelled_twice(sheet: Sheet) -> int:
    """How many bars spell one pitch in two ways."""
    starts = [float(bar.start) for bar in sheet.bars]  # multiples of an eighth, so exact
    inside: dict[int, set[Pitch]] = {}
    for note in sheet.line.notes:
        inside.setdefault(bisect_right(starts, float(note.onset)), set()).add(note.pitch)
    return sum(len({p.midi for p in bar}) != len(bar) for bar in inside.values())


if __name__ == "__main__":
    for figure in _promises(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000):
        print(figure)
