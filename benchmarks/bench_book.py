"""A book of five hundred pages from its file: cold, unchanged, its memory, and beside an engraver.

The whole command runs in processes of its own, composing, contents and answers included. The
reference engraver gets the finished notes of the same exercises, and prints nothing else: so
``book.vs_engraver`` says what a whole book costs beside bare engraving. ``page.vs_engraver`` is the
comparison of like with like.
"""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path

import lilypond

from benchmarks.bench_page import _ly_score
from benchmarks.figure import Figure, paired_ms
from changewright.chart.transpose import transpose_chart
from changewright.chart.unroll import unroll
from changewright.jobs.running import core_count
from changewright.lesson.level import level
from changewright.music.notation import notate
from changewright.reading.analyse import analyse
from changewright.usecases.book_file import read_book
from changewright.usecases.book_lines import Asked, lines_for

__all__ = ["LONG", "SHORT", "figures"]

_HEAD = """title = "Every key on the quay"
author = "Quayside workshop"
keys = "fourths"
editions = ["clarinet"]
"""
LONG = (
    _HEAD
    + """
[[exercises]]
charts = ["two-hulls-rocking", "unlit-pontoon", "quayside-blues", "long-gangplank"]
levels = [4]
families = [
  "root-up", "guide-tones", "reordered", "targets", "approach-notes", "rhythm-only",
  "free-rhythm", "space", "call-and-response", "enclosures", "chord-scales",
]

[[exercises]]
charts = ["chandlery-ledger"]
levels = [4]
families = ["root-up", "guide-tones", "targets", "approach-notes", "call-and-response"]

[[exercises]]
charts = ["quayside-blues", "long-gangplank"]
levels = [3]
families = ["root-up", "guide-tones", "targets"]
"""
)
"""Some 660 exercises of 12 to 32 bars: more than five hundred pages."""

SHORT = (
    _HEAD
    + """
scales = false

[[exercises]]
charts = ["quayside-blues"]
levels = [4]
families = ["root-up", "chord-scales", "approach-notes", "enclosures"]
"""
)
"""Forty-eight exercises, most in eighths, that the reference engraver gets too."""

_COMMAND = "from changewright.cli.main import main; main()"


def figures() -> Iterable[Figure]:
    """Seconds for the long book, cold and unchanged, its peak memory, and the engraver's times."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        cold_s, peak_mb = _make(LONG, place, core_count())
        again_s, _ = _make(LONG, place, core_count())
        pages = _pages(place)
        yield Figure("book.pages", pages, "pages")
        yield Figure("book.cold_s", cold_s, "s")
        yield Figure("book.cold_500_s", cold_s * 500 / pages, "s")
        yield Figure("book.unchanged_s", again_s, "s")
        yield Figure("book.peak_mb", peak_mb, "MB")
    ours, peer = paired_ms(_short_book, _engraved_elsewhere, times=2)
    yield Figure("book.vs_engraver", peer / ours, "times", "lilypond_ms", peer)


def _make(text: str, place: Path, workers: int) -> tuple[float, float]:
    """Run the command; seconds, and the most memory that all its processes held at a time."""
    file = place / "book.toml"
    file.write_text(text, encoding="utf-8")
    command = [sys.executable, "-c", _COMMAND, "book", str(file), "-o", str(place / "out")]
    command += ["--cache", str(place / "cache"), "--workers", str(workers)]
    start, peak = time.perf_counter(), 0.0
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as running:
        while running.poll() is None:
            peak = max(peak, sum(map(_held_mb, _family(running.pid))))
            time.sleep(0.1)
        said = running.stderr.read() if running.stderr else b""
    assert running.returncode == 0, said.decode()
    return time.perf_counter() - start, peak


def _pages(place: Path) -> int:
    return (place / "out" / "every-key-on-the-quay-clarinet.pdf").read_bytes().count(b"/Type/Page/")


def _family(process: int) -> Iterator[int]:
    """A process and all that it started; none where the system does not tell."""
    yield process
    try:
        for thread in os.listdir(f"/proc/{process}/task"):
            told = Path(f"/proc/{process}/task/{thread}/children").read_text()
            for child in told.split():
                yield from _family(int(child))
    except OSError:
        return


def _held_mb(process: int) -> float:
    """The memory of a process, what it shares counted by its share; 0 where nobody tells."""
    try:
        told = Path(f"/proc/{process}/smaps_rollup").read_text()
    except OSError:
        return 0.0
    sizes = [line.split()[1] for line in told.splitlines() if line.startswith("Pss:")]
    return sum(map(int, sizes)) / 1000


def _short_book() -> None:
    with tempfile.TemporaryDirectory() as folder:
        _make(SHORT, Path(folder), 1)


def _engraved_elsewhere() -> None:
    """The same notes, symbols and figures through the reference engraver, one process."""
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "book.ly"
        source.write_text(_ly_book(), "utf-8")
        command = [str(lilypond.executable()), "-s", "-o", str(Path(folder) / "out"), str(source)]
        subprocess.run(command, check=True, capture_output=True)
        assert (Path(folder) / "out.pdf").stat().st_size > 0


@cache
def _ly_book() -> str:
    """The engraver's input, made before it is timed: our own finished notes."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "book.toml"
        file.write_text(SHORT, encoding="utf-8")
        plan = read_book(file)
    scores = []
    for piece in plan.pieces():
        form = unroll(transpose_chart(piece.chart, piece.key))
        asked = Asked(
            analyse(form), level(piece.level), piece.family, piece.entry.seed, None, form.feel,
            form.digest,
        )  # fmt: skip
        scores += [_ly_score(notate(line.sheet)) for line in lines_for(asked, plan.editions)]
    head = f'\\version "2.24.0"\n\\header {{ title = "{plan.title}" tagline = ##f }}\n'
    return head + "\n".join(scores)
