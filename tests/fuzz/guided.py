"""Fuzz one reader, guided by coverage: ``python -m tests.fuzz.guided TARGET SECONDS FOLDER``.

Runs in a process of its own, because the fuzzer ends it. Exits with 0 if nothing was found;
what breaks the reader is left in FOLDER.
"""

import sys
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["changewright"]):
    from tests.fuzz.targets import SEEDS, TARGETS

WORDS = (
    "section repeat vamp ending meter key pickup sign coda melody times title: form: head | % / ~ "
    "<in <scale > F7 Bbm7(b5) N.C. :3/2 <harmony> <root> <kind> <degree> <note> <pitch> <duration> "
    "<backup> <forward> <barline> <ending <repeat <attributes> <divisions> <key> <time> <transpose>"
)


def main(target: str, seconds: str, folder: str) -> None:
    """Fuzz until the time is over or something breaks."""
    seeds = Path(folder) / "seeds"
    seeds.mkdir(parents=True, exist_ok=True)
    for number, content in enumerate(SEEDS[target]()):
        (seeds / str(number)).write_bytes(content)
    words = Path(folder) / "words"
    words.write_text("".join(f'"{word}"\n' for word in WORDS.split()))
    options = [
        f"-max_total_time={seconds}",
        "-timeout=10",
        "-rss_limit_mb=1500",
        "-max_len=6000",
        "-seed=1",
        f"-dict={words}",
        f"-artifact_prefix={folder}/found-",
        str(seeds),
    ]
    atheris.Setup([sys.argv[0], *options], TARGETS[target])
    atheris.Fuzz()


if __name__ == "__main__":
    main(*sys.argv[1:])
