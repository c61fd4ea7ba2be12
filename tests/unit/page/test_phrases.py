"""No English is left on a page in another language: every sentence that families say is known."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

import changewright.lesson.families
from changewright.chart.shelf import shelf_chart
from changewright.chart.unroll import unroll
from changewright.errors import InputError, Refusal
from changewright.lesson.compose import compose
from changewright.lesson.family import families
from changewright.lesson.level import levels
from changewright.lesson.player import Player
from changewright.page.language import language, languages
from changewright.page.phrases import aloud_in, instruction_in, unknown_sentences
from changewright.page.symbol import symbol_words
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instrument
from changewright.theory.scale import scale_kinds
from changewright.theory.symbols import read_symbol

OTHERS = sorted(set(languages()) - {"en"})
PLAYER = Player(instrument("clarinet"))
FOLDER = Path(changewright.lesson.families.__file__).parent
# Words that are English in any German sentence; those that both languages write alike are none.
ENGLISH = re.compile(
    r"\b(the|and|or|of|each|every|your|from|with|play|chord|note|bars?|beat|scale|by step|flat"
    r"|sharp|minor|over|section|open|below|above|then|let|allow|repeat)\b",
    re.I,
)


def said_by_families() -> list[str]:
    """Whole sentences in the sources of the families, docstrings and errors left out."""
    found = []
    for path in sorted(FOLDER.glob("*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        docs = {id(n.value) for n in ast.walk(tree) if isinstance(n, ast.Expr)}
        faults = {
            id(inner)
            for n in ast.walk(tree)
            if isinstance(n, ast.Call) and getattr(n.func, "id", "") in ("InputError", "Refusal")
            for inner in ast.walk(n)
        }
        found += [
            n.value
            for n in ast.walk(tree)
            if isinstance(n, ast.Constant)
            and isinstance(n.value, str)
            and id(n) not in docs | faults
            and re.fullmatch(r"[A-Z].* .*\.", n.value)
        ]
    return found


@pytest.mark.parametrize("code", OTHERS)
def test_every_sentence_in_the_families_is_known(code):
    said = said_by_families()
    assert len(said) > 30
    assert [one for one in said if unknown_sentences(one, code)] == []


def repairs() -> list[str]:
    """What the rules of composing offer where a line had to be relaxed."""
    found = []
    for path in sorted(FOLDER.parent.rglob("*.py")):
        found += [
            ast.literal_eval(node.value)
            for node in ast.walk(ast.parse(path.read_text("utf-8")))
            if isinstance(node, ast.keyword) and node.arg == "repair"
        ]
    return found


@pytest.mark.parametrize("code", OTHERS)
def test_what_was_relaxed_is_told_too(code):
    assert len(repairs()) > 20
    for words in repairs():
        where = "bar 3 beat 1, bar 4 beat 2, bar 5 beat 1 and 7 more places"
        told = instruction_in(f"Relaxed: {words} in {where} and {words} in bar 9 beat 3.", code)
        assert ENGLISH.findall(told) == [], told


@cache
def composed() -> list[str]:
    """What sheets of every family and variant say at levels low and high."""
    readings = [analyse(unroll(shelf_chart(n))) for n in ("quayside-blues", "long-gangplank")]
    found: dict[str, None] = {}
    for family in families().values():
        for variant in ("", *family.variants):
            name = f"{family.id}.{variant}" if variant else family.id
            for rung in (family.since, max(family.since, 6)):
                for reading in readings:
                    try:
                        sheet = compose(reading, PLAYER, levels()[rung], name, 1)
                    except (InputError, Refusal):
                        continue
                    found[sheet.instruction] = None
    return list(found)


@pytest.mark.slow
@pytest.mark.parametrize("code", OTHERS)
def test_no_sheet_has_an_english_instruction(code):
    assert len(composed()) > 40
    for text in composed():
        assert unknown_sentences(text, code) == []
        assert ENGLISH.findall(instruction_in(text, code)) == [], text


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize(
    "text",
    [
        "The phrase of bar 3 comes back in bars 5, 7 and 12, its notes as the chord wants them: "
        "hear it coming.",
        "The phrase of bar 3 comes back in bar 12: hear it coming.",
        "A set phrase starts in bar 1: know where it is before you get there.",
        "Play two bars, rest 6 bars, and count every one of them.",
        "Slide into the chord tone on the beat from a semitone below or the scale's note above; "
        "light approach, singing target.",
        "Start on the third and move by step, or stay, at every change. Into bars 3 and 4 no guide "
        "tone lies within a step: a skip of a third is right there.",
    ],
)
def test_sentences_with_places_are_put_together(code, text):
    assert unknown_sentences(text, code) == []
    told = instruction_in(text, code)
    assert ENGLISH.findall(told) == []
    assert re.findall(r"\d+", told) == re.findall(r"\d+", text)


def test_what_a_teacher_wrote_stays_as_it_came():
    text = "Breathe with the tide. One unbroken line: keep your direction when the chord changes."
    assert unknown_sentences(text, "de") == ["Breathe with the tide."]
    assert instruction_in(text, "de").startswith("Breathe with the tide. Eine Linie ohne Bruch")
    assert instruction_in(text, "en") == text


@pytest.mark.parametrize("code", OTHERS)
def test_changes_are_read_aloud_in_the_language_of_the_page(code):
    symbols = ("Bbm7b5", "F#7(#11)", "Cmaj7", "Abdim7", "Eaug", "G7/B", "Dm6", "N.C.", "Bbm(maj7)")
    for number, symbol in enumerate(symbols, start=1):
        text = f"Bar {number}, section A: {symbol_words(read_symbol(symbol))}, left open."
        told = aloud_in(text, code)
        assert ENGLISH.findall(told) == [], told
        assert aloud_in(text, "en") == text
    assert aloud_in("Bar 12: B flat 7 flat 9.", "de") == "Takt 12: B mit Be 7 Be 9."


@pytest.mark.parametrize("code", OTHERS)
def test_every_scale_has_a_name(code):
    names = language(code).tables["scales"]
    assert set(names) == set(scale_kinds())
    assert len(set(names.values())) == len(names)
