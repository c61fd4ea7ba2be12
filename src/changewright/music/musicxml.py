"""One exercise as MusicXML 4.0, at written pitch, for any notation editor.

Source: W3C Music Notation Community Group, MusicXML 4.0 (partwise).
"""

import math
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from changewright.music.accidentals import Accidental
from changewright.music.bar import Meter, Quarters
from changewright.music.notated import Cue, Mark, NotatedBar, NotatedChord, Notation, Stacked
from changewright.music.notation import notate
from changewright.music.sheet import Sheet
from changewright.music.stacked import notate_chords
from changewright.music.systems import BARS_A_SYSTEM, chunks, sections
from changewright.theory.instrument import Clef, Instrument
from changewright.theory.kinds import Harmony, harmonies_of
from changewright.theory.pitch import Degree, Name, Pitch

__all__ = ["write_musicxml"]

_DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_CLEFS: dict[Clef, tuple[str, int]] = {
    "treble": ("G", 2),
    "treble8": ("G", 2),
    "alto": ("C", 3),
    "tenor": ("C", 4),
    "bass": ("F", 4),
}
_TYPES = {
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th",
    Fraction(1, 8): "32nd",
    Fraction(1, 16): "64th",
}
_ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_SWUNG = ("swing", "shuffle", "waltz")
_STAFF_MM, _STAFF_TENTHS = 7.0, 40


def write_musicxml(
    sheet: Sheet,
    *,
    answers: bool = False,
    bars_a_system: int = BARS_A_SYSTEM,
    swung: bool | None = None,
    above: Mapping[Quarters, Sequence[Pitch]] | None = None,
) -> str:
    """Write a sheet for its instrument: notes, changes, degree figures, letters and line breaks.

    Blanks become hidden rests unless ``answers`` is set. ``swung`` says whether eighths swing;
    None goes by the feel's name. ``above`` makes chords of the notes at some onsets. The same
    sheet gives the same text.
    """
    swings = any(w in sheet.feel for w in _SWUNG) if swung is None else swung
    notation = notate_chords(sheet, above) if above else notate(sheet, answers=answers)
    root = _Score(notation, bars_a_system, swings).build()
    ET.indent(root, " ")
    return _DOCTYPE + ET.tostring(root, encoding="unicode") + "\n"


def _add(parent: ET.Element, tag: str, content: object = None, /, **attributes: str) -> ET.Element:
    """Append an element; underscores in attribute names stand for hyphens."""
    named = {key.replace("_", "-"): value for key, value in attributes.items()}
    child = ET.SubElement(parent, tag, named)
    if content is not None:
        child.text = str(content)
    return child


