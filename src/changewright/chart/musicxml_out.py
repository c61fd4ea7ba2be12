"""Write a chart as a MusicXML lead sheet at concert pitch.

Source: W3C MusicXML 4.0. A form (A A B A) is written out in full, since MusicXML has no word
for it; repeats, endings and jumps are written as they are. Pins and heads are not written.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate, groupby, pairwise
from math import lcm
from xml.etree import ElementTree

from changewright.chart.chart import Chart
from changewright.chart.harmony import harmony_elements
from changewright.chart.note_values import NoteValue, note_values
from changewright.chart.written import Marks, Sung, WrittenBar
from changewright.music.accidentals import Accidental, Spelled, accidentals
from changewright.music.bar import Quarters
from changewright.music.rhythm import grid_of
from changewright.theory.key import Key
from changewright.theory.pitch import Name

__all__ = ["laid_out", "write_musicxml"]

_BARS_A_LINE = 4
_SIGNS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_Signs = Sequence[Accidental | None]
_Element = ElementTree.Element
_sub = ElementTree.SubElement


def write_musicxml(chart: Chart) -> str:
    """Write a chart as MusicXML 4.0, partwise, one part."""
    root = _Element("score-partwise", version="4.0")
    _say(_sub(root, "work"), "work-title", chart.title)
    _identification(root, chart)
    part = _sub(_sub(root, "part-list"), "score-part", id="P1")
    _say(part, "part-name", "Lead sheet")
    _measures(_sub(root, "part", id="P1"), laid_out(chart))
    ElementTree.indent(root)
    body = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'


def laid_out(chart: Chart) -> Chart:
    """The same chart without a form line: its sections written out in the order of the form."""
    if not chart.form:
        return replace(chart, head_in=(), solos=(), head_out=())
    first = 1 if chart.has_pickup and chart.bars[1].section == chart.form[0] else 0
    bars = list(chart.bars[:first])
    for turn, name in enumerate(chart.form):
        label = name if name not in chart.form[:turn] else f"{name}-{turn + 1}"
        begin, *others = chart.sections[name]
        bars += [replace(begin, section=label), *others]
    bars = _settled(bars)
    return replace(chart, bars=tuple(bars), form=(), head_in=(), solos=(), head_out=())


def _settled(bars: list[WrittenBar]) -> list[WrittenBar]:
    """Bars in a new order: notes held over a seam that is gone are struck anew, and signs that
    have come twice stand once, and a key stays until another comes."""
    settled: list[WrittenBar] = []
    seen: set[str] = set()
    for bar in bars:
        last = settled[-1].melody[-1].pitch if settled and settled[-1].melody else None
        first = bar.melody[:1]
        if first and first[0].held and first[0].pitch != last:
            bar = replace(bar, melody=(replace(first[0], held=False), *bar.melody[1:]))
        if bar.key is None and settled:
            bar = replace(bar, key=settled[-1].key)
        own: Marks = {m: getattr(bar, m) for m in ("sign", "coda", "jump") if getattr(bar, m)}
        again: Marks = {m: None if m == "jump" else False for m in own if m in seen}
        seen |= set(own)
        settled.append(replace(bar, **again))
    return settled


def _say(parent: _Element, tag: str, text: object, **attributes: str) -> _Element:
    element = _sub(parent, tag, attributes)
    element.text = str(text)
    return element


def _identification(root: _Element, chart: Chart) -> None:
    identity = _sub(root, "identification")
    if chart.by:
        _say(identity, "creator", chart.by, type="composer")
    _say(identity, "rights", chart.rights)
    _say(_sub(identity, "encoding"), "software", "changewright")
    _say(_sub(identity, "miscellaneous"), "miscellaneous-field", chart.feel, name="feel")


def _measures(part: _Element, chart: Chart) -> None:
    divisions, lines, signs = _divisions(chart), _lines(chart), _accidentals(chart.bars)
    bars = chart.bars
    for index, bar in enumerate(bars):
        measure = _sub(part, "measure", number=str(chart.number(index)))
        if bar.pickup:
            measure.set("implicit", "yes")
        before = bars[index - 1] if index else None
        if index in lines:
            _sub(measure, "print", {"new-system": "yes"})
        after = bars[index + 1] if index + 1 < len(bars) else None
        _attributes(measure, bar, before, divisions)
        _left_barline(measure, bar)
        _directions(measure, bar, chart if index == 0 else None)
        held_on = after is not None and bool(after.melody) and after.melody[0].held
        _contents(measure, bar, divisions, held_on, signs[index])
        _after_directions(measure, bar)
        _right_barline(measure, bars, index)


def _lines(chart: Chart) -> set[int]:
    """Where a new line begins: at sections, and after every four bars."""
    lines, count = set(), 0
    for index, bar in enumerate(chart.bars):
        if index and (bar.section or count == _BARS_A_LINE):
            lines.add(index)
            count = 0
        count += 0 if bar.pickup else 1
    return lines - {1 if chart.has_pickup else 0}


def _divisions(chart: Chart) -> int:
    lengths = [bar.length for bar in chart.bars]
    for bar in chart.bars:
        lengths += [chord.length for chord in bar.chords]
        for values in note_values(_edges(bar), grid_of(bar.meter, bar.length)):
            lengths += [value.duration for value in values]
    return lcm(1, *(length.denominator for length in lengths))


def _attributes(
    measure: _Element, bar: WrittenBar, before: WrittenBar | None, divisions: int
) -> None:
    changed_key = bar.key is not None and (before is None or before.key != bar.key)
    changed_meter = before is None or before.meter != bar.meter
    if before is not None and not changed_key and not changed_meter:
        return
    attributes = _sub(measure, "attributes")
    if before is None:
        _say(attributes, "divisions", divisions)
    if changed_key and bar.key is not None:
        key = _sub(attributes, "key")
        _say(key, "fifths", bar.key.signature)
        _say(key, "mode", bar.key.mode)
    if changed_meter:
        time = _sub(attributes, "time")
        _say(time, "beats", bar.meter.beats)
        _say(time, "beat-type", bar.meter.unit)
    if before is None:
        clef = _sub(attributes, "clef")
        _say(clef, "sign", "G")
        _say(clef, "line", 2)


def _left_barline(measure: _Element, bar: WrittenBar) -> None:
    if bar.opens is None and not bar.ending:
        return
    barline = _sub(measure, "barline", location="left")
    if bar.opens is not None:
        _say(barline, "bar-style", "heavy-light")
    if bar.ending:
        _sub(barline, "ending", number=",".join(map(str, bar.ending)), type="start")
    if bar.opens is not None:
        _sub(barline, "repeat", direction="forward")


def _directions(measure: _Element, bar: WrittenBar, heading: Chart | None) -> None:
    if heading is not None:
        kind = _direction(measure, "words", heading.feel)
        metronome = _sub(_sub(kind, "direction-type"), "metronome")
        _say(metronome, "beat-unit", "quarter")
        _say(metronome, "per-minute", heading.tempo_bpm)
        _sub(kind, "sound", tempo=str(heading.tempo_bpm))
    if bar.section:
        _direction(measure, "rehearsal", bar.section)
    if bar.opens is not None and bar.opens.vamp:
        _direction(measure, "words", f"vamp {bar.opens.times} times")
    if bar.sign:
        _direction(measure, "segno", segno="1")
    if bar.coda:
        _direction(measure, "coda", coda="1")


def _direction(measure: _Element, tag: str, text: str = "", **sound: str) -> _Element:
    direction = _sub(measure, "direction", placement="above")
    sign = _sub(_sub(direction, "direction-type"), tag)
    if text:
        sign.text = text
    if sound:
        _sub(direction, "sound", sound)
    return direction


def _after_directions(measure: _Element, bar: WrittenBar) -> None:
    if bar.to_coda:
        _direction(measure, "words", "To Coda", tocoda="1")
    if bar.fine:
        _direction(measure, "words", "Fine", fine="yes")
    if bar.jump is not None:
        head = "D.S." if bar.jump.to == "sign" else "D.C."
        tail = {"": "", "coda": " al Coda", "end": " al Fine"}[bar.jump.then]
        sound = {"dalsegno": "1"} if bar.jump.to == "sign" else {"dacapo": "yes"}
        _direction(measure, "words", head + tail, **sound)


def _right_barline(measure: _Element, bars: Sequence[WrittenBar], index: int) -> None:
    bar, after = bars[index], bars[index + 1] if index + 1 < len(bars) else None
    ending = _ending_over(bars, index)
    stops = bool(ending) and (bar.closes or (after is not None and bool(after.ending)))
    back = _times_back(bars, index, stops)
    new_section = after is not None and bool(after.section) and not bar.pickup
    if not (stops or back or after is None or new_section or bar.jump):
        return
    barline = _sub(measure, "barline", location="right")
    _say(barline, "bar-style", "light-heavy" if back or after is None else "light-light")
    if stops:
        kind = "stop" if back else "discontinue"
        _sub(barline, "ending", number=",".join(map(str, ending)), type=kind)
    if back:
        times = {"times": str(back)} if back > 2 else {}
        _sub(barline, "repeat", {"direction": "backward", **times})


def _ending_over(bars: Sequence[WrittenBar], index: int) -> tuple[int, ...]:
    """The numbers of the ending that a bar lies in, if any."""
    for bar in reversed(bars[: index + 1]):
        if bar.ending:
            return bar.ending
        if bar.opens or (bar.closes and bar is not bars[index]):
            return ()
    return ()


def _times_back(bars: Sequence[WrittenBar], index: int, stops: bool) -> int:
    """How often the music in all is played that goes back at this bar line; 0 for never."""
    bar = bars[index]
    if stops and not bar.closes:
        return 2
    if not bar.closes or stops:
        return 0
    return next(b.opens.times for b in reversed(bars[: index + 1]) if b.opens)


def _edges(bar: WrittenBar) -> list[tuple[Quarters, Quarters, bool]]:
    """The bar's notes and rests; rests are cut where chords change, so that each has its symbol."""
    changes = [Fraction(0)]
    for chord in bar.chords:
        changes.append(changes[-1] + chord.length)
    edges, at = [], Fraction(0)
    for piece in bar.melody or (Sung(None, bar.length),):
        cuts = [c for c in changes if at < c < at + piece.length] if piece.pitch is None else []
        marks = [at, *cuts, at + piece.length]
        edges += [(a, b, piece.pitch is None) for a, b in pairwise(marks)]
        at += piece.length
    return edges


