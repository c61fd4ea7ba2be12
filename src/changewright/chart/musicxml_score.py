"""The measures of a MusicXML part, read element by element into plain drafts.

Onsets are quarters from the bar line, pitches concert pitch. Source: W3C MusicXML 4.0.
"""

import re
from dataclasses import dataclass, field
from fractions import Fraction

from changewright.chart.chart import MOST_WRITTEN
from changewright.chart.harmony import harmony_symbol
from changewright.chart.xml_door import Node
from changewright.errors import ChartError, Place
from changewright.music.bar import FOUR_FOUR, Meter, Quarters
from changewright.theory.key import Key
from changewright.theory.pitch import Interval, Name, Pitch

__all__ = ["KEPT", "Draft", "Tone", "read_measures"]

_TAGS = """
work work-title movement-title identification creator rights miscellaneous
miscellaneous-field part measure attributes measure-style measure-repeat divisions
key fifths mode time beats beat-type
senza-misura transpose diatonic chromatic octave-change harmony root root-step root-alter
numeral function kind inversion bass bass-step bass-alter degree degree-value degree-alter
degree-type offset note chord grace cue rest unpitched pitch step alter octave duration tie
voice staff notehead backup forward direction direction-type rehearsal words segno coda
metronome beat-unit beat-unit-dot per-minute sound swing straight barline repeat ending
"""
KEPT = frozenset(_TAGS.split())
"""The elements that a lead sheet is read from."""

_LONGEST = 10_000_000
_UNISON = Interval(0, 0)


@dataclass(slots=True)
class Tone:
    """A note of the melody; ``is_tied`` if it goes on from the note before."""

    onset: Quarters
    duration: Quarters
    pitch: Pitch
    is_tied: bool


@dataclass(slots=True)
class Draft:
    """What one measure holds. ``filled`` is how far its notes and rests reach."""

    node: Node
    meter: Meter
    key: Key | None
    has_mode: bool = True
    filled: Quarters = Fraction(0)
    chords: list[tuple[Quarters, str]] = field(default_factory=list)
    voices: dict[str, list[Tone]] = field(default_factory=dict)
    forward: bool = False
    backward: int = 0
    ending: tuple[int, ...] = ()
    ending_stops: bool = False
    marks: set[str] = field(default_factory=set)
    label: str = ""
    words: list[str] = field(default_factory=list)
    tempo: float | None = None

    @property
    def is_implicit(self) -> bool:
        """Whether the score calls the measure a pickup or a part of another."""
        return self.node.get("implicit") == "yes"


@dataclass(slots=True)
class _State:
    name: str
    divisions: int = 1
    meter: Meter = FOUR_FOUR
    key: Key | None = None
    has_mode: bool = True
    to_concert: Interval = _UNISON
    simile: int = 0
    bar: int = 0

    def fault(self, node: Node, what: str, remedy: str = "") -> ChartError:
        where = Place(self.name, node.line, bar=self.bar)
        return ChartError(what, where=where, remedy=remedy or "Export the lead sheet again.")

    def number(self, node: Node, *path: str, default: int | None = None) -> int:
        text = node.said(*path) if path else node.text.strip()
        if not text and default is not None:
            return default
        if re.fullmatch(r"[+-]?\d{1,8}", text, re.ASCII):
            return int(text)
        tag = path[-1] if path else node.tag
        raise self.fault(node, f"{text[:20]!r} in <{tag}> isn't a whole number")


def read_measures(part: Node, name: str) -> list[Draft]:
    """Read all measures of a part; raises :class:`ChartError` with the measure's number."""
    state = _State(name)
    measures = part.all("measure")
    if not 1 <= len(measures) <= MOST_WRITTEN:
        raise state.fault(part, f"a score has 1 to {MOST_WRITTEN} measures", "Export one tune.")
    drafts: list[Draft] = []
    for state.bar, node in enumerate(measures, 1):
        draft = _measure(node, state)
        if 0 < state.simile <= len(drafts) and not draft.chords:
            draft.chords = drafts[-state.simile].chords
        drafts.append(draft)
    return drafts


def _measure(node: Node, state: _State) -> Draft:
    for attributes in node.all("attributes"):
        _attributes(attributes, state)
    draft = Draft(node, state.meter, state.key, state.has_mode)
    at = last = Fraction(0)
    for child in node.children:
        if child.tag == "note":
            at, last = _note(child, state, draft, at, last)
        elif child.tag in ("backup", "forward"):
            sign = -1 if child.tag == "backup" else 1
            at = max(at + sign * _duration(child, state), Fraction(0))
        elif child.tag == "harmony":
            _harmony(child, state, draft, at)
        else:
            _mark(child, draft)
        draft.filled = max(draft.filled, at)
    return draft