class _Score:
    """Writes one exercise, bar by bar."""

    def __init__(self, notation: Notation, bars_a_system: int, swings: bool) -> None:
        self._notation = notation
        self._sheet = notation.sheet
        self._octave_shift = -1 if notation.clef == "treble8" else 0
        self._divisions = _divisions(notation)
        rows = [row for part in sections(notation.bars) for row in chunks(part, bars_a_system)]
        self._openers = {id(row[0]) for row in rows[1:]}
        self._swings = swings
        self._meter: Meter | None = None

    def build(self) -> ET.Element:
        root = ET.Element("score-partwise", version="4.0")
        self._head(root)
        part = _add(root, "part", id="P1")
        for number, bar in enumerate(self._notation.bars):
            self._measure(part, bar, last=number == len(self._notation.bars) - 1)
        return root

    def _head(self, root: ET.Element) -> None:
        _add(_add(root, "work"), "work-title", self._sheet.title)
        identification = _add(root, "identification")
        encoding = _add(identification, "encoding")
        _add(encoding, "software", "changewright")
        for element in ("accidental", "beam"):
            _add(encoding, "supports", element=element, type="yes")
        _add(encoding, "supports", element="print", attribute="new-system", type="yes", value="yes")
        miscellaneous = _add(identification, "miscellaneous")
        _add(miscellaneous, "miscellaneous-field", self._sheet.recipe.label, name="recipe")
        _layout(root)
        _part_list(root, self._sheet.instrument)

    def _measure(self, part: ET.Element, bar: NotatedBar, last: bool) -> None:
        measure = _add(part, "measure", number=str(bar.bar.number))
        if bar.bar.length != bar.bar.meter.length:
            measure.set("implicit", "yes")
        if id(bar) in self._openers:
            _add(measure, "print", new_system="yes")
        if self._meter != bar.bar.meter:
            self._attributes(measure, bar, first=self._meter is None)
        if bar.opens_repeat:
            left = _add(measure, "barline", location="left")
            _add(left, "bar-style", "heavy-light")
            _add(left, "repeat", direction="forward")
        if bar.bar.label:
            _words(measure, "rehearsal", bar.bar.label, "above")
        if bar is self._notation.bars[0]:
            self._tempo(measure)
        self._contents(measure, bar)
        style = "light-heavy" if last or bar.times > 1 else "light-light" if bar.closes else ""
        if style:
            right = _add(measure, "barline", location="right")
            _add(right, "bar-style", style)
            if bar.times > 1:
                _add(right, "repeat", direction="backward", times=str(bar.times))

    def _attributes(self, measure: ET.Element, bar: NotatedBar, first: bool) -> None:
        self._meter = bar.bar.meter
        attributes = _add(measure, "attributes")
        if first:
            _add(attributes, "divisions", self._divisions)
            key = _add(attributes, "key")
            _add(key, "fifths", self._notation.key.signature)
            _add(key, "mode", self._notation.key.mode)
        time = _add(attributes, "time")
        _add(time, "beats", self._meter.beats)
        _add(time, "beat-type", self._meter.unit)
        if first:
            sign, line = _CLEFS[self._notation.clef]
            clef = _add(attributes, "clef")
            _add(clef, "sign", sign)
            _add(clef, "line", line)
            if self._octave_shift:
                _add(clef, "clef-octave-change", self._octave_shift)
            self._transposition(attributes)

    def _transposition(self, attributes: ET.Element) -> None:
        """From written to sounding pitch; whole octaves are told apart from the rest."""
        up = self._notation.up
        semitones = -up.semitones - 12 * self._octave_shift
        steps = -up.steps - 7 * self._octave_shift
        if semitones == 0 and steps == 0:
            return
        octaves = math.trunc(semitones / 12)
        transpose = _add(attributes, "transpose")
        _add(transpose, "diatonic", steps - 7 * octaves)
        _add(transpose, "chromatic", semitones - 12 * octaves)
        if octaves:
            _add(transpose, "octave-change", octaves)

    def _tempo(self, measure: ET.Element) -> None:
        sheet = self._sheet
        direction = _add(measure, "direction", placement="above")
        metronome = _add(_add(direction, "direction-type"), "metronome")
        meter = self._notation.meter
        dotted = meter.unit == 8 and meter.beats % 3 == 0 and meter.beats > 3
        _add(metronome, "beat-unit", "quarter")
        if dotted:
            _add(metronome, "beat-unit-dot")
        _add(metronome, "per-minute", round(sheet.tempo_bpm * 2 / 3) if dotted else sheet.tempo_bpm)
        _add(_add(direction, "direction-type"), "words", sheet.feel.replace("-", " ").capitalize())
        sound = _add(direction, "sound", tempo=str(sheet.tempo_bpm))
        if self._swings:
            swing = _add(sound, "swing")
            _add(swing, "first", 2)
            _add(swing, "second", 1)
            _add(swing, "swing-type", "eighth")

    def _contents(self, measure: ET.Element, bar: NotatedBar) -> None:
        chords, cues = list(bar.chords), list(bar.cues)
        for place, mark in enumerate(bar.marks):
            while chords and chords[0].onset < mark.end:
                self._harmony(measure, chords.pop(0), mark)
            while cues and cues[0].onset < mark.end:
                self._cue(measure, cues.pop(0), mark)
            self._note(measure, bar, place, mark)
            for stacked in mark.above:
                self._on_its_stem(measure, mark, stacked)

    def _harmony(self, measure: ET.Element, symbol: NotatedChord, mark: Mark) -> None:
        harmony = _add(measure, "harmony", print_frame="no")
        if not symbol.is_new:
            harmony.set("print-object", "no")
        chords = harmonies_of(symbol.chord)
        if len(chords) > 1:
            harmony.set("arrangement", "vertical")
        for chord in chords:
            _harmony_chord(harmony, chord)
        if symbol.onset != mark.onset:
            _add(harmony, "offset", self._ticks(symbol.onset - mark.onset))

    def _cue(self, measure: ET.Element, cue: Cue, mark: Mark) -> None:
        text = " ".join(map(_figure, cue.degrees))
        direction = _words(measure, "words", text, "below")
        if cue.onset != mark.onset:
            _add(direction, "offset", self._ticks(cue.onset - mark.onset))

    def _note(self, measure: ET.Element, bar: NotatedBar, place: int, mark: Mark) -> None:
        note = _add(measure, "note")
        if mark.pitch is None:
            rest = _add(note, "rest")
            if mark.value.whole_bar:
                rest.set("measure", "yes")
            if mark.open:
                note.set("print-object", "no")
        else:
            self._pitch(note, mark.pitch)
        _add(note, "duration", self._ticks(mark.duration))
        for kind, tied in (("stop", mark.tied_from), ("start", mark.tied_to)):
            if tied:
                _add(note, "tie", type=kind)
        _add(note, "voice", 1)
        self._value(note, mark, mark.accidental)
        for level, state in _beam_states(bar, place):
            _add(note, "beam", state, number=str(level))
        _notations(note, bar, place)
        text = _figure(mark.figure) if mark.figure is not None else mark.hint
        if text:
            lyric = _add(note, "lyric", number="1", placement="below")
            _add(lyric, "syllabic", "single")
            _add(lyric, "text", text)

    def _on_its_stem(self, measure: ET.Element, mark: Mark, stacked: Stacked) -> None:
        """A further note of a chord: as long, as tied and as grouped as the lowest."""
        note = _add(measure, "note")
        _add(note, "chord")
        self._pitch(note, stacked.pitch)
        _add(note, "duration", self._ticks(mark.duration))
        ties = [k for k, t in (("stop", mark.tied_from), ("start", mark.tied_to)) if t]
        for kind in ties:
            _add(note, "tie", type=kind)
        _add(note, "voice", 1)
        self._value(note, mark, stacked.accidental)
        notations = _add(note, "notations") if ties else note
        for kind in ties:
            _add(notations, "tied", type=kind)

    def _pitch(self, note: ET.Element, sounding: Pitch) -> None:
        pitch = _add(note, "pitch")
        _add(pitch, "step", sounding.name.letter)
        if sounding.name.alter:
            _add(pitch, "alter", sounding.name.alter)
        _add(pitch, "octave", sounding.octave + self._octave_shift)

    def _value(self, note: ET.Element, mark: Mark, accidental: Accidental | None) -> None:
        if not mark.value.whole_bar:
            _add(note, "type", _TYPES[mark.value.base])
        for _ in range(mark.value.dots):
            _add(note, "dot")
        if accidental is not None:
            sign = _add(note, "accidental", _ACCIDENTALS[accidental.alter])
            if accidental.courtesy:
                sign.set("cautionary", "yes")
                sign.set("parentheses", "yes")
        if mark.value.triplet is not None:
            ratio = _add(note, "time-modification")
            _add(ratio, "actual-notes", 3)
            _add(ratio, "normal-notes", 2)

    def _ticks(self, length: Quarters) -> int:
        return int(length * self._divisions)


