"""Hear a chart: the band plays it once, as a count-in and one chorus."""

from pathlib import Path
from tempfile import TemporaryDirectory

from changewright.band.accompany import accompany
from changewright.music.performance import Performance
from changewright.reading.analyse import analyse
from changewright.usecases.charts import open_form
from changewright.usecases.stems import stem_shelf, stems_into

__all__ = ["write_audition"]

_LEVEL = 4  # the band's usual way of playing: neither bare nor busy
_SEED = 1


def write_audition(chart: str, target: Path) -> None:
    """Sound a chart by a file or a name of the shelf and write the mix to ``target``, a FLAC file.

    Raises an :class:`InputError` for a chart that can't be read.
    """
    form = open_form(chart)
    band = accompany(
        analyse(form),
        bpm=form.tempo_bpm,
        feel=form.feel,
        seed=_SEED,
        level=_LEVEL,
        count_in_bars=1,
    )
    performance = Performance(band.parts, band.length_s)
    target.parent.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory(prefix=".audition-", dir=target.parent) as making:
        stems, _ = stems_into(Path(making), performance, stem_shelf())
        stems[-1].replace(target)
