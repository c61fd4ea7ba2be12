"""Agreement with expert annotators. Source: Granroth-Wilding and Steedman's annotated jazz corpus
(development test data; not in the project, so skipped where it isn't at hand)."""

import subprocess
import sys
from pathlib import Path

import pytest
from benchmarks.harmony import (
    DEFAULT,
    Answer,
    Reader,
    Sequence,
    agreement,
    by_degree,
    by_resolution,
    ours,
    sequences,
)

TUNES = sequences()
SCORER = DEFAULT.with_name("score_harmony.py")

pytestmark = pytest.mark.skipif(not TUNES, reason="the annotated sequences aren't at hand")


def part(name: str) -> tuple[Sequence, ...]:
    return tuple(tune for tune in TUNES if tune.part == name)


@pytest.mark.parametrize(
    ("name", "key_known", "least"),
    [("dev", False, 0.95), ("dev", True, 0.96), ("test", False, 0.86), ("test", True, 0.88)],
)
def test_tonic_and_function_are_both_right(name: str, key_known: bool, least: float) -> None:
    assert agreement(ours, part(name), key_known).both >= least


def test_blues_is_read_no_worse_than_the_rest() -> None:
    blues = tuple(tune for tune in TUNES if tune.is_blues)
    rest = tuple(tune for tune in TUNES if not tune.is_blues)
    assert agreement(ours, blues, False).both >= agreement(ours, rest, False).both - 0.01


def test_home_is_found() -> None:
    wrong = [tune.name for tune in TUNES if ours(tune, False)[0] != 0]
    assert len(wrong) <= 1


@pytest.mark.parametrize("reader", [by_degree, by_resolution])
def test_naive_readers_are_beaten_on_both_parts(reader: Reader) -> None:
    for name in ("dev", "test"):
        we, they = (agreement(r, part(name), True).both for r in (ours, reader))
        assert we > they + 0.08


@pytest.mark.skipif(not SCORER.exists(), reason="the published scorer isn't at hand")
def test_agreement_is_what_the_scorer_says(tmp_path: Path) -> None:
    """The corpus's own scorer on the same answers gives the same figures."""
    answers: list[tuple[str, int, Answer]] = [
        (tune.name, i, answer) for tune in TUNES for i, answer in enumerate(ours(tune, False)[1])
    ]
    lines = ["seq\ti\tlocal_tonic\tfunction"]
    lines += [f"{name}\t{i}\t{tonic}\t{function}" for name, i, (tonic, function) in answers]
    predicted = tmp_path / "predicted.tsv"
    predicted.write_text("\n".join(lines) + "\n", encoding="utf-8")
    command = [sys.executable, str(SCORER), str(DEFAULT), str(predicted)]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    assert f"both {agreement(ours, TUNES, False).both:.4f}" in said
