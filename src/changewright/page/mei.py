"""The notation of one exercise as MEI, a system at a time, for the engraver.

Source: Music Encoding Initiative, MEI 5 (CMN module); only what our pages need.
"""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby

from changewright.music.accidentals import Accidental
from changewright.music.bar import Quarters
from changewright.music.notated import Mark, NotatedBar, Notation, Stacked
from changewright.music.rhythm import Value
from changewright.page.look import Look
from changewright.page.symbol import figure_text, symbol_width
from changewright.theory.instrument import Clef
from changewright.theory.pitch import Pitch

__all__ = ["mei_of"]

_CLEFS: dict[Clef, str] = {
    "treble": 'clef.shape="G" clef.line="2"',
    "treble8": 'clef.shape="G" clef.line="2" clef.dis="8" clef.dis.place="below"',
    "alto": 'clef.shape="C" clef.line="3"',
    "tenor": 'clef.shape="C" clef.line="4"',
    "bass": 'clef.shape="F" clef.line="4"',
}
_ALTERS = {-2: "ff", -1: "f", 0: "n", 1: "s", 2: "x"}
# Number and bracket are set by us, above, away from the degree figures.
_TRIPLET = 'num="3" numbase="2" num.visible="false" bracket.visible="false"'
_LETTER = 1.65  # staff spaces that an m takes in the engraver's text
_WIDE = 3  # signs from which on a figure is wider than most notes stand apart
_DURATIONS = {
    Fraction(4): "1",
    Fraction(2): "2",
    Fraction(1): "4",
    Fraction(1, 2): "8",
    Fraction(1, 4): "16",
    Fraction(1, 8): "32",
    Fraction(1, 16): "64",
}


def mei_of(
    notation: Notation,
    systems: Sequence[Sequence[NotatedBar]],
    look: Look,
    *,
    figures: bool = False,
) -> str:
    """Write the notation as MEI with the given bars a system, all on one endless page.

    Ids tell the restyling what a thing is: ``h`` a chord symbol, ``q`` a cue, followed by the
    number of the bar among all bars and of the thing within it. With ``figures`` the engraver
    makes room for all that stands under notes, otherwise for what is wide: figures of one or two
    signs seldom need more room than their notes, and take a third of the engraver's time.
    """
    writer = _Writer(notation, look, 1 if figures else _WIDE)
    body = "<sb/>".join("".join(writer.system(bars)) for bars in systems)
    return (
        '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.1"><music><body><mdiv>'
        f"<score>{writer.score_definition()}<section>{body}</section></score>"
        "</mdiv></body></music></mei>"
    )


