"""Quotation marks and apostrophes as a printer sets them, from those of a keyboard."""

import re

__all__ = ["curly"]

# A word or a year that has lost its head: 'round midnight, the '60s. Source: common practice.
_CUT = re.compile(r"(?<!\w)'(?=\d\ds?\b|(?:bout|cause|em|n|round|til|tis|twas)\b)", re.I)
_OPENING = re.compile(r"(?:(?<=^)|(?<=[\s(\[{/\N{EN DASH}\N{EM DASH}‘“]))([\"'])(?=\S)")


def curly(text: str) -> str:
    """English quotation marks and apostrophes.

    >>> curly('The "lazy" tide\\'s turn, \\'round ten')
    'The “lazy” tide’s turn, ’round ten'
    """
    text = _CUT.sub("’", text)
    while True:  # a quotation may open right behind another
        opened = _OPENING.sub(lambda mark: "“" if mark[1] == '"' else "‘", text)
        if opened == text:
            return text.replace('"', "”").replace("'", "’")
        text = opened