def _accidentals(bars: Sequence[WrittenBar]) -> list[_Signs]:
    """What is printed before each piece of melody, bar by bar."""
    signs: list[_Signs] = []
    for key, group in groupby(bars, key=lambda bar: bar.key):
        spelled = [[_spelled(piece) for piece in bar.melody] for bar in group]
        signs += accidentals(key or Key(Name(0)), spelled)
    return signs


def _spelled(piece: Sung) -> Spelled | None:
    return None if piece.pitch is None else Spelled(piece.pitch, piece.held)


def _contents(
    measure: _Element, bar: WrittenBar, divisions: int, held_on: bool, signs: _Signs
) -> None:
    edges = _edges(bar)
    written = note_values(edges, grid_of(bar.meter, bar.length))
    pieces = _pieces(bar, edges, signs)
    chords = list(_onsets(bar))
    for number, ((start, end, _), values) in enumerate(zip(edges, written, strict=True)):
        while chords and chords[0][0] < end:
            at, text = chords.pop(0)
            harmony_elements(measure, text, round((at - start) * divisions))
        piece, sign = pieces[start]
        is_last = number == len(edges) - 1
        _notes(measure, piece, values, divisions, held_on and is_last, sign)


def _pieces(
    bar: WrittenBar, edges: Sequence[tuple[Quarters, Quarters, bool]], signs: _Signs
) -> dict[Quarters, tuple[Sung, Accidental | None]]:
    """The piece of melody, with its accidental, that sounds from each stretch's start."""
    melody = bar.melody or (Sung(None, bar.length),)
    ends = list(accumulate(piece.length for piece in melody))
    rows = list(zip(melody, signs or [None] * len(melody), strict=True))
    return {start: rows[bisect_right(ends, start)] for start, _, _ in edges}