def _attributes(node: Node, state: _State) -> None:
    if node.find("divisions"):
        state.divisions = state.number(node, "divisions")
        if not 1 <= state.divisions <= _LONGEST:
            raise state.fault(node, f"{state.divisions} divisions a quarter")
    if node.find("transpose"):
        state.to_concert = _transposition(node.all("transpose")[0], state)
    if node.find("key", "fifths"):
        state.key = _key(node.all("key")[0], state)
        state.has_mode = node.said("key", "mode") in ("major", "minor")
    for style in node.all("measure-style"):
        _simile(style, state)
    time = node.find("time")
    if time is not None and time.find("senza-misura") is None:
        state.meter = _meter(time, state)


def _simile(node: Node, state: _State) -> None:
    """A sign for "the last bar (or the last two) again"; chords are not written under it."""
    sign = node.find("measure-repeat")
    if sign is not None:
        count = sign.text.strip()
        is_start = sign.get("type") == "start" and count in ("", "1", "2", "4")
        state.simile = int(count or 1) if is_start else 0


def _transposition(node: Node, state: _State) -> Interval:
    semitones = state.number(node, "chromatic", default=0)
    steps = state.number(node, "diatonic", default=round(semitones * 7 / 12))
    octaves = state.number(node, "octave-change", default=0)
    if max(abs(semitones), abs(steps), abs(octaves)) > 60:
        raise state.fault(node, "a transposition by more than five octaves")
    return Interval(7 * semitones - 12 * steps, 7 * steps - 4 * semitones + octaves)


def _key(node: Node, state: _State) -> Key:
    fifths = state.number(node, "fifths")
    if not -7 <= fifths <= 7:
        raise state.fault(node, f"a key signature of {fifths} fifths")
    mode = "minor" if node.said("mode") == "minor" else "major"
    tonic = Name(fifths + (3 if mode == "minor" else 0))
    plain = state.to_concert.fifths == 0
    written = Key(tonic, "minor" if mode == "minor" else "major")
    return written if plain else written.transpose(state.to_concert)


def _meter(node: Node, state: _State) -> Meter:
    beats = [sum(map(int, re.findall(r"\d{1,3}", n.text)[:8])) for n in node.all("beats")]
    units = {n.text.strip() for n in node.all("beat-type")}
    try:
        if len(units) == 1:
            return Meter(sum(beats), int(units.pop()))
    except ValueError:
        pass
    raise state.fault(node, "a meter that can't be read", "Write it as one fraction, like 5/4.")


def _duration(node: Node, state: _State) -> Quarters:
    text = node.said("duration")
    if re.fullmatch(r"\d{1,9}(\.\d{1,6})?", text, re.ASCII):
        return Fraction(text) / state.divisions
    raise state.fault(node, f"{text[:20]!r} isn't a duration")


def _note(
    node: Node, state: _State, draft: Draft, at: Quarters, last: Quarters
) -> tuple[Quarters, Quarters]:
    if node.find("grace") or node.find("cue"):
        return at, last
    duration = _duration(node, state)
    is_stacked = node.find("chord") is not None
    onset = last if is_stacked else at
    pitch = _pitch(node, state)
    if pitch is not None and duration > 0 and node.said("staff") in ("", "1"):
        ties = any(tie.get("type") == "stop" for tie in node.all("tie"))
        voice = draft.voices.setdefault(node.said("voice") or "1", [])
        _add(voice, Tone(onset, duration, pitch, ties))
    return (at, last) if is_stacked else (at + duration, at)


def _add(voice: list[Tone], tone: Tone) -> None:
    """Of stacked notes the top one is the melody."""
    if voice and voice[-1].onset == tone.onset:
        if tone.pitch.midi > voice[-1].pitch.midi:
            voice[-1] = tone
    elif not voice or voice[-1].onset < tone.onset:
        voice.append(tone)


def _pitch(node: Node, state: _State) -> Pitch | None:
    pitch = node.find("pitch")
    if pitch is None or node.said("notehead") in ("slash", "slashed", "none"):
        return None
    letter, octave = pitch.said("step"), state.number(pitch, "octave")
    if not re.fullmatch("[A-G]", letter) or not 0 <= octave <= 9:
        raise state.fault(node, f"{letter[:5]!r}, octave {octave}, isn't a pitch")
    return _altered(pitch, state, letter, "alter").at(octave) + state.to_concert


