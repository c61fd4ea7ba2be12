"""``changewright band``: a chart in, a rhythm section to practise with out."""

from pathlib import Path
from typing import Annotated

import typer

from changewright.cli.options import Cache, Fresh, Instruments, one_of
from changewright.cli.speak import console, print_json
from changewright.errors import InputError, UnknownName
from changewright.music.document import Document

__all__ = ["band", "print_band"]


def band(
    chart: Annotated[str, typer.Argument(help="A chart file, or a chart of the shelf by name.")],
    output: Annotated[Path, typer.Option("--output", "-o", help="The folder.")] = Path("band"),
    key: Annotated[str | None, typer.Option(help="Concert key; the chart's own if none.")] = None,
    feel: Annotated[str | None, typer.Option(help="The chart's own if none.")] = None,
    tempo: Annotated[float | None, typer.Option(help="Quarters a minute.")] = None,
    choruses: Annotated[int | None, typer.Option(help="How many; three if not told.")] = None,
    level: Annotated[int, typer.Option(help="1 to 8: below 3 the band plays plainly.")] = 4,
    seed: Annotated[int, typer.Option(help="Another seed, another performance.")] = 1,
    swing: Annotated[float, typer.Option(help="0 even, 1 as professionals play, to 1.5.")] = 1.0,
    count_in: Annotated[
        str, typer.Option("--count-in", help="clicked, spoken or none.")
    ] = "clicked",
    bars: Annotated[
        str | None, typer.Option(help="Only these bars, round and round, like 5-8.")
    ] = None,
    times: Annotated[int | None, typer.Option(help="How often the bars are played.")] = None,
    intro: Annotated[
        str | None,
        typer.Option(help="4 for the last four bars, vamp, or drums; with bars: drums:8."),
    ] = None,
    tag: Annotated[int, typer.Option(help="Play that many last bars twice more to end.")] = 0,
    ending: Annotated[
        str | None, typer.Option(help="stop on the one, held, or none, back to the top.")
    ] = None,
    trade: Annotated[
        int | None, typer.Option(help="A model line for that many bars, then as many open.")
    ] = None,
    instrument: Annotated[
        str | None, typer.Option("--for", help="The instrument of the model line.")
    ] = None,
    instruments: Instruments = None,
    only: Annotated[
        str | None, typer.Option(help="Those who play: bass, comping, drums, with commas.")
    ] = None,
    click: Annotated[bool, typer.Option("--click", help="A click on 2 and 4.")] = False,
    ladder: Annotated[
        str | None, typer.Option(help="start:stop:step:choruses, like 80:140:6:2.")
    ] = None,
    keys: Annotated[
        str | None, typer.Option(help="Another key each time round: up by P4, M2, m3 ...")
    ] = None,
    audio_format: Annotated[str, typer.Option("--format", help="flac, wav or ogg.")] = "flac",
    soundfont: Annotated[
        Path | None, typer.Option(help="A SoundFont of your own, through FluidSynth.")
    ] = None,
    cache: Cache = None,
    fresh: Fresh = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the manifest.")] = False,
) -> None:
    """Play a chart as a rhythm section and write it down: stems, mix, MIDI, parts to read."""
    from changewright.band.intro import read_intro
    from changewright.band.song import ENDINGS
    from changewright.theory.pitch import Interval
    from changewright.usecases.band import plan_band
    from changewright.usecases.band_folder import write_band
    from changewright.usecases.band_request import COUNT_INS, BandRequest, read_bars, read_ladder
    from changewright.usecases.stems import stem_shelf

    if count_in not in COUNT_INS:
        raise UnknownName("count-in", count_in, COUNT_INS)
    try:
        move = None if keys is None else Interval.parse(keys)
    except ValueError as fault:
        raise InputError(str(fault), remedy="Up by fourths is P4, by tones M2.") from None
    request = BandRequest(
        chart=chart,
        key=key,
        feel=feel,
        tempo_bpm=tempo,
        level=level,
        seed=seed,
        swing=swing,
        choruses=choruses,
        count_in=count_in,
        bars=None if bars is None else read_bars(bars),
        times=times,
        intro=None if intro is None else read_intro(intro),
        tag=tag,
        ending=None if ending is None else one_of("ending", ending, ENDINGS),
        keys=move,
        ladder=None if ladder is None else read_ladder(ladder),
        trade=trade,
        instrument=instrument,
        instruments=instruments,
        players=tuple(only.replace(" ", "").split(",")) if only else (),
        click=click,
    )
    manifest = write_band(
        plan_band(request),
        output,
        format=audio_format,
        soundfont=soundfont,
        shelf=None if fresh else stem_shelf(cache),
    )
    if as_json:
        print_json(manifest)
    else:
        print_band(manifest, output)


def print_band(manifest: Document, folder: Path) -> None:
    """Say what is played, tempo by tempo, and where it lies."""
    out = console()
    minutes, seconds = divmod(round(manifest["length_s"]), 60)
    out.print(
        f"{manifest['title']}: {manifest['feel']}, level {manifest['level']}, seed "
        f"{manifest['seed']}, {minutes}:{seconds:02d}, {manifest['loudness_lufs']:.1f} LUFS",
        markup=False,
    )
    for rung in manifest["rungs"]:
        keys = list(dict.fromkeys(one["key"] for one in rung["rounds"]))
        clock = divmod(round(rung["start_s"]), 60)
        out.print(
            f"  {clock[0]}:{clock[1]:02d}  {rung['bpm']:g} a minute, {_times(len(rung['rounds']))} "
            f"round, {', '.join(keys)}"
            + (f", {_times(len(rung['open']))} your turn" if rung["open"] else ""),
            markup=False,
        )
    mix = folder / manifest["files"]["mix"]
    out.print(f"Written to {folder}: play {mix}", markup=False, soft_wrap=True)
    out.print(manifest["caution"], markup=False)


def _times(count: int) -> str:
    return "once" if count == 1 else "twice" if count == 2 else f"{count} times"
