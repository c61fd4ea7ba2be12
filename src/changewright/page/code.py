"""A code to scan that opens an exercise in the studio.

The code is drawn as one path, so that it prints sharp at any size.
"""

from collections.abc import Iterable
from urllib.parse import quote, urlsplit

from changewright.errors import InputError

__all__ = ["code_svg", "exercise_link"]

_LONGEST = 200
_QUIET = 4  # modules of white around a code. Source: ISO/IEC 18004


def exercise_link(studio: str, label: str) -> str:
    """The address of an exercise in the studio at ``studio``, by the exercise's label.

    >>> exercise_link("https://studio.example/", "root-up/L1/F#/7-3fa9c2")
    'https://studio.example/exercise/root-up/L1/F%23/7-3fa9c2'

    Raises :class:`InputError` for what is no address of a studio.
    """
    base = studio.strip().rstrip("/")
    if not _is_address(base):
        raise InputError(
            f"{studio[:_LONGEST]!r} is no address of a studio",
            remedy="Write it as the browser shows it, such as https://studio.example.",
        )
    return f"{base}/exercise/{quote(label, safe='/')}"


def _is_address(base: str) -> bool:
    try:
        parts = urlsplit(base)
        has_host = bool(parts.hostname) and parts.port != 0
    except ValueError:
        return False
    plain = len(base) <= _LONGEST and base.isascii() and base.isprintable() and " " not in base
    return (
        parts.scheme in ("http", "https")
        and has_host
        and plain
        and not parts.query + parts.fragment
    )


def code_svg(link: str) -> str:
    """Draw a link as a QR code with its quiet zone. Source: ISO/IEC 18004, error correction M."""
    import segno

    code = segno.make_qr(link, error="m", boost_error=False)
    path = "".join(_row(y, row) for y, row in enumerate(code.matrix_iter(border=_QUIET)))
    size = code.symbol_size(border=_QUIET)[0]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}">'
        f'<path d="{path}"/></svg>'
    )


def _row(y: int, modules: Iterable[int]) -> str:
    """The dark runs of one row of modules."""
    dark = "".join("#" if module else " " for module in modules)
    runs = []
    at = 0
    for run in dark.split():
        x = dark.index(run, at)
        at = x + len(run)
        runs.append(f"M{x} {y}h{len(run)}v1h-{len(run)}z")
    return "".join(runs)
