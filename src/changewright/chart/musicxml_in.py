"""Read a lead sheet from MusicXML: its changes, its form, and its melody if there is one.

Everything comes out at concert pitch. Source: W3C MusicXML 4.0; how repeats without a
beginning and endings without an end are meant: common practice.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, zip_longest

from changewright.chart.chart import RIGHTS, SECTION_NAME, Chart
from changewright.chart.musicxml_score import KEPT, Draft, Tone, read_measures
from changewright.chart.repeats_in import repeat_marks
from changewright.chart.roads import MarkFault
from changewright.chart.written import Jump, Marks, Sung, WrittenBar, WrittenChord, chord_of
from changewright.chart.xml_door import Node, is_zip, parse_xml, unpack_mxl
from changewright.errors import ChartError, Place
from changewright.music.bar import Quarters, beat_label
from changewright.theory.key import Key
from changewright.theory.pitch import Name

__all__ = ["read_musicxml"]


def read_musicxml(content: bytes, name: str = "score") -> Chart:
    """Read a MusicXML score, plain or compressed, as a chart.

    Of several parts the one with the most chord symbols is read, of its notes the first voice.
    Raises :class:`ChartError` with the measure where the score makes no sense.
    """
    if is_zip(content):
        content = unpack_mxl(content, name)
    root = _partwise(parse_xml(content, name, KEPT), name)
    drafts = read_measures(_lead(root, name), name)
    bars = _with_modes(_bars(drafts, name), drafts)
    try:
        return Chart(bars=tuple(bars), **_heading(root, drafts, name))
    except MarkFault as fault:
        number = fault.index if bars[0].pickup else fault.index + 1
        remedy = "Mend the repeat signs and jumps in the score, and export it again."
        raise ChartError(fault.what, where=Place(name, bar=number), remedy=remedy) from None
    except ValueError as error:
        raise ChartError(f"this score is no chart: {error}", where=Place(name)) from None


def _partwise(root: Node, name: str) -> Node:
    if root.tag == "score-timewise":
        return _turned(root)
    if root.tag != "score-partwise":
        raise ChartError(
            f"<{root.tag[:40]}> isn't a MusicXML score",
            where=Place(name, root.line),
            remedy="Export the lead sheet as MusicXML.",
        )
    return root


def _turned(root: Node) -> Node:
    """A score written measure by measure, turned to part by part."""
    parts: dict[str, Node] = {}
    for measure in root.all("measure"):
        for part in measure.all("part"):
            whole = parts.setdefault(part.get("id"), Node("part", part.attributes, part.line))
            whole.children.append(
                Node("measure", measure.attributes, part.line, children=part.children)
            )
    others = [child for child in root.children if child.tag != "measure"]
    return Node(root.tag, root.attributes, root.line, [*others, *parts.values()])


def _lead(root: Node, name: str) -> Node:
    def symbols(part: Node) -> int:
        return sum(len(measure.all("harmony")) for measure in part.all("measure"))

    best = max(root.all("part"), key=symbols, default=None)
    if best is None or symbols(best) == 0:
        raise ChartError(
            "this score has no chord symbols",
            where=Place(name),
            remedy="Add the changes as chord symbols (not as plain text) and export it again.",
        )
    return best


def _heading(root: Node, drafts: Sequence[Draft], name: str) -> Marks:
    identity = root.find("identification") or Node("identification", {}, 0)
    title = root.said("work", "work-title") or root.said("movement-title")
    composer = next((c.text for c in identity.all("creator") if c.get("type") == "composer"), "")
    rights = _line(identity.said("rights"))
    tempo = next((draft.tempo for draft in drafts if draft.tempo), 120.0)
    is_known = rights.split(",")[0] in RIGHTS
    return {
        "title": _line(title) or _line(re.sub(r"\.\w+$", "", name)) or "untitled",
        "by": _line(composer),
        "rights": rights if is_known else f"unknown, {rights}"[:200].strip(", "),
        "tempo_bpm": min(max(round(tempo), 20), 400),
        "feel": _feel(identity, drafts),
    }


def _line(text: str) -> str:
    printable = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(printable.split())[:200].strip()


_FEELS = (
    (r"bossa", "bossa"),
    (r"waltz", "jazz waltz"),
    (r"shuffle", "shuffle"),
    (r"funk", "funk"),
    (r"ballad", "ballad"),
    (r"straight|even", "even eighths"),
)


def _feel(identity: Node, drafts: Sequence[Draft]) -> str:
    for field in (identity.find("miscellaneous") or identity).all("miscellaneous-field"):
        if field.get("name") == "feel" and _line(field.text):
            return _line(field.text)
    words = " ".join(drafts[0].words).lower()
    return next((feel for pattern, feel in _FEELS if re.search(pattern, words)), "swing")


def _bars(drafts: Sequence[Draft], name: str) -> list[WrittenBar]:
    has_pickup = _is_pickup(drafts[0]) and len(drafts) > 1
    marks = _marks(drafts, has_pickup, name)
    voice = _melody_voice(drafts)
    bars: list[WrittenBar] = []
    for index, draft in enumerate(drafts):
        number = index if has_pickup else index + 1
        is_pickup = has_pickup and index == 0
        length = draft.filled if is_pickup else draft.meter.length
        if not is_pickup:
            _check_length(draft, index, len(drafts), number, name)
        held = bars[-1].chords[-1].text if bars else "N.C."
        bars.append(
            WrittenBar(
                tuple(WrittenChord(text, span) for text, span in _spans(draft, length, held)),
                draft.meter,
                draft.key,
                pickup=is_pickup,
                melody=_melody(draft.voices.get(voice, []), length, bars),
                **marks[index],
            )
        )
    return bars


def _with_modes(bars: list[WrittenBar], drafts: Sequence[Draft]) -> list[WrittenBar]:
    """Where a signature comes without a mode, a tune that ends on the relative minor is minor."""
    last = chord_of(bars[-1].chords[-1].text)
    unsaid = {draft.key for draft in drafts if not draft.has_mode and draft.key is not None}
    minor = {key: Key(Name(key.tonic.fifths + 3), "minor") for key in unsaid}
    home = bars[-1].key
    if home not in minor or not last.has(3, -1) or last.root != minor[home].tonic:
        return bars
    return [
        replace(bar, key=minor[home]) if bar.key == home and not draft.has_mode else bar
        for bar, draft in zip(bars, drafts, strict=True)
    ]


def _is_pickup(draft: Draft) -> bool:
    return 0 < draft.filled < draft.meter.length


def _check_length(draft: Draft, index: int, count: int, number: int, name: str) -> None:
    """A short bar is fine where it completes a pickup or is called a part of a bar."""
    beat = draft.meter.beat
    end = beat_label(min(draft.filled, draft.meter.length), draft.meter)
    where = Place(name, draft.node.line, bar=number, beat=end)
    if draft.filled > draft.meter.length:
        raise ChartError(
            f"the bar is too full: {draft.filled / beat} beats in {draft.meter}",
            where=where,
            remedy="Take notes away, or write the meter that the bar has.",
        )
    may_be_short = draft.is_implicit or index == count - 1 or draft.backward or not draft.filled
    if draft.filled < draft.meter.length and not may_be_short:
        raise ChartError(
            f"the bar is too short: {draft.filled / beat} beats in {draft.meter}",
            where=where,
            remedy="Fill it with notes or rests, or write the meter that the bar has.",
        )


def _spans(draft: Draft, length: Quarters, held: str) -> Iterator[tuple[str, Quarters]]:
    """Tile a bar with its chords; ``held`` sounds until the first one."""
    inside = sorted((at, text) for at, text in draft.chords if at < length)
    if not inside or inside[0][0] > 0:
        inside.insert(0, (Fraction(0), held))
    for (at, text), (end, _) in pairwise([*inside, (length, "")]):
        yield text, end - at


def _melody_voice(drafts: Sequence[Draft]) -> str:
    """The first voice: the lowest number in use."""
    voices = {voice for draft in drafts for voice, tones in draft.voices.items() if tones}
    return min(voices, key=lambda v: (len(v), v), default="1")


def _melody(tones: Sequence[Tone], length: Quarters, bars: list[WrittenBar]) -> tuple[Sung, ...]:
    pieces: list[Sung] = []
    at = Fraction(0)
    before = bars[-1].melody if bars else ()
    last = before[-1].pitch if before else None
    for tone, following in zip_longest(tones, tones[1:]):
        stop = min(tone.onset + tone.duration, following.onset if following else length, length)
        if stop <= tone.onset:
            continue
        if tone.onset > at:
            pieces.append(Sung(None, tone.onset - at))
        goes_on = tone.is_tied and tone.onset == at
        if goes_on and pieces and pieces[-1].pitch == tone.pitch:
            pieces[-1] = replace(pieces[-1], length=pieces[-1].length + stop - tone.onset)
        else:
            held = goes_on and not pieces and last == tone.pitch
            pieces.append(Sung(tone.pitch, stop - tone.onset, held))
        at = stop
    if pieces and at < length:
        pieces.append(Sung(None, length - at))
    return tuple(pieces)


def _marks(drafts: Sequence[Draft], has_pickup: bool, name: str) -> list[Marks]:
    first = 1 if has_pickup else 0
    marks = repeat_marks(drafts, first, name)
    labels = _labels(drafts)
    for index in range(first, len(drafts)):
        if labels[index]:
            marks[index]["section"] = labels[index]
    _signs(drafts, marks, first)
    return marks


def _labels(drafts: Sequence[Draft]) -> list[str]:
    """Rehearsal letters as section names, each used once."""
    used: set[str] = set()
    labels = []
    for draft in drafts:
        word = re.sub(r"[^A-Za-z0-9'-]", "", draft.label)[:20]
        word = word if not word or SECTION_NAME.fullmatch(word) else f"S{word}"[:20]
        name, turn = word, 2
        while name and name in used:
            name, turn = f"{word}-{turn}", turn + 1
        used.add(name)
        labels.append(name)
    return labels


def _signs(drafts: Sequence[Draft], marks: list[Marks], first: int) -> None:
    """Signs, codas and the way back. A coda glyph without a meaning of its own is "to coda"
    where another follows, else the coda itself."""
    glyphs = [i for i, draft in enumerate(drafts) if "glyph coda" in draft.marks]
    says = {"tocoda", "coda"} <= _everywhere(drafts)
    for index, draft in enumerate(drafts):
        if index < first:
            continue
        own, mark = marks[index], draft.marks
        is_glyph = not says and index in glyphs and "tocoda" not in mark and "coda" not in mark
        own["sign"] = bool({"segno", "glyph segno"} & mark)
        own["to_coda"] = "tocoda" in mark or (is_glyph and index != glyphs[-1])
        own["coda"] = "coda" in mark or (is_glyph and index == glyphs[-1])
        own["fine"] = "fine" in mark
        own["jump"] = _jump(mark, drafts)


def _jump(mark: set[str], drafts: Sequence[Draft]) -> Jump | None:
    if not {"dacapo", "dalsegno"} & mark:
        return None
    everywhere = _everywhere(drafts)
    has_coda = "then coda" in mark or ("then end" not in mark and "tocoda" in everywhere)
    has_end = "then end" in mark or "fine" in everywhere
    then = "coda" if has_coda else "end" if has_end else ""
    return Jump("sign" if "dalsegno" in mark else "top", then)  # type: ignore[arg-type]


def _everywhere(drafts: Sequence[Draft]) -> set[str]:
    return {mark for draft in drafts for mark in draft.marks}
