"""The lesson sheet: how to practise, at which tempos, and a code to scan."""

import io
import re
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
import zxingcpp
from pypdf import PdfReader

from changewright.errors import InputError
from changewright.lesson.level import levels
from changewright.music.bar import Meter
from changewright.page import lesson_pdf
from changewright.page.code import code_svg, exercise_link
from changewright.page.language import languages
from changewright.page.listening import listening_clauses
from changewright.page.practice import comfort_bpm, practice_steps, second_key
from changewright.page.typography import curly
from changewright.theory.key import Key
from tests.unit.page.sheets import LETTERS, F, sheet_of

STUDIO = "https://studio.example:8443/quay"
SHEETS = (
    sheet_of(labels=LETTERS, seed=0),
    sheet_of(labels=LETTERS, seed=4, title="A second one", key="Gb"),
    sheet_of(blank=(2, 4), seed=0, title="Fill the blanks"),
)


def at_level(sheet, number: int, tempo_bpm: int | None = None, family: str = "root-up"):
    recipe = replace(sheet.recipe, level=number, family=family)
    known = levels().get(number)
    return replace(sheet, recipe=recipe, tempo_bpm=tempo_bpm or known.usual_tempo_bpm)


def text_of(data: bytes) -> str:
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages).split()
    )


def codes_in(data: bytes, dots_an_inch: int = 150) -> list[str]:
    """What a general-purpose reader of codes finds on the rendered pages, from the top down."""
    found = []
    for page in pypdfium2.PdfDocument(data):
        picture = page.render(scale=dots_an_inch / 72).to_numpy()
        codes = zxingcpp.read_barcodes(np.ascontiguousarray(picture))
        found += [c.text for c in sorted(codes, key=lambda c: c.position.top_left.y)]
    return found


# --- the steps ---


def test_steps_go_from_singing_to_two_keys():
    sheet = at_level(SHEETS[0], 1)
    steps = practice_steps(sheet)
    assert [step.bpm for step in steps] == [None, 60, 60, 68]
    assert steps[0].words.startswith("Sing")
    assert "bass alone" in steps[1].words
    # Arithmetic: a tenor reads a major ninth above concert F and B flat.
    assert steps[3].words == "Play it at the goal tempo in G, then in C."


@pytest.mark.parametrize("number", levels())
def test_the_comfort_tempo_lies_in_the_levels_band_a_little_below_the_goal(number):
    # Source: domain reference 1.5 (two tempos), 5.1 (bands by level).
    sheet = at_level(SHEETS[0], number)
    low, high = levels()[number].tempo_bpm
    comfort = comfort_bpm(sheet)
    assert low <= comfort < sheet.tempo_bpm <= high
    assert 0.74 * sheet.tempo_bpm <= comfort <= 0.91 * sheet.tempo_bpm


@pytest.mark.parametrize("tempo", [20, 40, 54, 60, 90, 250, 400])
def test_a_teachers_own_tempo_is_the_goal(tempo):
    sheet = at_level(SHEETS[0], 1, tempo)
    assert comfort_bpm(sheet) < practice_steps(sheet)[3].bpm == tempo
    unknown = at_level(SHEETS[0], 99, tempo)
    assert comfort_bpm(unknown) == 2 * round(0.4 * tempo)
    assert second_key(unknown) is None
    assert practice_steps(unknown)[3].words == "Play it at the goal tempo in two keys."


@pytest.mark.parametrize("number", levels())
def test_the_second_key_is_another_of_the_levels_keys(number):
    keys = levels()[number].keys
    for name in keys:
        sheet = replace(at_level(SHEETS[0], number), key=Key.parse(name))
        other = second_key(sheet)
        assert str(other) in keys
        assert other != sheet.key
    minor = second_key(replace(at_level(SHEETS[0], number), key=Key.parse("Dm")))
    assert minor.mode == "minor"
    assert str(Key.parse("F")) in keys
    assert minor.signature in {Key.parse(name).signature for name in keys}


def test_a_bass_player_begins_with_the_drums_and_brass_rests():
    bass = practice_steps(sheet_of(instrument_id="double bass"))
    assert "drums alone" in bass[1].words
    trombone = practice_steps(sheet_of(instrument_id="trombone"))
    assert "rest as long as you played" in trombone[2].words
    assert "rest" not in practice_steps(SHEETS[0])[2].words


@pytest.mark.parametrize(
    ("family", "word"),
    [("rhythm-only", "Clap"), ("targets", "targets"), ("call-and-response.copy", "call")],
)
def test_some_families_begin_in_their_own_way(family, word):
    assert word in practice_steps(at_level(SHEETS[0], 3, family=family))[0].words


def test_blanks_are_pencilled_in():
    assert "pencil" in practice_steps(SHEETS[2])[0].words
    assert "pencil" not in practice_steps(SHEETS[0])[0].words


def test_each_exercise_has_its_steps_on_the_page():
    text = text_of(lesson_pdf(SHEETS, title="Week 3"))
    assert text.count("Practise") == 3
    assert text.count("whole band.") == 3
    assert text.count("= 74") == 6  # twice the comfort tempo of each, four fifths of 92
    assert text.count("= 92") == 6  # the head and the goal
    assert "in the studio" not in text
    assert "Practise" not in text_of(lesson_pdf(SHEETS, title="Week 3", practice=False))


def test_answers_are_not_practised_again():
    text = text_of(lesson_pdf(SHEETS, title="Week 3", answer_key=True))
    assert text.count("Practise") == 3