def _onsets(bar: WrittenBar) -> Iterator[tuple[Quarters, str]]:
    at = Fraction(0)
    for chord in bar.chords:
        yield at, chord.text
        at += chord.length


def _notes(
    measure: _Element,
    piece: Sung,
    values: Sequence[NoteValue],
    divisions: int,
    held_on: bool,
    sign: Accidental | None,
) -> None:
    for place, value in enumerate(values):
        ties = []
        if piece.pitch is not None and (place > 0 or piece.held):
            ties.append("stop")
        if piece.pitch is not None and (place < len(values) - 1 or held_on):
            ties.append("start")
        _note(measure, piece, value, divisions, ties, None if place else sign)


def _note(
    measure: _Element,
    piece: Sung,
    value: NoteValue,
    divisions: int,
    ties: Sequence[str],
    sign: Accidental | None,
) -> None:
    note = _sub(measure, "note")
    if piece.pitch is None:
        _sub(note, "rest", {} if value.type else {"measure": "yes"})
    else:
        pitch = _sub(note, "pitch")
        _say(pitch, "step", piece.pitch.name.letter)
        if piece.pitch.name.alter:
            _say(pitch, "alter", piece.pitch.name.alter)
        _say(pitch, "octave", piece.pitch.octave)
    _say(note, "duration", value.duration * divisions)
    for tie in ties:
        _sub(note, "tie", type=tie)
    _say(note, "voice", 1)
    _value(note, value, sign)
    for number, beam in enumerate(value.beams, 1):
        _say(note, "beam", beam, number=str(number))
    if ties or value.bracket:
        notations = _sub(note, "notations")
        for tie in ties:
            _sub(notations, "tied", type=tie)
        if value.bracket:
            _sub(notations, "tuplet", type=value.bracket)


def _value(note: _Element, value: NoteValue, sign: Accidental | None) -> None:
    if value.type:
        _say(note, "type", value.type)
    for _ in range(value.dots):
        _sub(note, "dot")
    if sign is not None:
        courtesy = {"cautionary": "yes"} if sign.courtesy else {}
        _say(note, "accidental", _SIGNS[sign.alter], **courtesy)
    if value.actual != value.normal:
        ratio = _sub(note, "time-modification")
        _say(ratio, "actual-notes", value.actual)
        _say(ratio, "normal-notes", value.normal)
