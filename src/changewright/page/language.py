"""The words of the page in its language, one table a language; a new table is a new language."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from changewright.errors import UnknownName
from changewright.page.symbol import name_text
from changewright.theory.key import Key
from changewright.theory.scale import ScaleKind

__all__ = ["Language", "language", "languages"]


@dataclass(frozen=True, slots=True)
class Language:
    """Headings and short texts of a page. ``code`` is a language tag such as ``en``."""

    code: str
    name: str
    tables: Mapping[str, Mapping[str, str]]

    def word(self, name: str, **inside: object) -> str:
        """A heading or phrase, with what it names put in."""
        return self.tables["words"][name].format(**inside)

    def lesson(self, name: str, **inside: object) -> str:
        """A heading or phrase of a lesson sheet."""
        return self.tables["lesson"][name].format(**inside)

    def practice(self, name: str, **inside: object) -> str:
        """A step of practice, by the family of exercises or by what is to be done."""
        return self.tables["practice"][name].format(**inside)

    def listening(self, name: str, **inside: object) -> str:
        """What is listened for, or where."""
        return self.tables["listening"][name].format(**inside)

    def feel(self, feel: str, name: str) -> str:
        """A feel, as it comes where the table has no name of its own."""
        return self.tables["feels"].get(feel, name)

    def key(self, key: Key) -> str:
        """A key as this language writes it: ``B♭ major``."""
        return self.tables["modes"][key.mode].format(tonic=name_text(key.tonic))

    def caution(self, name: str) -> str:
        """A caution to print: ``hearing``, ``strain`` or ``rights``.

        Source: domain reference 10.1 to 10.3.
        """
        return self.tables["cautions"][name]

    def family(self, family: str, title: str) -> str:
        """The title of a family of exercises, as it comes where the table has none."""
        return self.tables["families"].get(family.partition(".")[0], title)

    def scale(self, kind: ScaleKind) -> str:
        """The name of a kind of scale, as it comes where the table has none."""
        return self.tables["scales"].get(kind.id, kind.name)

    def reader(self, edition: str, name: str) -> str:
        """For whom an edition or a part is, as it comes where the table has no words of its own."""
        return self.tables["readers"].get(edition) or self.tables["instruments"].get(edition, name)

    def rights(self, said: str) -> str:
        """What a chart says of its owner; details after a comma stay as they are."""
        kind, comma, details = said.partition(",")
        return self.tables["rights"].get(kind.strip(), kind.strip()) + comma + details


@cache
def languages() -> Mapping[str, Language]:
    """All languages by code."""
    folder = files("changewright.page").joinpath("languages")
    entries = sorted((e for e in folder.iterdir() if e.name.endswith(".toml")), key=str)
    found = (_read(e.name.removesuffix(".toml"), e.read_text("utf-8")) for e in entries)
    return MappingProxyType({one.code: one for one in found})


def language(code: str) -> Language:
    """A language by its code; raises :class:`UnknownName` with those we have."""
    if code not in languages():
        raise UnknownName("language", code, languages())
    return languages()[code]


def _read(code: str, text: str) -> Language:
    table = tomllib.loads(text)
    name = table.pop("name")
    return Language(code, name, MappingProxyType(table))
