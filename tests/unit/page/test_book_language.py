"""Tables of languages: whole, each with its own words."""

import string

import pytest

from changewright.band.feel import feels
from changewright.errors import UnknownName
from changewright.lesson.family import families
from changewright.page.language import language, languages
from changewright.page.look import printable
from changewright.theory.instrument import instruments
from changewright.theory.key import Key
from changewright.theory.scale import scale_kinds
from changewright.usecases.book_editions import GROUPS

ENGLISH = language("en")
NAMED = {
    "families": set(families()),
    "feels": set(feels()),
    "instruments": set(instruments()),
    "scales": set(scale_kinds()),
}
FROM_ENGLISH = {"instructions", "pieces", "aloud"}  # tables whose keys are English: test_phrases


def fields(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


@pytest.mark.parametrize("code", languages())
def test_every_language_says_what_english_says(code):
    other = language(code)
    assert set(other.tables) == set(ENGLISH.tables)
    for table in set(other.tables) - set(NAMED) - FROM_ENGLISH:
        assert set(other.tables[table]) == set(ENGLISH.tables[table])
        for name, text in other.tables[table].items():
            assert fields(text) == fields(ENGLISH.tables[table][name])
            assert "?" not in printable(text)


@pytest.mark.parametrize("code", languages())
def test_a_translation_keeps_the_places_of_its_sentence(code):
    for table in FROM_ENGLISH:
        for english, text in language(code).tables[table].items():
            assert fields(text) == fields(english)
            assert "?" not in printable(text)


@pytest.mark.parametrize("code", languages())
def test_families_and_groups_are_those_of_the_house(code):
    for table, known in NAMED.items():
        assert set(language(code).tables[table]) <= known
    assert set(language(code).tables["readers"]) == set(GROUPS)


@pytest.mark.parametrize("code", set(languages()) - {"en"})
def test_other_languages_name_every_family_feel_and_instrument(code):
    # English names stand where these are made; a table need not say them again.
    for table, known in NAMED.items():
        assert set(language(code).tables[table]) == known
        assert "?" not in printable(" ".join(language(code).tables[table].values()))


def test_german_writes_keys_by_its_custom():
    german = language("de")
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
