"""Serve the studio from this machine."""

import asyncio
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

from changewright.errors import InputError
from changewright.page.code import exercise_link
from changewright.studio.door import Door
from changewright.usecases.roster import KEPT_FOR, roster

__all__ = ["FOLDER", "LOCAL", "Reach", "bind", "checked", "is_local", "serve"]

FOLDER = "studio"
"""Where in the home folder charts, lessons and the password lie."""

LOCAL = ("127.0.0.1", "localhost", "::1")
"""The names by which a machine calls itself."""


def is_local(host: str) -> bool:
    """Whether only this machine can reach an address; a name other than localhost counts as not."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def bind(host: str, port: int) -> socket.socket:
    """A socket that listens; raises :class:`InputError` where that can't be had."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((host, port))
        listening.listen(128)  # who comes before the server is awake waits, and isn't refused
    except OSError as fault:
        listening.close()
        raise InputError(
            f"can't listen on {host}, port {port}: {fault.strerror or fault}",
            remedy="Choose another port with --port, or 0 for any that is free.",
        ) from fault
    return listening


@dataclass(frozen=True, slots=True)
class Reach:
    """How others reach a studio.

    ``names`` are further names by which it is called. ``root_url`` is the address that links and
    printed codes begin with, None for the one that a browser used. ``behind_proxy`` says that a
    reverse proxy on this machine passes requests on and tells by ``X-Forwarded-For`` and
    ``X-Forwarded-Proto`` who asked and how. ``certificate`` and ``key`` are PEM files for https.
    """

    host: str = "127.0.0.1"
    port: int = 8374
    names: tuple[str, ...] = ()
    root_url: str | None = None
    behind_proxy: bool = False
    certificate: Path | None = None
    key: Path | None = None

    @property
    def is_open(self) -> bool:
        """Whether anybody but this machine can come in, and a password is needed."""
        return self.behind_proxy or not is_local(self.host)

    @property
    def hosts(self) -> tuple[str, ...]:
        """The names by which it may be called."""
        told = urlsplit(self.root_url).hostname if self.root_url else None
        return (*LOCAL, self.host, *self.names, *([told] if told else ()))


def checked(reach: Reach) -> Reach:
    """A reach that can be had; raises :class:`InputError`."""
    if not 0 <= reach.port <= 65535:
        raise InputError(f"there is no port {reach.port}", remedy="Choose one from 1024 to 65535.")
    if reach.root_url is not None:
        exercise_link(reach.root_url, "x")  # refuses what is no address
    if (reach.certificate is None) != (reach.key is None):
        raise InputError(
            "https needs a certificate and its key", remedy="Name both --tls-cert and --tls-key."
        )
    for path in (reach.certificate, reach.key):
        if path is not None and not path.is_file():
            raise InputError(f"there is no file {path.name}", remedy="Name a PEM file.")
    return reach


def serve(
    home: Path,
    reach: Reach,
    *,
    database: str | None = None,
    keep_for: timedelta = KEPT_FOR,
    opens: bool = True,
    on_ready: Callable[[str], None] = lambda _: None,
) -> None:
    """Serve the studio of a home folder until interrupted.

    Where others can reach it, it asks for a password first and raises :class:`InputError` without
    one.
    """
    import uvicorn

    from changewright.studio.app import make_app

    reach = checked(reach)
    folder = home / FOLDER
    door = Door(folder) if reach.is_open else None
    folder.mkdir(parents=True, exist_ok=True)
    store = roster(home, lambda: datetime.now(UTC), database=database, session="studio")
    listening = bind(reach.host, reach.port)
    shown = f"[{reach.host}]" if ":" in reach.host else reach.host
    scheme = "http" if reach.certificate is None else "https"
    at = f"{scheme}://{shown}:{listening.getsockname()[1]}/"
    root_url = reach.root_url.rstrip("/") if reach.root_url else None
    app = make_app(
        folder, hosts=reach.hosts, door=door, store=store, root_url=root_url, keep_for=keep_for
    )
    config = uvicorn.Config(
        app,
        log_level="warning",
        server_header=False,
        date_header=True,
        proxy_headers=reach.behind_proxy,
        forwarded_allow_ips="127.0.0.1,::1" if reach.behind_proxy else "",
        ssl_certfile=reach.certificate,
        ssl_keyfile=reach.key,
    )
    server = uvicorn.Server(config)
    on_ready(at)
    if opens:
        threading.Timer(0.7, webbrowser.open, [at]).start()
    # PITFALL: a signal that the server passes on would end us before its processes are let go.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    with listening:
        asyncio.run(server.serve(sockets=[listening]))
