"""What is learned: a family of exercises over a progression, in a key, at a tempo, at a level."""

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from changewright.errors import UnknownName
from changewright.lesson.family import families
from changewright.reading.model import CadenceKind, PassageKind, Reading
from changewright.theory.instrument import Instrument
from changewright.theory.key import Key
from changewright.theory.transposition import transpose_key_for

__all__ = [
    "Progression",
    "Skill",
    "Strand",
    "key_words",
    "passages_of",
    "progression",
    "progression_of",
    "progressions",
    "skill_document",
    "skill_from",
    "table",
]


@dataclass(frozen=True, slots=True)
class Progression:
    """A kind of changes to be at home in; ``chart`` names the shelf's chart to practise it on."""

    id: str
    title: str
    mode: str
    since: int
    chart: str


@dataclass(frozen=True, slots=True, order=True)
class Strand:
    """One family over one progression at one level: what is taken through the keys."""

    level: int
    family: str
    progression: str

    def at(self, key: str, tempo_bpm: int) -> "Skill":
        """The strand in a concert key at a tempo in quarters a minute."""
        return Skill(self, key, tempo_bpm)

    @property
    def words(self) -> str:
        """``guide-tone line over a 12-bar blues``."""
        known = families().get(self.family.partition(".")[0])
        name = known.title if known else self.family
        over = progression(self.progression).title
        article = "" if over.startswith("dominants") else "an " if over[0] in "aeio" else "a "
        return f"{name[:1].lower()}{name[1:]} over {article}{over}"


@dataclass(frozen=True, slots=True, order=True)
class Skill:
    """A strand in a concert key at a tempo in quarters a minute."""

    strand: Strand
    key: str
    tempo_bpm: int

    @property
    def words(self) -> str:
        """``guide-tone line over a 12-bar blues in B flat, at 84``."""
        return f"{self.strand.words} in {key_words(self.key)}, at {self.tempo_bpm}"


def key_words(key: str, player: Instrument | None = None) -> str:
    """A concert key in words: ``B flat``, ``C minor``; for a player who reads another one, both:
    ``concert B flat, written C``."""
    concert = Key.parse(key)
    words = concert.words.removesuffix(" major")
    if player is None or player.written_up.fifths == 0:
        return words
    written = transpose_key_for(player, concert).words.removesuffix(" major")
    return f"concert {words}, written {written}"


@cache
def table(name: str) -> tuple[dict[str, str], ...]:
    """The rows of one of the room's tables."""
    text = files("changewright.plan").joinpath(f"tables/{name}.tsv").read_text("utf-8")
    return tuple(csv.DictReader(text.splitlines(), delimiter="\t"))


@cache
def progressions() -> dict[str, Progression]:
    """All progressions by id, the first to learn first.

    Source: the usual order of domain reference 1.2 (teaching practice, no outside source).
    """
    return {
        row["id"]: Progression(
            row["id"], row["title"], row["mode"], int(row["since"]), row["chart"]
        )
        for row in table("progressions")
    }


def progression(name: str) -> Progression:
    """A progression by id; raises :class:`UnknownName`."""
    if name not in progressions():
        raise UnknownName("progression", name, progressions())
    return progressions()[name]


_SHORT_BARS = 8
_COVERING = {
    PassageKind.MAJOR_THIRDS: "major-thirds",
    PassageKind.TURNAROUND: "turnaround",
    PassageKind.BACK_CYCLING: "back-cycling",
}
_CADENCES = {
    CadenceKind.TWO_FIVE_ONE: "two-five-one",
    CadenceKind.MINOR_TWO_FIVE_ONE: "minor-two-five-one",
}


def progression_of(reading: Reading) -> str:
    """What kind of changes a whole chorus is: the id of a progression."""
    if reading.colour == "blues":
        return "blues"
    chords = {one.change.chord for one in reading.changes if not one.change.chord.is_silent}
    if len(chords) <= 2:
        return "vamp"
    if len(reading.bars) == 12 and reading.key.mode == "minor":
        return "minor-blues"
    if len(reading.bars) <= _SHORT_BARS:
        return _short(reading)
    return "song"


def _short(reading: Reading) -> str:
    for passage in reading.passages:
        covered = passage.last_bar - passage.first_bar + 1
        if passage.kind in _COVERING and 2 * covered >= len(reading.bars):
            return _COVERING[passage.kind]
    found = [_CADENCES[c.kind] for c in reading.cadences if c.kind in _CADENCES]
    return found[0] if found else "song"


def passages_of(reading: Reading) -> tuple[tuple[str, Key, frozenset[int]], ...]:
    """The progressions inside a chorus: id, the key they lead to, and all their bars."""
    found: dict[tuple[str, Key], set[int]] = {}
    for cadence in reading.cadences:
        if cadence.kind in _CADENCES and cadence.first_bar <= cadence.last_bar:
            bars = range(cadence.first_bar, cadence.last_bar + 1)
            found.setdefault((_CADENCES[cadence.kind], cadence.key), set()).update(bars)
    return tuple((name, key, frozenset(bars)) for (name, key), bars in found.items())


def skill_document(skill: Skill) -> dict[str, Any]:
    """A skill as plain values."""
    return {
        "family": skill.strand.family,
        "progression": skill.strand.progression,
        "level": skill.strand.level,
        "key": skill.key,
        "tempo_bpm": skill.tempo_bpm,
    }


def skill_from(document: dict[str, Any]) -> Skill:
    """A skill from its plain values."""
    strand = Strand(document["level"], document["family"], document["progression"])
    return strand.at(document["key"], document["tempo_bpm"])
