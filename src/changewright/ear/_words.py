"""Names and small phrases for remarks: notes as the player reads them, degrees, bars, amounts."""

from collections.abc import Sequence

from changewright.ear.hearing import Finding, Hearing, Mistake
from changewright.ear.take import HeardNote
from changewright.music.bar import Change, Quarters
from changewright.theory.instrument import Instrument
from changewright.theory.key import Key
from changewright.theory.pitch import Degree, Name

__all__ = [
    "amount",
    "asked_name",
    "bars_text",
    "beat_text",
    "chord_text",
    "concert_name",
    "degree_text",
    "heard_name",
    "listed",
    "name_as_read",
    "place_text",
]

_PLAIN = {1: "root", 2: "2nd", 3: "3rd", 4: "4th", 5: "5th", 6: "6th", 7: "7th"}
_COLOUR = {9: "9th", 11: "11th", 13: "13th"}
_BESIDE = ("root", "b9", "9th", "3rd", "3rd", "4th", "#11", "5th", "b13", "13th", "7th", "7th")


def asked_name(finding: Finding, hearing: Hearing) -> str:
    """The written note's name as the player reads it, without its octave."""
    if finding.ask.pitch is None:
        return "the note asked for"
    return str((finding.ask.pitch + hearing.instrument.written_up).name)


def heard_name(note: HeardNote, hearing: Hearing) -> str:
    """A heard note's name as the player would read it, spelled by the key."""
    return name_as_read(note.pc, hearing.key, hearing.instrument)


def name_as_read(pc: int, key: Key, instrument: Instrument | None) -> str:
    """A concert pitch class by the name that the player reads, spelled by the concert key; the
    concert name where the instrument isn't known."""
    concert = concert_name(pc, key)
    return str(concert + instrument.written_up if instrument else concert)


def concert_name(pc: int, key: Key) -> Name:
    """A pitch class spelled by the key: from a flat second to a raised fourth."""
    lowest = key.tonic.fifths - 5
    return next(Name(f) for f in range(lowest, lowest + 12) if Name(f).pc == pc)


def change_of(at: Quarters, hearing: Hearing) -> Change:
    """The change in force at an instant of the chorus."""
    changes = [c for bar in hearing.grid for c in bar.changes]
    return next((c for c in changes if c.onset <= at < c.end), changes[-1])


def chord_text(at: Quarters, hearing: Hearing) -> str:
    """The chord there, its root as the player reads it."""
    change = change_of(at, hearing)
    root = change.chord.root
    if root is None:
        return "N.C."
    tail = change.text.removeprefix(str(root)) if change.text.startswith(str(root)) else ""
    return f"{root + hearing.instrument.written_up}{tail}"


def degree_text(at: Quarters, pc: int, hearing: Hearing) -> str:
    """What a pitch class is over the chord there: "3rd", "b7", "4th"; empty under N.C."""
    chord = change_of(at, hearing).chord
    if chord.root is None:
        return ""
    above = (pc - chord.root.pc) % 12
    own = next((d for d in chord.degrees if d.pc == above), None)
    return _own_text(own) if own else _outside_text(above, hearing, at)


def _own_text(degree: Degree) -> str:
    return _PLAIN.get(degree.number) or _COLOUR.get(degree.number) or str(degree)


def _outside_text(above: int, hearing: Hearing, at: Quarters) -> str:
    has_minor = any(d.number == 3 and d.alter == -1 for d in change_of(at, hearing).chord.degrees)
    names = {
        3: "major 3rd" if has_minor else "minor 3rd",
        4: "major 3rd",
        10: "minor 7th",
        11: "major 7th",
    }
    return names.get(above, _BESIDE[above])


def bars_text(numbers: Sequence[int]) -> str:
    """Bars as people say them: "bar 3", "bars 3-5 and 9"."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    texts = [str(a) if a == b else f"{a}-{b}" for a, b in runs]
    return f"{'bar' if len(set(numbers)) == 1 else 'bars'} {listed(texts)}"


def beat_text(beat: str) -> str:
    """A beat as people say it: "beat 2", "the 'and' of 2"; anything finer lies inside its beat."""
    whole, _, part = beat.partition(".")
    if not part:
        return f"beat {whole}"
    return f"the 'and' of {whole}" if part == "5" else f"the inside of beat {whole}"


def listed(parts: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def place_text(mistake: Mistake) -> str:
    """Where: "bar 3 beat 2", "the 'and' of 2 in bar 3"."""
    if mistake.beat.isdigit():
        return f"bar {mistake.bar} beat {mistake.beat}"
    return f"{beat_text(mistake.beat)} in bar {mistake.bar}"


def amount(beats: float) -> str:
    """How much, in beats, as a teacher says it."""
    size = abs(beats)
    if size < 0.3:
        return "about a quarter of a beat"
    if size < 0.42:
        return "about a third of a beat"
    if size < 0.62:
        return "about half a beat"
    if size < 0.85:
        return "most of a beat"
    return "about a beat" if size < 1.3 else f"about {round(size)} beats"
