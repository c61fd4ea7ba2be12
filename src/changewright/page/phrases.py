"""Sentences that come in English, in the page's language, by its table of sentences and pieces.

A sentence of the table may have places: ``Play {play}, rest {rest}.`` What stands in a place is put
together from pieces, which may hold numbers (``bar {n}``) and notes (``{note} flat``).
"""

import re
from collections.abc import Callable, Mapping
from functools import cache

from changewright.page.language import language

__all__ = ["aloud_in", "instruction_in", "unknown_sentences"]

_PLACE = re.compile(r"\\\{(\w+)\\\}")
_KINDS = {"n": r"\d+", "list": r"(?:\d+, )*\d+ and \d+", "note": "[A-G]"}


def instruction_in(text: str, code: str) -> str:
    """The instruction of an exercise, sentence by sentence; one that the table lacks, such as
    a teacher's own, stays as it came."""
    return " ".join(_sentence(one, code) or one for one in _sentences(text))


def unknown_sentences(text: str, code: str) -> list[str]:
    """The sentences of an instruction that the table lacks."""
    if not language(code).tables["instructions"]:
        return []  # the language that they come in
    return [one for one in _sentences(text) if _sentence(one, code) is None]


def aloud_in(text: str, code: str) -> str:
    """An alternative text, piece by piece."""
    return _pieces(code, "aloud")(text)


def _sentences(text: str) -> list[str]:
    return re.split(r"(?<=\.) ", text) if text else []


def _sentence(text: str, code: str) -> str | None:
    known = language(code).tables["instructions"]
    if text in known:
        return known[text]
    piece = _pieces(code, "pieces")
    for pattern, said in _patterns(code):
        found = pattern.fullmatch(text)
        if found:
            return said.format(**{name: piece(part) for name, part in found.groupdict().items()})
    return None


@cache
def _patterns(code: str) -> tuple[tuple[re.Pattern[str], str], ...]:
    """Sentences with places, those that say most first."""
    known = language(code).tables["instructions"]
    ranked = sorted((text for text in known if "{" in text), key=len, reverse=True)
    return tuple(
        (re.compile(_PLACE.sub(r"(?P<\1>.+)", re.escape(text))), known[text]) for text in ranked
    )


@cache
def _pieces(code: str, table: str) -> Callable[[str], str]:
    """Puts a text into the language, its longest pieces first."""
    known: Mapping[str, str] = language(code).tables[table]
    if not known:
        return str
    ranked = sorted(known, key=len, reverse=True)
    parts = [re.compile(rf"(?<!\w){_piece(text)}(?!\w)") for text in ranked]
    whole = re.compile("|".join(f"(?:{_unnamed(part.pattern)})" for part in parts))

    def one(found: re.Match[str]) -> str:
        for part, text in zip(parts, ranked, strict=True):
            match = part.fullmatch(found[0])
            if match:
                inside = {name: whole.sub(one, told) for name, told in match.groupdict().items()}
                return known[text].format(**inside)
        return found[0]

    return lambda text: whole.sub(one, text)


def _piece(text: str) -> str:
    return _PLACE.sub(lambda m: f"(?P<{m[1]}>{_KINDS[m[1].rstrip('0123456789')]})", re.escape(text))


def _unnamed(pattern: str) -> str:
    return re.sub(r"\(\?P<\w+>", "(?:", pattern)