def test_compound_time_counts_dotted_quarters():
    sheet = at_level(
        sheet_of([("F7", 12), ("Bb7", 12)], meter=Meter(12, 8), rhythm=(F(3, 2),) * 4), 1, 90
    )
    text = text_of(lesson_pdf([sheet], title="Week 3"))
    assert [int(n) for n in re.findall(r"= (\d+)", text)] == [60, 48, 48, 60]


# --- the code to scan ---


@pytest.mark.parametrize("size", ["usual", "large"])
@pytest.mark.parametrize("look", ["plain", "handwritten"])
def test_each_code_opens_its_own_exercise(look, size):
    data = lesson_pdf(SHEETS, title="Week 3", studio=STUDIO, look=look, size=size)
    assert codes_in(data) == [exercise_link(STUDIO, s.recipe.label) for s in SHEETS]


def test_codes_are_vectors_and_can_be_clicked():
    reader = PdfReader(io.BytesIO(lesson_pdf(SHEETS[:1], title="Week 3", studio=STUDIO)))
    assert not [image for page in reader.pages for image in page.images]
    (link,) = (a.get_object() for page in reader.pages for a in page.get("/Annots", ()))
    assert link["/A"]["/URI"] == exercise_link(STUDIO, SHEETS[0].recipe.label)


def test_without_a_studio_there_is_no_code():
    assert codes_in(lesson_pdf(SHEETS, title="Week 3")) == []


def test_sharps_and_odd_labels_survive_the_address():
    assert exercise_link(" https://a.example/ ", "root-up.down/L5/F#/1-00ff00") == (
        "https://a.example/exercise/root-up.down/L5/F%23/1-00ff00"
    )


@pytest.mark.parametrize(
    "address",
    [
        "",
        "studio.example",
        "ftp://studio.example",
        "javascript:alert(1)",
        "https://",
        "https://a b.example",
        "https://a.example/?q=1",
        "https://a.example/#top",
        "https://a.example:99999",
        "https://[::1",
        "https://dünen.example",
        "https://a.example/" + "x" * 400,
        "https://a.example/\x00",
    ],
)
def test_what_is_no_address_is_refused(address):
    with pytest.raises(InputError, match="no address of a studio"):
        lesson_pdf(SHEETS[:1], title="Week 3", studio=address)


def test_same_link_same_code():
    assert code_svg("https://a.example/x") == code_svg("https://a.example/x")
    assert code_svg("https://a.example/x") != code_svg("https://a.example/y")


# --- how exercises share pages ---


def test_gaps_give_way_before_a_page_is_wasted():
    """Three exercises of three systems and their steps: two pages, not three."""
    sheets = [sheet_of(labels=LETTERS, seed=0, instrument_id="trumpet")] * 3
    assert len(PdfReader(io.BytesIO(lesson_pdf(sheets, title="Week 3"))).pages) == 2


# --- typography ---


@pytest.mark.parametrize(
    ("typed", "set_"),
    [
        ("the chord's third", "the chord’s third"),
        ("Harbourmasters' Round", "Harbourmasters’ Round"),
        ('say "one" and "two"', "say “one” and “two”"),
        ("'quoted'", "‘quoted’"),
        ('"\'Both\'," she said', "“‘Both’,” she said"),
        ("(\"aside\")", "(“aside”)"),
        ("'Round the buoy in the '60s", "’Round the buoy in the ’60s"),
        ("rock 'n' roll", "rock ’n’ roll"),
        ("no marks", "no marks"),
        ("’already’ “set”", "’already’ “set”"),
    ],
)  # fmt: skip
def test_marks_are_a_printers(typed, set_):
    # Source: common practice, no source.
    assert curly(typed) == set_
    assert curly(set_) == set_


def test_titles_and_instructions_are_set_with_them():
    sheet = replace(SHEETS[0], instruction='Keep the band\'s "and" in mind.')
    text = text_of(lesson_pdf([sheet], title="The harbourmaster's round"))
    assert "The harbourmaster’s round" in text
    assert "the band’s “and” in mind" in text


def test_a_sheet_in_a_second_language_says_nothing_in_english_but_what_it_must():
    told = {"title": "Woche 3", "studio": STUDIO, "answer_key": True, "in_language": "de"}
    data = lesson_pdf([at_level(sheet, 3) for sheet in SHEETS], **told)
    text, root = text_of(data), PdfReader(io.BytesIO(data)).trailer["/Root"]
    for wanted in (
        "1. Akkordtöne vom Grundton aufwärts", "Zu hören: auf", "landen", "Üben", "Seite 1 / ",
        "Im Studio spielen", "Langsam spielen, nur mit dem Bass.", "Leise anfangen.", "Lösungen",
        "Im Zieltempo spielen, in G, dann", "Klingend F-Dur · notiert in G-Dur für Tenorsaxophon",
    ):  # fmt: skip
        assert wanted in text, wanted
    for english in ("Practise", "Play it", "Listen for", "Answers", "Page", "Concert", "land on"):
        assert english not in text, english
    assert root["/Lang"] == "de"


def test_practice_and_listening_speak_every_language():
    for sheet in (at_level(SHEETS[0], 3), at_level(SHEETS[2], 2, family="targets")):
        steps = [practice_steps(sheet, code) for code in languages()]
        assert {tuple(step.bpm for step in row) for row in steps} == {
            tuple(step.bpm for step in steps[0])
        }
        for row in zip(*steps, strict=True):
            assert len({step.words for step in row}) == len(languages())
        clauses = [listening_clauses(sheet, code) for code in languages()]
        assert len({len(row) for row in clauses}) == 1
        assert len({row[0][0] for row in clauses}) == len(languages())