def _divisions(notation: Notation) -> int:
    """Ticks a quarter: enough for every onset and duration to be whole."""
    times = [t for b in notation.bars for m in b.marks for t in (m.onset, m.duration)]
    times += [chord.onset for b in notation.bars for chord in b.chords]
    times += [cue.onset for b in notation.bars for cue in b.cues]
    return math.lcm(2, *(t.denominator for t in times))


def _layout(root: ET.Element) -> None:
    """A4 with a staff of seven millimetres."""
    tenths = _STAFF_TENTHS / _STAFF_MM
    defaults = _add(root, "defaults")
    scaling = _add(defaults, "scaling")
    _add(scaling, "millimeters", _STAFF_MM)
    _add(scaling, "tenths", _STAFF_TENTHS)
    page = _add(defaults, "page-layout")
    _add(page, "page-height", f"{297 * tenths:.1f}")
    _add(page, "page-width", f"{210 * tenths:.1f}")
    margins = _add(page, "page-margins", type="both")
    for side in ("left", "right", "top", "bottom"):
        _add(margins, f"{side}-margin", f"{15 * tenths:.1f}")


def _part_list(root: ET.Element, instrument: Instrument) -> None:
    part = _add(_add(root, "part-list"), "score-part", id="P1")
    _add(part, "part-name", instrument.name)
    _add(_add(part, "score-instrument", id="P1-I1"), "instrument-name", instrument.name)
    midi = _add(part, "midi-instrument", id="P1-I1")
    _add(midi, "midi-channel", 1)
    _add(midi, "midi-program", instrument.gm_program + 1)