class _Writer:
    """Counts bars and notes, so that every tie and symbol finds its place."""

    def __init__(self, notation: Notation, look: Look, least: int) -> None:
        self._notation = notation
        self._look = look
        self._least = least  # signs of a figure that the engraver makes room for
        self._index = {id(bar): n for n, bar in enumerate(notation.bars)}
        self._meter = notation.meter
        self._octave_shift = -1 if notation.clef == "treble8" else 0

    def score_definition(self) -> str:
        notation, meter = self._notation, self._meter
        count = notation.key.signature
        signature = f"{abs(count)}{'s' if count > 0 else 'f'}" if count else "0"
        return (
            f'<scoreDef keysig="{signature}" meter.count="{meter.beats}" meter.unit="{meter.unit}">'
            '<staffGrp><staffDef n="1" lines="5" lyric.name="" '
            f"{_CLEFS[notation.clef]}/></staffGrp></scoreDef>"
        )

    def system(self, bars: Sequence[NotatedBar]) -> Iterator[str]:
        for place, bar in enumerate(bars):
            if bar.bar.meter != self._meter:
                self._meter = bar.bar.meter
                yield (
                    f'<scoreDef meter.count="{self._meter.beats}" meter.unit="{self._meter.unit}"/>'
                )
            yield self._measure(bar, opens=place == 0)

    def _measure(self, bar: NotatedBar, opens: bool) -> str:
        number = self._index[id(bar)]
        last = number == len(self._notation.bars) - 1
        left = ' left="rptstart"' if bar.opens_repeat else ""
        right = ' right="end"' if last else ' right="dbl"' if bar.closes else ""
        if bar.times > 1:
            right = ' right="rptend"'
        partial = ' metcon="false"' if bar.bar.length != bar.bar.meter.length else ""
        return (
            f'<measure n="{bar.bar.number}"{left}{right}{partial}><staff n="1">'
            f'<layer n="1">{"".join(self._layer(bar, number))}</layer>'
            f"{_pulse(bar)}</staff>"
            f"{''.join(self._over(bar, number, opens))}{''.join(self._ties(bar, number))}"
            "</measure>"
        )

    def _layer(self, bar: NotatedBar, number: int) -> Iterator[str]:
        if len(bar.marks) == 1 and bar.marks[0].value.whole_bar:
            yield "<mRest/>"
            return
        numbered = list(enumerate(bar.marks))
        for triplet, marks in groupby(numbered, key=lambda m: m[1].value.triplet):
            inner = "".join(self._beamed(list(marks), number))
            if triplet is None:
                yield inner
            else:
                yield f"<tuplet {_TRIPLET}>{inner}</tuplet>"

    def _beamed(self, marks: list[tuple[int, Mark]], number: int) -> Iterator[str]:
        for beam, group in groupby(marks, key=lambda m: m[1].beam):
            inner = "".join(self._sign(mark, f"{number}-{place}") for place, mark in group)
            yield inner if beam is None else f"<beam>{inner}</beam>"

    def _sign(self, mark: Mark, name: str) -> str:
        timing = _timing(mark.value)
        if mark.pitch is None:
            tag = "space" if mark.open else "rest"
            return f'<{tag} xml:id="r{name}" {timing}/>'
        if mark.above:
            return f"<chord {timing}>{''.join(self._chord(mark, mark.pitch, name))}</chord>"
        inside = _accidental(mark.accidental) + self._verse(mark)
        return f'<note xml:id="n{name}" {timing} {self._pitch(mark.pitch)}>{inside}</note>'

    def _chord(self, mark: Mark, lowest: Pitch, name: str) -> Iterator[str]:
        """Notes on one stem; the lowest bears the name, those above it are numbered from 1."""
        for place, one in enumerate((Stacked(lowest, mark.accidental), *mark.above)):
            own = f"{name}-{place}" if place else name
            inside = _accidental(one.accidental) + ("" if place else self._verse(mark))
            yield f'<note xml:id="n{own}" {self._pitch(one.pitch)}>{inside}</note>'

    def _verse(self, mark: Mark) -> str:
        text = figure_text(mark.figure) if mark.figure is not None else mark.hint
        return f'<verse n="1"><syl>{text}</syl></verse>' if len(text) >= self._least else ""

    def _pitch(self, pitch: Pitch) -> str:
        return f'pname="{pitch.name.letter.lower()}" oct="{pitch.octave + self._octave_shift}"'

    def _over(self, bar: NotatedBar, number: int, opens: bool) -> Iterator[str]:
        for place, symbol in enumerate(bar.chords):
            if symbol.is_new or (opens and place == 0):
                width = symbol_width(symbol.chord, self._look, self._look.symbol_size)
                yield (
                    f'<harm xml:id="h{number}-{place}" tstamp="{_stamp(bar, symbol.onset)}" '
                    f'staff="1" place="above">{_room(width)}</harm>'
                )
        for place, cue in enumerate(bar.cues):
            yield (
                f'<dir xml:id="q{number}-{place}" tstamp="{_stamp(bar, cue.onset)}" '
                f'staff="1" place="below">{_room(2)}</dir>'
            )

    def _ties(self, bar: NotatedBar, number: int) -> Iterator[str]:
        for place, mark in enumerate(bar.marks):
            if mark.pitch is None or not mark.tied_to:
                continue
            following = f"n{number}-{place + 1}"
            if place == len(bar.marks) - 1:
                following = f"n{number + 1}-0"
            for note in ("", *(f"-{k + 1}" for k in range(len(mark.above)))):
                ends = f'startid="#n{number}-{place}{note}" endid="#{following}{note}"'
                yield f"<tie {ends}/>"


def _room(spaces: float) -> str:
    """Letters that the engraver's own text sets about as wide as so many staff spaces."""
    return "m" * max(1, round(spaces / _LETTER))


def _timing(value: Value) -> str:
    dots = f' dots="{value.dots}"' if value.dots else ""
    return f'dur="{_DURATIONS[value.base]}"{dots}'


def _stamp(bar: NotatedBar, onset: Quarters) -> str:
    stamp = 1 + onset / bar.bar.meter.beat
    return f"{float(stamp):g}"


def _accidental(accidental: Accidental | None) -> str:
    if accidental is None:
        return ""
    form = ' func="caution" enclose="paren"' if accidental.courtesy else ""
    return f'<accid accid="{_ALTERS[accidental.alter]}"{form}/>'


def _pulse(bar: NotatedBar) -> str:
    """Silence under the bar, so that bars stay even and open ones keep their width.

    Beats in quarters; eighths where the student writes; nothing where every beat has a sign of
    its own. PITFALL: a finer pulse under triplets would space their three notes unevenly.
    """
    onsets = {m.onset for m in bar.marks if not m.open}
    if onsets.issuperset(bar.grid.starts):
        return ""
    spaces = (
        "".join(_beat_spaces(bar, start, beat))
        for start, beat in zip(bar.grid.starts, bar.grid.beats, strict=True)
    )
    return f'<layer n="2">{"".join(spaces)}</layer>'


def _beat_spaces(bar: NotatedBar, start: Quarters, beat: Quarters) -> Iterator[str]:
    is_open = any(m.open and m.onset < start + beat and m.end > start for m in bar.marks)
    size = Fraction(1, 2) if is_open or beat != 1 else beat
    yield f'<space dur="{_DURATIONS[size]}"/>' * int(beat // size)
    yield from _spaces(beat % size)


def _spaces(length: Quarters) -> Iterator[str]:
    """Silence of any length that the meter allows, longest values first."""
    left = length
    for size, name in _DURATIONS.items():
        while left >= size:
            yield f'<space dur="{name}"/>'
            left -= size
