"""Wording follows the trade's habits: what happened, where, why, one thing to do; no scolding."""

import json
import re
from dataclasses import replace

import pytest

from changewright.ear._words import beat_text
from changewright.ear.document import hearing_document
from changewright.ear.hearing import Hearing
from changewright.ear.judge import judge
from changewright.ear.remarks import Remarks, remarks
from changewright.ear.take import Take
from tests.unit.ear.exercises import Slot, clock_of, exact_take, root_up, slots

SCOLDING = re.compile(
    r"\b(wrong|bad|fail\w*|poor|mistake\w*|error\w*|incorrect|should have|you didn't|\d+ ?%)\b",
    re.I,
)


def hearing_of(played: list[Slot]) -> Hearing:
    sheet = root_up()
    return judge(sheet, exact_take(played), clock_of(sheet))


def spoiled() -> list[Slot]:
    sheet = root_up()
    played, beat = slots(sheet), clock_of(sheet).quarter_s
    played[9] = replace(played[9], midi=played[9].midi + 1)
    played[24] = replace(played[24], onset_s=played[24].onset_s + beat / 2, length_s=beat / 4)
    del played[17]
    return played


def test_one_strength_one_correction_one_suggestion_and_then_the_bars() -> None:
    said = remarks(hearing_of(spoiled()))
    assert said.strength
    assert said.strength.bars == (8, 9, 10, 11, 12)
    assert said.correction
    assert said.suggestion
    assert [b.number for b in said.bars] == list(range(1, 13))
    assert len(said.questions) == 3


def test_notes_are_named_as_the_player_reads_them() -> None:
    """A tenor reads a major ninth above: concert A over F7 is B over G7 on the page."""
    said = remarks(hearing_of(spoiled()))
    assert said.correction is not None
    assert said.correction.text.startswith("Bar 3 beat 2 sits on C, the 4th over G7;")
    assert "asks for B, the 3rd of G7" in said.correction.text
    assert said.bars[2].text == "Beat 2 has C where B is asked."
    assert said.bars[6].text == "The G due on beat 1 comes about half a beat late."


def test_a_missing_note_is_not_heard_and_nobody_is_told_he_did_not_play_it() -> None:
    said = remarks(hearing_of(spoiled()))
    assert said.bars[4].text == "Beat 2: no note was heard where E is asked."


def test_losing_the_form_comes_before_everything_else() -> None:
    sheet = root_up()
    beat = clock_of(sheet).quarter_s
    played = [s for s in slots(sheet) if not 32 <= s.at < 36]
    played = [replace(s, onset_s=s.onset_s - 4 * beat) if s.at >= 36 else s for s in played]
    played[3] = replace(played[3], midi=played[3].midi + 1)
    said = remarks(hearing_of(played))
    assert said.correction is not None
    assert said.correction.text.startswith("Bars 1-8 are in place. From bar 9 you were a bar ahead")
    assert said.bars[9].text == "heard a bar ahead in the form."


def test_a_take_that_stops_early_says_where() -> None:
    said = remarks(hearing_of(slots(root_up())[:36]))
    assert said.correction is not None
    assert said.correction.text.startswith("The take stops after bar 9; bars 10-12 are still")


def every_kind() -> list[Remarks]:
    sheet = root_up()
    drifting = [replace(s, onset_s=s.onset_s * 1.012) for s in slots(sheet)]
    takes = [spoiled(), slots(sheet), slots(sheet)[:30], slots(sheet)[10:], drifting, []]
    return [remarks(hearing_of(t)) for t in takes]


@pytest.mark.parametrize("said", every_kind(), ids=range(6))
def test_no_scolding_no_percentages_and_the_limits_are_said(said: Remarks) -> None:
    lines = said.lines()
    assert lines[-1] == said.caveat
    assert "human judges" in said.caveat
    for line in lines:
        assert not SCOLDING.search(line), line
        assert line[0].isupper()
        assert line.endswith((".", "?"))


def test_a_take_that_cannot_be_judged_gets_its_reason_and_nothing_else() -> None:
    sheet = root_up()
    said = remarks(judge(sheet, Take((), 40.0), clock_of(sheet)))
    assert said.headline.startswith("No notes could be heard")
    assert (said.strength, said.correction, said.suggestion, said.bars) == (None, None, None, ())


def test_the_document_is_json_and_agrees_with_the_hearing() -> None:
    hearing = hearing_of(spoiled())
    document = json.loads(json.dumps(hearing_document(hearing), allow_nan=False))
    assert document["format"] == "changewright-hearing/1"
    assert [(m["bar"], m["beat"], m["fault"]) for m in document["mistakes"]] == [
        (3, "2", "another note"),
        (5, "2", "no note"),
        (7, "1", "late"),
    ]
    assert document["counts"]["note"] == {"asked": 48, "met": 45, "missed": 3, "unsure": 0}
    for bar in document["bars"]:
        assert len(bar["asked"]) == len(bar["met"]) + len(bar["missed"]) + len(bar["unsure"])
    assert "score" not in json.dumps(document)


@pytest.mark.parametrize(
    ("label", "said"),
    [("3", "beat 3"), ("2.5", "the 'and' of 2"), ("1.75", "the inside of beat 1")],
)
def test_beats_are_named_as_people_name_them(label: str, said: str) -> None:
    """Common practice, no source."""
    assert beat_text(label) == said
