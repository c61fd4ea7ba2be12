"""``changewright studio``: Shelf, Desk and Stand in the user's own browser."""

from pathlib import Path
from typing import Annotated

import typer

from changewright.errors import InputError

__all__ = ["studio"]


def studio(
    port: Annotated[int, typer.Option(help="The port; 0 for any that is free.")] = 8374,
    host: Annotated[str, typer.Option(help="The address to listen on.")] = "127.0.0.1",
    name: Annotated[
        list[str] | None, typer.Option(help="A further name by which browsers call this machine.")
    ] = None,
    no_open: Annotated[bool, typer.Option("--no-open", help="Don't open a browser.")] = False,
    data: Annotated[Path, typer.Option(help="The folder for charts, lessons, takes.")] = Path(
        "studio"
    ),
    set_password: Annotated[
        bool, typer.Option("--set-password", help="Ask for the teacher's password, and stop.")
    ] = False,
) -> None:
    """Open the studio: charts, lessons, and a stand that listens.

    It listens to this machine alone unless --host says otherwise; then it asks for a password.
    """
    from changewright.studio.door import set_password as keep_password
    from changewright.studio.serve import serve

    if set_password:
        keep_password(data, typer.prompt("Password", hide_input=True, confirmation_prompt=True))
        typer.echo("Kept.")
        return
    if not 0 <= port <= 65535:
        raise InputError(f"there is no port {port}", remedy="Choose one from 1024 to 65535.")
    serve(data, host=host, port=port, names=tuple(name or ()), opens=not no_open, on_ready=_say)


def _say(address: str) -> None:
    typer.echo(f"The studio is open at {address}\nStop it with Ctrl-C.")
