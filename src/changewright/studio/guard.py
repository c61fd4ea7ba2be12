"""What stands before every page: whose host, whose form, how large, and what a page may load.

Sources: Content Security Policy Level 3; Fetch Metadata Request Headers (W3C); OWASP cheat sheet
on cross-site request forgery; DNS rebinding is kept out by the list of hosts.
"""

from collections.abc import Callable, Collection
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["HEADERS", "MOST_BYTES", "Guard", "TooLarge"]

HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self' data:; font-src 'self'; connect-src 'self'; media-src 'self' blob:; "
    "manifest-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-embedder-policy": "require-corp",  # so that the recorder may share memory
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "microphone=(self), camera=(), geolocation=()",
    "x-frame-options": "DENY",
}
"""Sent with every answer."""

MOST_BYTES = 40_000_000
"""The largest request: a take of six minutes at 48 kHz in 16 bits, and some air."""

_SAFE = ("GET", "HEAD", "OPTIONS")


class TooLarge(Exception):
    """More was sent than a request may hold."""


class Guard:
    """An ASGI application around the studio that turns away what should not come in.

    ``hosts`` are the host names (without a port) by which the studio may be called; ``admits``
    tells from a request's scope whether its sender may see anything but the door, ``changes`` from
    its address whether it may change something again so soon.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        hosts: Collection[str],
        admits: Callable[[Scope], bool] = lambda _: True,
        most_bytes: int = MOST_BYTES,
        changes: Callable[[str], bool] = lambda _: True,
    ) -> None:
        self._app = app
        self._hosts = frozenset(hosts)
        self._admits = admits
        self._most = most_bytes
        self._changes = changes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request pass, or say why not."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        answer = self._refusal(scope)
        if answer is not None:
            await answer(scope, receive, _with_headers(send))
            return
        await self._pass(scope, receive, _with_headers(send))

    def _refusal(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        if _host_name(headers.get("host", "")) not in self._hosts:
            return PlainTextResponse("This studio isn't called by that name.", 400)
        if scope["method"] not in _SAFE and not _is_same_origin(headers):
            return PlainTextResponse("This came from another site and was refused.", 403)
        sender = (scope.get("client") or ("",))[0]
        if scope["method"] not in _SAFE and not self._changes(sender):
            return PlainTextResponse("Too often. Wait a minute.", 429)
        if _told_length(headers) > self._most:
            return _too_large(self._most)
        if not self._admits(scope):
            if scope["method"] in ("GET", "HEAD"):
                return RedirectResponse("/login", 303)
            return PlainTextResponse("Log in first.", 401)
        return None

    async def _pass(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Count what comes in chunks; beyond the limit the request is dropped, whatever it said.

        PITFALL: what stands between here and the page would make a 500 of it first.
        """
        got, started = 0, False

        async def counted() -> Message:
            nonlocal got
            message = await receive()
            got += len(message.get("body", b""))
            if got > self._most:
                raise TooLarge
            return message

        async def watched(message: Message) -> None:
            nonlocal started
            if started or got <= self._most:
                started = True
                await send(message)

        try:
            await self._app(scope, counted, watched)
        except TooLarge:
            if not started:
                await _too_large(self._most)(scope, receive, send)


def _with_headers(send: Send) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return guarded


def _too_large(most: int) -> Response:
    return PlainTextResponse(f"That is more than {most // 1_000_000} MB.", 413)


def _told_length(headers: Headers) -> int:
    told = headers.get("content-length", "0")
    return int(told) if told.isdecimal() and len(told) < 16 else MOST_BYTES**2


def _is_same_origin(headers: Headers) -> bool:
    """A form of ours. PITFALL: a browser without Fetch Metadata still tells the origin; who tells
    neither is no browser of today, and can send the header if he means well."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site == "same-origin"
    origin = headers.get("origin", "")
    return bool(origin) and urlsplit(origin).netloc == headers.get("host")


def _host_name(host: str) -> str:
    """The name without its port, an IPv6 address without its brackets."""
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.rpartition(":")[0] if ":" in host else host