def _words(measure: ET.Element, tag: str, text: str, placement: str) -> ET.Element:
    direction = _add(measure, "direction", placement=placement)
    _add(_add(direction, "direction-type"), tag, text, enclosure="rectangle")
    return direction


def _harmony_chord(harmony: ET.Element, chord: Harmony) -> None:
    """Degrees are never printed beside the kind: its text says the whole quality."""
    if chord.root is None:
        _add(_add(harmony, "root"), "root-step", "C", text="")
    else:
        _named(harmony, "root", chord.root)
    _add(harmony, "kind", chord.kind, text=chord.text)
    if chord.bass is not None:
        _named(harmony, "bass", chord.bass)
    for edit in chord.degrees:
        degree = _add(harmony, "degree", print_object="no")
        _add(degree, "degree-value", edit.value)
        _add(degree, "degree-alter", edit.alter)
        _add(degree, "degree-type", edit.edit)


def _named(harmony: ET.Element, tag: str, name: Name) -> None:
    element = _add(harmony, tag)
    _add(element, f"{tag}-step", name.letter)
    if name.alter:
        _add(element, f"{tag}-alter", name.alter)


def _beam_states(bar: NotatedBar, place: int) -> Iterator[tuple[int, str]]:
    """The beams at a note, level by level: the first for eighths, one more for each halving."""
    mark = bar.marks[place]
    if mark.beam is None:
        return
    for level in range(1, _flags(mark) + 1):
        before, after = (_shares(bar, place, place + step, level) for step in (-1, 1))
        if before or after:
            yield level, "continue" if before and after else "end" if before else "begin"
        else:
            first = place == 0 or bar.marks[place - 1].beam != mark.beam
            yield level, "forward hook" if first else "backward hook"


def _flags(mark: Mark) -> int:
    return int(math.log2(Fraction(1) / mark.value.base))


def _shares(bar: NotatedBar, place: int, other: int, level: int) -> bool:
    if not 0 <= other < len(bar.marks):
        return False
    mark, neighbour = bar.marks[place], bar.marks[other]
    return neighbour.beam == mark.beam and _flags(neighbour) >= level


def _notations(note: ET.Element, bar: NotatedBar, place: int) -> None:
    mark = bar.marks[place]
    kinds = [k for k, t in (("stop", mark.tied_from), ("start", mark.tied_to)) if t]
    edges = list(_tuplet_edges(bar, place))
    if not kinds and not edges:
        return
    notations = _add(note, "notations")
    for kind in kinds:
        _add(notations, "tied", type=kind)
    for kind in edges:
        _add(notations, "tuplet", type=kind, number="1")


def _tuplet_edges(bar: NotatedBar, place: int) -> Iterator[str]:
    triplets = [m.value.triplet for m in bar.marks]
    here = triplets[place]
    if here is None:
        return
    if place == 0 or triplets[place - 1] != here:
        yield "start"
    if place == len(triplets) - 1 or triplets[place + 1] != here:
        yield "stop"


def _figure(degree: Degree) -> str:
    return {-2: "♭♭", -1: "♭", 0: "", 1: "♯", 2: "♯♯"}[degree.alter] + str(degree.number)
