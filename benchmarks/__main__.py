"""Run every ``bench_*.py`` (or those named), print the figures, write ``latest.json``.

Each bench module has ``figures() -> Iterable[Figure]``.
"""

import importlib
import json
import platform
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from benchmarks.figure import Figure

HERE = Path(__file__).parent


def main(wanted: Sequence[str]) -> None:
    """Run the benches named, or all of them in order of name."""
    names = list(wanted) or sorted(p.stem.removeprefix("bench_") for p in HERE.glob("bench_*.py"))
    taken: list[Figure] = []
    for name in names:
        for figure in importlib.import_module(f"benchmarks.bench_{name}").figures():
            print(figure, flush=True)
            taken.append(figure)
    report = {
        "python": platform.python_version(),
        "machine": platform.machine(),
        "figures": [asdict(figure) for figure in taken],
    }
    (HERE / "latest.json").write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")


main(sys.argv[1:])
