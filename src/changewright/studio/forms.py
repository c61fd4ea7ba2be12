"""What comes in by forms: short texts, whole numbers, days; nothing else gets further."""

from datetime import date

from starlette.datastructures import FormData
from starlette.requests import Request

from changewright.errors import InputError

__all__ = ["day", "form_of", "number", "words"]

_MOST_FIELDS = 80


async def form_of(request: Request) -> FormData:
    """A form without files."""
    return await request.form(max_files=0, max_fields=_MOST_FIELDS, max_part_size=20_000)


def words(form: FormData, name: str, most: int = 80) -> str:
    """A line of text without control signs, cut to ``most`` signs."""
    told = "".join(c if c.isprintable() else " " for c in str(form.get(name, "")))
    return " ".join(told.split())[:most]


def number(text: str, what: str, low: int, high: int) -> int:
    """A whole number; raises :class:`InputError`."""
    plain = text.strip()
    if not (plain.isascii() and plain.isdecimal()) or len(plain) > 6:
        raise InputError(
            f"can't use {what} {text[:20]!r}", remedy=f"Write a whole number, {low} to {high}."
        )
    if not low <= int(plain) <= high:
        raise InputError(f"can't use {what} {plain}", remedy=f"Choose {low} to {high}.")
    return int(plain)


def day(text: str, what: str) -> date:
    """A day as a browser's field gives it; raises :class:`InputError`."""
    try:
        return date.fromisoformat(text.strip()[:10])
    except ValueError as fault:
        raise InputError(
            f"can't read {what} {text[:20]!r}", remedy="Write it as 2026-03-05."
        ) from fault
