"""``changewright studio``: Shelf, Desk and Stand in the user's own browser."""

from datetime import timedelta
from pathlib import Path
from typing import Annotated

import typer

from changewright.cli.home import HOME, Database, Home
from changewright.errors import InputError

__all__ = ["studio"]


def studio(
    port: Annotated[int, typer.Option(help="The port; 0 for any that is free.")] = 8374,
    host: Annotated[str, typer.Option(help="The address to listen on.")] = "127.0.0.1",
    name: Annotated[
        list[str] | None, typer.Option(help="A further name by which browsers call this machine.")
    ] = None,
    root_url: Annotated[
        str | None, typer.Option(help="The address that links and printed codes begin with.")
    ] = None,
    behind_proxy: Annotated[
        bool, typer.Option("--behind-proxy", help="A reverse proxy on this machine stands before.")
    ] = False,
    tls_cert: Annotated[Path | None, typer.Option(help="A certificate for https, PEM.")] = None,
    tls_key: Annotated[Path | None, typer.Option(help="Its key, PEM.")] = None,
    keep_days: Annotated[int, typer.Option(help="How long recordings are kept.")] = 365,
    no_open: Annotated[bool, typer.Option("--no-open", help="Don't open a browser.")] = False,
    set_password: Annotated[
        bool, typer.Option("--set-password", help="Ask for the teacher's password, and stop.")
    ] = False,
    home: Home = HOME,
    database: Database = None,
) -> None:
    """Open the studio: charts, lessons, and a stand that listens.

    It listens to this machine alone unless --host or --behind-proxy says otherwise; then it asks
    for a password.
    """
    from changewright.studio.door import set_password as keep_password
    from changewright.studio.serve import FOLDER, Reach, serve

    if set_password:
        told = typer.prompt("Password", hide_input=True, confirmation_prompt=True)
        keep_password(home.expanduser() / FOLDER, told)
        typer.echo("Kept.")
        return
    if not 1 <= keep_days <= 3650:
        raise InputError(f"can't keep recordings for {keep_days} days", remedy="Choose 1 to 3650.")
    reach = Reach(host, port, tuple(name or ()), root_url, behind_proxy, tls_cert, tls_key)
    serve(
        home.expanduser(),
        reach,
        database=database,
        keep_for=timedelta(days=keep_days),
        opens=not no_open,
        on_ready=_say,
    )


def _say(address: str) -> None:
    typer.echo(f"The studio is open at {address}\nStop it with Ctrl-C.")
