"""Serve the studio from this machine."""

import asyncio
import signal
import socket
import sys
import threading
import webbrowser
from collections.abc import Callable
from ipaddress import ip_address
from pathlib import Path

from changewright.errors import InputError
from changewright.studio.door import Door

__all__ = ["bind", "is_local", "serve"]


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


def serve(
    folder: Path,
    *,
    host: str = "127.0.0.1",
    port: int = 8374,
    names: tuple[str, ...] = (),
    opens: bool = True,
    on_ready: Callable[[str], None] = lambda _: None,
) -> None:
    """Serve until interrupted.

    An address that other machines can reach asks for a password first and raises
    :class:`InputError` without one; ``names`` are further names by which the studio is called.
    """
    import uvicorn

    from changewright.studio.app import LOCAL, make_app

    door = None if is_local(host) else Door(folder)
    folder.mkdir(parents=True, exist_ok=True)
    listening = bind(host, port)
    at = f"http://{f'[{host}]' if ':' in host else host}:{listening.getsockname()[1]}/"
    app = make_app(folder, hosts=(*LOCAL, host, *names), door=door)
    config = uvicorn.Config(
        app, log_level="warning", server_header=False, proxy_headers=False, date_header=True
    )
    server = uvicorn.Server(config)
    on_ready(at)
    if opens:
        threading.Timer(0.7, webbrowser.open, [at]).start()
    # PITFALL: a signal that the server passes on would end us before the ear's process is let go.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    with listening:
        asyncio.run(server.serve(sockets=[listening]))
