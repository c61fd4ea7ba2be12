"""Tables of languages: whole, each with its own words."""

import string

import pytest

from changewright.errors import UnknownName
from changewright.lesson.family import families
from changewright.page.language import language, languages
from changewright.page.look import printable
from changewright.theory.key import Key
from changewright.usecases.book_editions import GROUPS

ENGLISH = language("en")


def fields(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


@pytest.mark.parametrize("code", languages())
def test_every_language_says_what_english_says(code):
    other = language(code)
    for table in ("words", "modes", "readers", "rights", "cautions"):
        assert set(other.tables[table]) == set(ENGLISH.tables[table])
        for name, text in other.tables[table].items():
            assert fields(text) == fields(ENGLISH.tables[table][name])
            assert "?" not in printable(text)


@pytest.mark.parametrize("code", languages())
def test_families_and_groups_are_those_of_the_house(code):
    assert set(language(code).tables["families"]) <= set(families())
    assert set(language(code).tables["readers"]) == set(GROUPS)


def test_german_names_every_family_and_keys_by_its_custom():
    german = language("de")
    assert set(german.tables["families"]) == set(families())
    # Duden: Dur and Moll follow the tonic with a hyphen.
    assert german.key(Key.parse("Bb")) == "B♭-Dur"
    assert german.key(Key.parse("F#m")) == "F♯-Moll"
    assert ENGLISH.key(Key.parse("F#m")) == "F♯ minor"


def test_details_of_rights_stay_as_they_are():
    assert ENGLISH.rights("licensed, permission on file") == "licensed, permission on file"
    assert language("de").rights("public domain, 1921") == "gemeinfrei, 1921"


def test_an_unknown_language_lists_those_we_have():
    with pytest.raises(UnknownName, match="de, en"):
        language("xx")
