"""Fifty Stands at once on loopback: how long pages and verdicts take while takes are judged.

A studio is served by its own verb in a process of its own. Fifty players open the Stand, its music
and its stems at the same moment, send a second of sound in pieces of a take, and a few send a whole
take to be heard; meanwhile the teacher looks at the Desk. Latencies are wall-clock, of the machine
as it is; two cores serve everything, those who ask included. A verdict that the page no longer
waits for counts as ``verdict_later``.
"""

import asyncio
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from secrets import token_hex
from statistics import median, quantiles
from tempfile import TemporaryDirectory
from typing import Any

from benchmarks.figure import Figure

__all__ = ["SAME_ORIGIN", "asked_lesson", "figures", "studio_at"]

STANDS = 50
TAKES = 6
"""How many of them send a whole take: each costs seconds of a core, and the bench is bounded."""
_RUN = "from changewright.cli.main import main; main()"
SAME_ORIGIN = {"sec-fetch-site": "same-origin"}
_LONGEST_S = 240.0
_STEMS = ("count-in", "drums", "bass", "comping")

Times = dict[str, list[float]]


def figures() -> Iterable[Figure]:
    """Medians and 95th percentiles by what was asked for, and how many failed."""
    with TemporaryDirectory(prefix="stands-") as home, studio_at(Path(home)) as address:
        times, failed = asyncio.run(_class(address))
    for name, taken in times.items():
        yield Figure(f"studio.{name}_p50_ms", median(taken) * 1000, "ms")
        most = quantiles(taken, n=20)[-1] if len(taken) > 1 else taken[0]
        yield Figure(f"studio.{name}_p95_ms", most * 1000, "ms")
    yield Figure("studio.requests_failed", failed, f"of {sum(map(len, times.values())) + failed}")


@contextmanager
def studio_at(home: Path) -> Iterator[str]:
    """The address of a studio over a folder, served by its verb in a process of its own."""
    command = [sys.executable, "-c", _RUN, "studio", "--port", "0", "--no-open"]
    with subprocess.Popen(
        [*command, "--home", str(home)], stdout=subprocess.PIPE, text=True
    ) as served:
        assert served.stdout is not None
        try:
            yield served.stdout.readline().split()[-1].rstrip("/")
        finally:
            served.terminate()


async def _class(address: str) -> tuple[Times, int]:
    import httpx2

    times: Times = {}
    failed = 0
    limits = httpx2.Limits(max_connections=2 * STANDS)
    async with httpx2.AsyncClient(base_url=address, timeout=_LONGEST_S, limits=limits) as client:

        async def ask(name: str, method: str, path: str, sound: bytes | None = None) -> None:
            nonlocal failed
            start = time.perf_counter()
            answer = await client.request(method, path, content=sound, headers=SAME_ORIGIN)
            if answer.status_code >= 400:
                failed += 1
            else:
                told = "verdict_later" if answer.status_code == 202 else name
                times.setdefault(told, []).append(time.perf_counter() - start)

        async def stand(number: int) -> None:
            await ask("stand", "GET", at)
            await ask("music", "GET", f"{at}/systems?bars={2 + number % 3}")
            for stem in _STEMS:
                await ask("stem", "GET", f"{at}/stems/{stem}")
            if number < TAKES:
                await ask("verdict", "POST", f"{at}/takes?key={token_hex(16)}", take)
            else:
                piece = f"{at}/takes/{token_hex(16)}/pieces/0?rate=48000"
                await ask("piece", "PUT", piece, bytes(96_000))

        async def teacher() -> None:
            for _ in range(10):
                await ask("desk", "GET", "/")
                await asyncio.sleep(0.5)

        at = await asked_lesson(client)
        take = await _model_line(client, at)
        await asyncio.gather(teacher(), *map(stand, range(STANDS)))
    return times, failed


async def asked_lesson(client: Any, **told: str) -> str:
    """A player, his consent and a lesson of what is told; the address of its first Stand."""
    who = {"nickname": "Clarinet, Thursday", "instrument": "clarinet", "age_band": "adult"}
    answer = await client.post("/players", data={**who, "day": ["0", "2"]}, headers=SAME_ORIGIN)
    player = answer.headers["location"]
    await client.post(f"{player}/consent", data={"given_by": "the player"}, headers=SAME_ORIGIN)
    wanted = {"chart": "quayside-blues@0", "family": "root-up", **told, "player": player[9:]}
    answer = await client.post("/lessons", data=wanted, headers=SAME_ORIGIN)
    lesson = answer.headers["location"]
    until = time.monotonic() + _LONGEST_S
    while (await client.get(f"{lesson}/state")).json()["state"] != "made":
        if time.monotonic() > until:
            raise TimeoutError("the lesson was not made in time")
        await asyncio.sleep(0.2)
    return f"{lesson}/1"


async def _model_line(client: Any, at: str) -> bytes:
    """A take without a fault: the studio's own model line."""
    return bytes((await client.get(f"{at}/stems/line")).content)
