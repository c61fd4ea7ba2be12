"""The grammar of chord symbols: from the tokens behind the root to the degrees they mean.

The rules are those of the domain's trade: case matters, a hyphen behind the root is minor, a major
mark qualifies the seventh, parentheses and commas are optional, and terse spellings put the
accidental behind the number (``79b``). Source: the open textbook "Music Theory for the
21st-Century Classroom", Jazz Chord Basics; common practice.
"""

from collections.abc import Sequence
from functools import lru_cache

from changewright.theory.pitch import Degree
from changewright.theory.symbol_draft import STACKING, Draft
from changewright.theory.symbol_tokens import Fault, Kind, Token, tokens_of

__all__ = ["degrees_of"]

_ALTERS = {"b": -1, "-": -1, "flat": -1, "#": 1, "+": 1, "sharp": 1, "♮": 0}
_ALLOWED = {
    2: (-1, 0), 3: (0, -1), 4: (0, 1), 5: (-1, 0, 1), 6: (-1, 0), 7: (-1, 0, 1), 9: (-1, 0, 1),
    10: (0, -1), 11: (0, 1), 13: (-1, 0),
}  # fmt: skip


class _Grammar:
    """One walk over the tokens of one symbol."""

    def __init__(self, tokens: Sequence[Token], end: int) -> None:
        self.tokens = tokens
        self.end = end
        self.at = 0
        self.draft = Draft()
        self.opened: list[Token] = []
        self.sticky = ""  # "add" or "omit" while a list of such goes on

    def read(self) -> tuple[Degree, ...]:
        for place in range(1, len(self.tokens)):
            self._check_numbers(place)
        while self.at < len(self.tokens):
            self._one()
        if self.opened:
            raise Fault(self.opened[-1].offset, "this parenthesis is not closed")
        return self.draft.degrees()

    def _check_numbers(self, place: int) -> None:
        """Numbers run together only upwards from a 6 or 7 (`69`, `7911`), behind an altered fifth
        (`b59`) and behind sus (`sus47`)."""
        before, token = self.tokens[place - 1], self.tokens[place]
        touch = before.offset + len(before.text) == token.offset
        if not touch or before.kind is not Kind.NUMBER or token.kind is not Kind.NUMBER:
            return
        low, leads = _size(before), self.tokens[place - 2].kind if place > 1 else None
        ascends = low < _size(token) and (low > 5 or (low == 5 and leads is Kind.SIGN))
        if not ascends and not (low in (2, 4) and leads is Kind.SUS):
            raise Fault(token.offset, f"a {token.text} can't follow here; put it in parentheses")

    # -- reading tokens ------------------------------------------------------------------------

    def _peek(self, ahead: int = 0) -> Token | None:
        index = self.at + ahead
        return self.tokens[index] if index < len(self.tokens) else None

    def _kind(self, ahead: int = 0) -> Kind | None:
        token = self._peek(ahead)
        return token.kind if token else None

    def _number(self, ahead: int = 0) -> int | None:
        token = self._peek(ahead)
        if token is None or token.kind is not Kind.NUMBER:
            return None
        return _size(token)

    def _take(self) -> Token:
        self.at += 1
        return self.tokens[self.at - 1]

    # -- one step ------------------------------------------------------------------------------

    def _one(self) -> None:
        token = self.tokens[self.at]
        if token.kind in (Kind.NUMBER, Kind.SIGN):
            if not self._leading_sign(token):
                self._run()
            return
        self._take()
        match token.kind:
            case Kind.OPEN:
                self._open(token)
            case Kind.CLOSE:
                self._close(token)
            case Kind.COMMA | Kind.SLASH:
                self._separator(token)
            case Kind.MAJOR:
                self._major(token)
            case Kind.SUS:
                self._sus()
            case Kind.ADD | Kind.OMIT:
                self._start_list(token)
            case Kind.ALT:
                self._alt(token)
            case Kind.DOMINANT:
                self._dominant(token)
            case _:
                self._triad(token)

    def _open(self, token: Token) -> None:
        if len(self.opened) == 2:
            raise Fault(token.offset, "parentheses are nested too deeply")
        self.opened.append(token)

    def _close(self, token: Token) -> None:
        if not self.opened:
            raise Fault(token.offset, "this parenthesis was never opened")
        before = self.tokens[self.at - 2].kind
        if before in (Kind.OPEN, Kind.COMMA, Kind.ADD, Kind.OMIT):
            raise Fault(token.offset, "something is missing before this parenthesis")
        self.opened.pop()
        self.sticky = ""

    def _separator(self, token: Token) -> None:
        follows = self._kind()
        if follows in (None, Kind.COMMA, Kind.SLASH, Kind.CLOSE) or self.at == 1:
            raise Fault(token.offset, f"{token.text!r} stands between two things")

    # -- qualities -----------------------------------------------------------------------------

    def _leading_sign(self, token: Token) -> bool:
        """A hyphen behind the root is minor, a plus is augmented; elsewhere they alter a degree.

        PITFALL: `C-5` has a flat fifth, for a minor chord needs no 5; `C+11` and `C11+` are the
        augmented eleventh, 9(#11); `Cm(+7)` and `Cm+7` have the major seventh.
        """
        follows = self._number(1)
        if token.text == "-" and self.at == 0 and follows != 5:
            self._take()
            self.draft.third = "minor"
            return True
        if token.text == "-" and self._kind(1) is Kind.MAJOR:
            self._take()  # the hyphen of `Cm-maj7`
            return True
        if token.text != "+":
            return False
        if self.at == 0 and follows in (5, 11):
            self.draft.extension = 9 if follows == 11 else None
            return False
        is_mark = self.at == 0 or follows not in (5, 7, 9, 11, 13)
        if not is_mark or self.opened:
            return False
        self._take()
        self._augment(token)
        return True

    def _augment(self, token: Token) -> None:
        if self.draft.extension == 11:
            self.draft.extension = 9
            self.draft.altered.append(Degree(11, 1))
        elif self.draft.third == "":
            self.draft.third = "augmented"
        elif self.draft.third == "minor":
            self.draft.altered.append(Degree(5, 1))
        else:
            raise Fault(token.offset, f"{token.text!r} contradicts what stands before it")

    def _triad(self, token: Token) -> None:
        if token.kind is Kind.AUGMENTED:
            self._augment(token)
            return
        draft = self.draft
        if draft.third or draft.major or draft.extension or draft.sus or draft.alt or self.opened:
            raise Fault(token.offset, f"{token.text!r} contradicts what stands before it")
        draft.third = token.kind.value

    def _dominant(self, token: Token) -> None:
        if self.at != 1:
            raise Fault(token.offset, f"{token.text!r} belongs directly behind the root")
        if self._number() not in STACKING:
            self.draft.extension = 7

    def _major(self, token: Token) -> None:
        """A major mark qualifies the seventh; alone, a word means the triad and a sign the seventh.

        PITFALL: over a diminished seventh the major seventh is added, `C°7(maj7)`.
        """
        draft = self.draft
        if draft.major:
            raise Fault(token.offset, "a second major mark")
        dominant = draft.alt or self.tokens[0].kind is Kind.DOMINANT
        if dominant or draft.third == "half-diminished":
            raise Fault(token.offset, f"{token.text!r} contradicts what stands before it")
        draft.major = token.text
        number = self._number()
        if draft.third == "diminished" and draft.extension == 7:
            draft.added.append(Degree(7))
            self.at += number == 7
        elif number in STACKING:
            self._take()
            self._extend_major(number or 7)
        elif number != 6 and (token.text in "Δj" or draft.third or draft.extension):
            self._extend_major(7)

    def _extend_major(self, size: int) -> None:
        draft = self.draft
        if draft.extension == 6:
            draft.added.append(Degree(6))
            draft.extension = None
        draft.major_seventh = True
        draft.extension = max(size, draft.extension or 0)

    def _alt(self, token: Token) -> None:
        if self.draft.minor_third or self.draft.major:
            raise Fault(token.offset, "only a dominant chord is altered")
        self.draft.alt = True

    # -- sus, add, omit ------------------------------------------------------------------------

    def _sus(self) -> None:
        """Sus alone is sus4. `Csus9` is a rare sus2; `Csus7913` is 13sus4; sus(b9) has the 7th."""
        sus = self._sus_in_parentheses()
        while (found := self._sus_degree()) is not None:
            sus.append(found)
        if not sus and self._number() == 9 and not self.draft.extension and not self._peek(1):
            self._take()
            sus = [Degree(2)]
        self.draft.sus += sus or [Degree(4)]

    def _sus_in_parentheses(self) -> list[Degree]:
        number = self._number(1)
        if self._kind() is not Kind.OPEN or number not in (2, 4) or self._kind(2) is not Kind.CLOSE:
            return []
        self.at += 3
        return [Degree(number or 4)]

    def _sus_degree(self) -> Degree | None:
        sign = self._kind() is Kind.SIGN
        number = self._number(int(sign))
        if number not in (2, 4):
            return None
        alter = _ALTERS[self._take().text.lower()] if sign else 0
        token = self._take()
        return self._degree(number, alter, token)

    def _start_list(self, token: Token) -> None:
        follows = self._kind()
        words: tuple[Kind, ...] = (Kind.SIGN, Kind.NUMBER, Kind.OPEN)
        if token.kind is Kind.ADD:
            words = (*words, Kind.MAJOR)
        if follows not in words:
            raise Fault(self._offset(), f"a degree is wanted behind {token.text!r}")
        self.sticky = token.kind.value

    def _offset(self) -> int:
        token = self._peek()
        return token.offset if token else self.end

    # -- runs of numbers and accidentals ---------------------------------------------------------

    def _run(self) -> None:
        if self._takes_extension():
            return
        start = self.at
        while self._kind() in (Kind.NUMBER, Kind.SIGN) and not self._breaks_run(start):
            self.at += 1
        run = self.tokens[start : self.at]
        pairs = self._pairs(run)
        if len(pairs) > 1 and self.sticky == Kind.OMIT.value:
            raise Fault(pairs[1][1].offset, "put a comma between what is left out")
        for degree, token in pairs:
            self._say(degree, token)
        if not self.opened and self._kind() not in (Kind.COMMA, Kind.SLASH):
            self.sticky = ""

    def _breaks_run(self, start: int) -> bool:
        """A plus that alters nothing ends a run: it is the augmented mark of `C7b9+`."""
        token = self._peek()
        return (
            token is not None
            and token.text == "+"
            and self.at > start
            and self.tokens[start].kind is Kind.SIGN
            and self._number(1) is None
        )

    def _takes_extension(self) -> bool:
        number = self._number()
        draft = self.draft
        if number is None or draft.extension or draft.power or self.sticky:
            return False
        if self.opened and number != 7:
            return False
        if number not in (5, 6, *STACKING) or (number == 5 and self._is_altered_behind()):
            return False
        token = self._take()
        if number == 5:
            if draft.third or draft.major or draft.sus:
                raise Fault(token.offset, "a 5 here says nothing; write b5 or #5")
            draft.power = True
        elif number == 11 and draft.third == "augmented":
            draft.third = ""
            draft.extension = 11
            self._augment(token)
        elif draft.major and number != 6:
            self._extend_major(number)  # `Cmaj/9`
        else:
            draft.extension = number
            self._postfix_ninth()
        return True

    def _is_altered_behind(self) -> bool:
        """Tell the altered fifth of `C5+` from a power chord."""
        return self._kind(1) is Kind.SIGN and self._number(2) is None

    def _postfix_ninth(self) -> None:
        """`C9-` is the 7(b9) of older charts."""
        token = self._peek()
        flat = token is not None and token.text in "b-" and self._number(1) is None
        if self.draft.extension == 9 and flat:
            self._take()
            self.draft.extension = 7
            self.draft.altered.append(Degree(9, -1))

    def _pairs(self, run: Sequence[Token]) -> list[tuple[Degree, Token]]:
        """The degrees of a run, accidentals before or, in terse spellings, behind the numbers."""
        if len(run) > 3 and run[0].kind is run[-1].kind is Kind.SIGN:
            return self._pairs(run[:2]) + self._pairs(run[2:])  # `Cm7b59b`
        signs_behind = run[0].kind is Kind.NUMBER and (
            run[-1].kind is Kind.SIGN or (not self.opened and self._is_terse(run))
        )
        pairs: list[tuple[Degree, Token]] = []
        ordered = run[::-1] if signs_behind else run
        alter, sign = 0, None
        for token in ordered:
            if token.kind is Kind.SIGN:
                alter, sign = self._one_sign(token, sign), token
                continue
            number = _size(token)
            pairs.append((self._degree(number, alter, sign or token), token))
            alter, sign = 0, None
        if sign is not None:
            raise Fault(sign.offset, f"{sign.text!r} alters nothing here")
        return pairs[::-1] if signs_behind else pairs

    @staticmethod
    def _one_sign(token: Token, before: Token | None) -> int:
        if before is not None:
            raise Fault(max(token.offset, before.offset), "one accidental is enough")
        return _ALTERS[token.text.lower()]

    def _is_terse(self, run: Sequence[Token]) -> bool:
        """Tell `79b13` (b9, 13) from `69#11` (9, #11): numbers ascend, and none that players never
        leave plain (5, or 11 over a major third) is left plain."""
        numbers = [_size(t) for t in run if t.kind is Kind.NUMBER]
        plain_last = numbers[-1] == 5 or (numbers[-1] == 11 and not self.draft.minor_third)
        return numbers == sorted(numbers) and not plain_last

    def _degree(self, number: int, alter: int, token: Token) -> Degree:
        if alter not in _ALLOWED[number]:
            raise Fault(token.offset, f"no chord has a {Degree(number, alter)}")
        return Degree(number, alter)

    def _say(self, degree: Degree, token: Token) -> None:
        """Put one degree of a list where it belongs."""
        draft = self.draft
        if self.sticky == Kind.OMIT.value:
            self._omit(degree, token)
        elif degree.number == 7:
            self._say_seventh(degree, token)
        elif self.sticky == Kind.ADD.value:
            draft.added.append(degree)
        elif degree in (Degree(3), Degree(3, -1), Degree(10)):
            raise Fault(token.offset, f"write add or no before a {degree}")
        elif degree == Degree(4) and not draft.minor_third and not draft.sus:
            draft.sus = [degree]
        elif degree.alter == 0:
            draft.added.extend([degree] if degree.number != 5 else [])
        else:
            draft.altered.append(degree)

    def _omit(self, degree: Degree, token: Token) -> None:
        if degree.alter:
            raise Fault(token.offset, f"write no{degree.number}, without the accidental")
        if degree.number in (2, 4, 6, 10):
            raise Fault(token.offset, f"no chord is written without its {degree.number}")
        if degree.number == 7 and not self.draft.extension:
            raise Fault(token.offset, "there is no 7 to leave out")
        self.draft.omitted.add(degree.number)

    def _say_seventh(self, degree: Degree, token: Token) -> None:
        draft = self.draft
        if draft.extension == 7 and degree.alter == 0 and not self.sticky:
            raise Fault(token.offset, "a second 7")
        if self.sticky == Kind.ADD.value and draft.third == "diminished":
            draft.added.append(Degree(7))
            return
        if draft.extension == 6:
            draft.added.append(Degree(6))
            draft.extension = None
        draft.extension = draft.extension or 7
        draft.major_seventh = draft.major_seventh or degree.alter == 1


def _size(number: Token) -> int:
    """The value of a number, an ordinal included: `9th`."""
    return int(number.text.rstrip("thrdn"))


@lru_cache(maxsize=4096)
def degrees_of(tail: str) -> tuple[Degree, ...]:
    """The degrees that a folded tail, what stands behind the root, means in normal form.

    Raises :class:`Fault` with the offset of what can't be read.

    >>> " ".join(map(str, degrees_of("-7b5")))
    '1 b3 b5 b7'
    """
    return _Grammar(tokens_of(tail), len(tail)).read()
