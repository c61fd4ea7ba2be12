"""The reading as a document: plain values in the documented shape."""

import json

from changewright.reading.analyse import analyse
from changewright.reading.document import reading_document
from tests.unit.reading.forms import chart

TEXT = "Cmaj7 A7(b9)|Dm7 G7|Cmaj7|N.C."


def test_document_is_plain_json_and_comes_back_the_same() -> None:
    document = reading_document(analyse(chart(TEXT)))
    assert json.loads(json.dumps(document)) == document


def test_every_change_has_its_tonic_and_one_of_five_functions() -> None:
    document = reading_document(analyse(chart(TEXT)))
    changes = document["changes"]
    assert len(changes) == 6
    assert {one["function"] for one in changes} <= set("TDSCP")
    assert [one["local_tonic_pc"] for one in changes] == [0] * 6
    assert [one["onset"] for one in changes[:3]] == ["0", "2", "4"]


def test_shape_is_the_documented_one() -> None:
    document = reading_document(analyse(chart(TEXT)), tempo_bpm=160)
    assert set(document) == {
        "format", "title", "key", "colour", "cost", "other_homes", "changes", "areas",
        "cadences", "passages", "guide_lines", "questions", "joins",
        "difficulty",
    }  # fmt: skip
    assert set(document["changes"][0]) == {
        "bar", "beat", "onset", "duration", "symbol", "key", "numeral", "relation", "doing",
        "local_tonic", "local_tonic_pc", "function", "pinned", "tones", "scales", "others",
    }  # fmt: skip
    assert set(document["changes"][0]["scales"][0]) == {"scale", "tones", "because", "care", "rule"}
    assert document["difficulty"]["tempo_bpm"] == 160
    assert document["format"] == 1


def test_indices_point_at_changes() -> None:
    document = reading_document(analyse(chart("Dm7|G7|Cmaj7|%")))
    cadence = document["cadences"][0]
    assert document["changes"][cadence["first"]]["symbol"] == "Dm7"
    assert document["changes"][cadence["last"]]["symbol"] == "Cmaj7"
    note = document["guide_lines"][0]["notes"][-1]
    assert document["changes"][note["change"]]["symbol"] == "Cmaj7"