def _altered(node: Node, state: _State, letter: str, tag: str) -> Name:
    text = node.said(tag) or "0"
    if not re.fullmatch(r"[+-]?[0-3](\.\d{1,6})?", text, re.ASCII):
        raise state.fault(node, f"{text[:20]!r} isn't an alteration")
    return Name(Name.parse(letter).fifths + 7 * round(float(text)))


def _harmony(node: Node, state: _State, draft: Draft, at: Quarters) -> None:
    offset = node.said("offset") or "0"
    if not re.fullmatch(r"[+-]?\d{1,9}(\.\d{1,6})?", offset, re.ASCII):
        raise state.fault(node, f"{offset[:20]!r} isn't an offset")
    onset = max(at + Fraction(offset) / state.divisions, Fraction(0))
    try:
        symbol = harmony_symbol(node, state.to_concert)
    except ValueError as error:
        raise state.fault(
            node, f"can't read a chord symbol: {error}", "Write it with a root and a kind."
        ) from None
    if all(onset != other for other, _ in draft.chords):
        draft.chords.append((onset, symbol))


def _mark(node: Node, draft: Draft) -> None:
    if node.tag == "barline":
        _barline(node, draft)
    elif node.tag == "sound":
        _sound(node, draft)
    elif node.tag == "direction":
        for kind in node.all("direction-type"):
            for child in kind.children:
                _direction(child, draft)
        for sound in node.all("sound"):
            _sound(sound, draft)


def _barline(node: Node, draft: Draft) -> None:
    draft.marks |= {child.tag for child in node.children if child.tag in ("segno", "coda")}
    repeat, ending = node.find("repeat"), node.find("ending")
    if repeat is not None and repeat.get("direction") == "forward":
        draft.forward = True
    elif repeat is not None:
        times = repeat.get("times", "2")
        draft.backward = int(times) if re.fullmatch(r"\d{1,3}", times, re.ASCII) else 2
    if ending is not None and ending.get("type") == "start":
        numbers = tuple(map(int, re.findall(r"\d{1,3}", ending.get("number"), re.ASCII)))
        draft.ending = tuple(dict.fromkeys(numbers)) or (0,)
    elif ending is not None:
        draft.ending_stops = True


def _sound(node: Node, draft: Draft) -> None:
    for name in ("segno", "coda", "tocoda", "fine", "dalsegno"):
        if node.get(name):
            draft.marks.add(name)
    if node.get("dacapo") == "yes":
        draft.marks.add("dacapo")
    if re.fullmatch(r"\d{1,4}(\.\d{1,6})?", node.get("tempo"), re.ASCII):
        draft.tempo = draft.tempo or float(node.get("tempo"))
    if node.find("swing", "straight") is not None:
        draft.words.append("straight")
    elif node.find("swing") is not None:
        draft.words.append("swing")


_SAID = (
    (r"\bd\.? ?s\.?(?= al| \w|$)|dal segno", "dalsegno"),
    (r"\bd\.? ?c\.?(?= al| \w|$)|da capo", "dacapo"),
    (r"\bto coda\b|^to 𝄌", "tocoda"),
    (r"^fine$", "fine"),
)


def _direction(node: Node, draft: Draft) -> None:
    text = " ".join(node.text.split())
    if node.tag == "rehearsal":
        draft.label = draft.label or text
    elif node.tag in ("segno", "coda"):
        draft.marks.add(f"glyph {node.tag}")
    elif node.tag == "words":
        draft.words.append(text[:200])
        low = text.lower()
        if "al coda" in low or "al fine" in low:
            draft.marks.add("then coda" if "al coda" in low else "then end")
        first = next((mark for pattern, mark in _SAID if re.search(pattern, low)), None)
        if first:
            draft.marks.add(first)
    elif node.tag == "metronome":
        draft.tempo = draft.tempo or _metronome(node)


_UNITS = {"whole": 4.0, "half": 2.0, "quarter": 1.0, "eighth": 0.5, "16th": 0.25}


def _metronome(node: Node) -> float | None:
    unit = _UNITS.get(node.said("beat-unit"))
    found = re.search(r"\d{1,4}(\.\d{1,3})?", node.said("per-minute"), re.ASCII)
    if unit is None or found is None or len(node.all("beat-unit")) != 1:
        return None
    dotted = 1.5 if node.find("beat-unit-dot") is not None else 1.0
    return float(found[0]) * unit * dotted
