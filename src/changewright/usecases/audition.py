"""Hear a chart, or a feel over one: the band plays it once, as a count-in and one chorus."""

from math import prod, sqrt
from pathlib import Path
from tempfile import TemporaryDirectory

from changewright.band.accompany import accompany
from changewright.band.feel import feel as feel_named
from changewright.music.performance import Performance
from changewright.reading.analyse import analyse
from changewright.usecases.charts import open_form
from changewright.usecases.stems import stem_shelf, stems_into

__all__ = ["write_audition"]

_LEVEL = 4  # the band's usual way of playing: neither bare nor busy
_SEED = 1


def write_audition(chart: str, target: Path, feel: str | None = None) -> None:
    """Sound a chart by a file or a name of the shelf and write the mix to ``target``, a FLAC file.

    A ``feel`` other than the chart's own is played in the middle of the tempi that it is meant
    for. Raises an :class:`InputError` for a chart that can't be read, or an unknown feel.
    """
    form = open_form(chart)
    bpm = form.tempo_bpm if feel is None else round(sqrt(prod(feel_named(feel).tempo)))
    band = accompany(
        analyse(form),
        bpm=bpm,
        feel=feel or form.feel,
        seed=_SEED,
        level=_LEVEL,
        count_in_bars=1,
    )
    performance = Performance(band.parts, band.length_s)
    target.parent.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory(prefix=".audition-", dir=target.parent) as making:
        stems, _ = stems_into(Path(making), performance, stem_shelf())
        stems[-1].replace(target)
