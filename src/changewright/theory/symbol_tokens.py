"""Cut a chord symbol into tokens, whatever signs it was typed or printed with.

Look-alikes are folded one character to one, so that a token's column is the column in the text.
Which meaning a hyphen or a plus has depends on where it stands; that is the grammar's business.
"""

import re
from enum import StrEnum
from typing import NamedTuple

from changewright.theory.pitch import Name

__all__ = ["Fault", "Kind", "Token", "fold", "read_root", "tokens_of"]


class Fault(Exception):
    """Where a symbol stops making sense: an offset from 0 and the reason in words."""

    def __init__(self, offset: int, why: str) -> None:
        self.offset = offset
        self.why = why
        super().__init__(why)


class Kind(StrEnum):
    """What a token is."""

    MAJOR = "major"
    MINOR = "minor"
    DIMINISHED = "diminished"
    HALF = "half-diminished"
    AUGMENTED = "augmented"
    DOMINANT = "dominant"
    SUS = "sus"
    ADD = "add"
    OMIT = "omit"
    ALT = "alt"
    NUMBER = "number"
    SIGN = "accidental"
    OPEN = "("
    CLOSE = ")"
    COMMA = ","
    SLASH = "/"


class Token(NamedTuple):
    """One token: its kind, its folded text, and its offset from the start of the symbol."""

    kind: Kind
    text: str
    offset: int


# Source: Unicode names of the signs; U+E870-E874 and U+E260-E264 are SMuFL's chord symbols and
# accidentals (names as used in public code bases).
_LOOK_ALIKES = {
    "b": "♭\ue260",
    "#": "♯＃\ue262",
    "𝄫": "\ue264",
    "𝄪": "×\ue263",
    "♮": "\ue261",
    "Δ": "∆△▵▲⌂⊿𝚫𝛥^\ue873",
    "°": "º˚⁰∘○◦ᵒ\ue870",
    "ø": "Ø⌀∅⦰ɸϕφΦ%\ue871",
    "-": "−–—‐‑‒﹣－⁻¯‾\ue874",
    "+": "＋⁺\ue872",
    "(": "[（［⁽",
    ")": "]）］⁾",
    ",": ";，",
    "/": "／⁄∕",
    "|": "｜¦│∣",
    " ": "\t\xa0\u2002\u2003\u2009\u202f\u3000",
}
_FULL_WIDTH = {chr(0xFF01 + i): chr(0x21 + i) for i in range(0x5E)}
_RAISED = dict(zip("ᵃᵇᵈᵉⁱʲˡᵐⁿˢᵗᵘᴹ", "abdeijlmnstuM", strict=True))
_FOLD = str.maketrans(
    _FULL_WIDTH
    | _RAISED
    | {other: sign for sign, others in _LOOK_ALIKES.items() for other in others}
    | dict(zip("¹²³⁴⁵⁶⁷⁸⁹₁₂₃₄₅₆₇₈₉", "123456789" * 2, strict=True))
)

_TOKEN = re.compile(
    r"""(?P<MAJOR>(?i:major|maj|mj|ma(?!dd|ug|lt))|M(?![Ii])|Δ|j)
      | (?P<MINOR>(?i:minor|min|mi)|m)
      | (?P<HALF>ø|(?i:half-?\ ?dim(?:inished)?\.?|hdim))
      | (?P<OMIT>(?i:omit|subtract|no)\.?)
      | (?P<DOMINANT>(?i:dominant|dom)\.?)
      | (?P<DIMINISHED>°|(?i:diminished|dim)\.?|o|0(?=7|$))
      | (?P<AUGMENTED>(?i:augmented|aug)\.?)
      | (?P<SUS>(?i:suspended|sus)\.?)
      | (?P<ADD>(?i:added|add)\.?)
      | (?P<ALT>(?i:altered|alt)(?!er)\.?)
      | (?P<NUMBER>(?:1[013]|11|[2-79])(?:th|rd|nd)?)
      | (?P<SIGN>[b\#+♮-]|(?i:flat|sharp))
      | (?P<OPEN>\() | (?P<CLOSE>\)) | (?P<COMMA>,|(?i:alter)(?!ed)) | (?P<SLASH>/)
      | (?P<SPACE>\ +)""",
    re.VERBOSE,
)
# PITFALL: a flat before "5," belongs to the fifth: `Gb5,7` is G with b5 and 7, for a power chord
# with a seventh is no chord; and no one builds a power chord on a double flat (`Abb5`).
_ROOT = re.compile(r"[A-G](?:𝄫|𝄪|x|##|#|bb(?!5)|b(?!5[,/])| ?(?i:flat|sharp)(?![A-Za-z]))?")
_GERMAN_ROOT = re.compile(r"(?:As(?!us)|Es(?!us)|[CDFGAH]is|[CDGH]es|H|[A-G])(?:b(?!5)|#)?")


def fold(text: str) -> str:
    """Fold look-alike signs; every character keeps its place.

    >>> fold("B♭−△⁷")
    'Bb-Δ7'
    """
    return text.translate(_FOLD)


def read_root(text: str, at: int, german: bool = False) -> tuple[Name, int]:
    """Read a root or bass at an offset; give its name and the offset behind it."""
    match = (_GERMAN_ROOT if german else _ROOT).match(text, at)
    if not match:
        found = repr(text[at]) if at < len(text) else "the end"
        raise Fault(at, f"a root A to G is wanted here, not {found}")
    return Name.parse(_from_german(match[0]) if german else _from_words(match[0])), match.end()


def _from_words(text: str) -> str:
    """Respell `B flat` as `Bb`."""
    return text[0] + text[1:].strip().lower().replace("flat", "b").replace("sharp", "#")


def _from_german(text: str) -> str:
    """Respell a German note name: H is B, B is B flat, Es is E flat, Fis is F sharp."""
    letter, rest = text[0], text[1:].replace("is", "#").replace("es", "b").replace("s", "b")
    if letter == "H":
        return "B" + rest
    return "Bb" + rest if letter == "B" else letter + rest


def tokens_of(tail: str) -> list[Token]:
    """The tokens of a folded tail, what stands behind the root; spaces are left out.

    PITFALL: a lone ``o`` (or 0) means diminished only directly behind the root.
    """
    at, found = 0, []
    while at < len(tail):
        match = _TOKEN.match(tail, at)
        if not match or not match.lastgroup:
            raise Fault(at, f"{tail[at]!r} means nothing here")
        if match.lastgroup == "DIMINISHED" and match[0] in ("o", "0") and at:
            raise Fault(at, f"{match[0]!r} means diminished only directly behind the root")
        if match.lastgroup != "SPACE":
            found.append(Token(Kind[match.lastgroup], match[0], at))
        at = match.end()
    return found
