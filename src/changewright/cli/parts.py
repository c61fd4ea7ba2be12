"""``changewright parts``: the same exercises for a mixed group, one part a reader."""

from pathlib import Path
from typing import Annotated

import typer

from changewright.cli.options import Instruments, OwnLevel, one_of
from changewright.cli.speak import console, print_json

__all__ = ["parts"]


def parts(
    chart: Annotated[str, typer.Argument(help="A chart file, or a chart of the shelf by name.")],
    readers: Annotated[
        list[str],
        typer.Option(
            "--for",
            help="An instrument, or C treble, C bass, B-flat, E-flat, F; give it more than once.",
        ),
    ],
    level: Annotated[int, typer.Option(help="The curriculum's level, 1 to 8.")] = 1,
    key: Annotated[str | None, typer.Option(help="Concert key; the chart's own if none.")] = None,
    seed: Annotated[int, typer.Option(help="Another seed, other exercises.")] = 1,
    output: Annotated[Path, typer.Option("--output", "-o", help="The folder.")] = Path("parts"),
    tempo: Annotated[int | None, typer.Option(help="Quarters a minute.")] = None,
    family: Annotated[
        list[str] | None, typer.Option(help="A family of exercises; give it more than once.")
    ] = None,
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    look: Annotated[str, typer.Option(help="plain or handwritten.")] = "plain",
    chords: Annotated[
        str, typer.Option(help="Chord symbols: symbolic, abbreviated or plain letters.")
    ] = "abbreviated",
    instruments: Instruments = None,
    own_level: OwnLevel = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """Write the same exercises out for a mixed group: same bars, same numbers, sounding together.

    Each part moves by whole octaves to where it lies well; proof.txt says how.
    """
    from changewright.page import LOOKS, PAPERS
    from changewright.theory.symbols import STYLES
    from changewright.usecases.parts import PartsRequest, plan_parts
    from changewright.usecases.parts_folder import PROOF, proof_lines, write_parts

    request = PartsRequest(
        chart=chart,
        readers=tuple(readers),
        level=level,
        key=key,
        seed=seed,
        tempo_bpm=tempo,
        families=tuple(family or ()),
        paper=one_of("paper", paper, PAPERS),
        look=one_of("look", look, LOOKS),
        chords=one_of("style of chord symbols", chords, STYLES),
        instruments=instruments,
        own_level=own_level,
    )
    document = write_parts(plan_parts(request), output)
    if as_json:
        print_json(document)
        return
    for line in proof_lines(document):
        console().print(line, markup=False, soft_wrap=True)
    console().print(
        f"\nWritten to {output}, with this list as {PROOF}.", markup=False, soft_wrap=True
    )
