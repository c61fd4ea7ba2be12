"""The shelf's charts, bar by bar, against the trade's forms in roman numerals.

The numerals are common practice; the blues, the forms with a cycle bridge, the backdoor cadence
and the major-third cycle follow the open textbooks named in the domain reference, section 4.
"""

import re

import pytest

from changewright.chart.reader import read_chart
from changewright.chart.shelf import shelf, shelf_chart
from changewright.chart.unroll import unroll
from changewright.chart.writer import write_chart
from changewright.errors import UnknownName
from changewright.theory.symbols import read_symbol

A1 = "Imaj7 VI7(b9)|iim7 V7|iiim7 VI7(b9)|iim7 V7|vm7 I7|IVmaj7 ivm6|iiim7 VI7(b9)|iim7 V7"
A2 = "Imaj7 VI7(b9)|iim7 V7|iiim7 VI7(b9)|iim7 V7|vm7 I7|IVmaj7 ivm6|iim7 V7|I6"
ABAC = {
    "A": "Imaj7|%|iiim7|VI7(b9)|iim7|V7|iim7|V7",
    "B": "vm7|I7|IVmaj7|ivm7 bVII7|iiim7|VI7(b9)|II7|iim7 V7",
    "C": "IVmaj7|ivm7 bVII7|iiim7|VI7(b9)|iim7|V7|I6|iim7 V7",
}
MODAL = "im11" + "|%" * 7
RAISED = "biim11" + "|%" * 7

FORMS = {
    "quayside-blues": "I7|%|%|%|IV7|%|I7|%|V7|IV7|I7|V7",
    "bilge-pump-blues": "I7|IV7|I7|%|IV7|%|I7|%|V7|IV7|I7|V7",
    "fairlead-blues": "I7|IV7|I7|vm7 I7|IV7|#iv°7|I7|VI7(b9)|iim7|V7|I7 VI7(b9)|iim7 V7",
    "bollard-number-nine": "I7|IV7|I7|vm7 I7|IV7|ivm7 bVII7|iiim7|VI7(b9)|iim7|V7|"
    "iiim7 VI7(b9)|iim7 V7",
    "down-the-slip-ladder": "Imaj7|viiø7 III7|vim7 II7|vm7 I7|IV7|ivm7 bVII7|iiim7 VI7|"
    "biiim7 bVI7|iim7|V7|iiim7 VI7|iim7 V7",
    "unlit-pontoon": "im7|%|%|%|ivm7|%|im7|%|bVI7|V7|im7|%",
    "dredger-at-dusk": "im6|iiø7 V7(b9)|im6|I7(b9)|ivm7|%|im6|%|bVI7|V7(b9)|im6|iiø7 V7(b9)",
    "short-gangplank": "I7|V7|IV7|%|I7|V7|I7|V7",
    "long-gangplank": "I7|%|%|%|IV7|%|I7|%|V7|IV7|V7|IV7|V7|IV7|I7|V7",
    "rowlock-waltz": "I7|IV7|I7|%|IV7|%|I7|VI7(b9)|iim7|V7|I7|V7",
    "tidemark-drill": "iim7|V7|Imaj7|%",
    "tidemark-drill-halved": "iim7 V7|Imaj7",
    "ebbmark-drill": "iiø7|V7(b9)|im6|%",
    "ebbmark-drill-halved": "iiø7 V7(b9)|im6",
    "seven-channel-buoys": "Imaj7 vim7|iim7 V7|Imaj7 VI7(b9)|iim7 V7|iiim7 VI7(b9)|iim7 V7|"
    "Imaj7 #i°7|iim7 #ii°7|Imaj7 bIII7|iim7 bII7|Imaj7 bIIImaj7|bVImaj7 bIImaj7|"
    "im6 VI7(b9)|iiø7 V7(b9)",
    "harbourmasters-round": "|".join((A1, A2, "III7|%|VI7|%|II7|%|V7|%", A2)),
    "swing-bridge-ahead": "|".join((A1, A2, "viim7|III7|iiim7|VI7|vim7|II7|iim7|V7", A2)),
    "lock-keepers-detour": "|".join((A1, A2, "vm7|I7|IVmaj7|%|vim7|II7|iim7|V7", A2)),
    "chandlery-ledger": "|".join(ABAC[letter] for letter in "ABAC"),
    "fog-at-berth-two": "|".join((MODAL, MODAL, RAISED, MODAL)),
    "engine-idling": "im7" + "|%" * 15,
    "two-hulls-rocking": "|".join(["im7|IV7"] * 8),
    "wet-stone-steps": "VII7|III7|VI7|II7|V7|Imaj7",
    "rope-locker": "iim7|V7|Imaj7|%|im7|IV7|bVIImaj7|%",
    "crab-pot-crawl": "iiim7 VI7|biiim7 bVI7|iim7 V7|Imaj7",
    "boat-shed-back-door": "Imaj7|ivm7|bVII7|Imaj7",
    "three-channel-lamps": "iim7 bIII7|bVImaj7 VII7|IIImaj7 V7|Imaj7",
    "three-channel-lamps-lit": "Imaj7 bIII7|bVImaj7 VII7|IIImaj7 V7|Imaj7",
    "slow-leak-astern": "im|im(maj7)|im7|im6",
    "varnish-not-dry": "Imaj7|IVmaj7|ivm6|Imaj7",
    "water-in-the-keel": "Imaj7 #i°7|iim7 #ii°7|iiim7 VI7|iim7 V7",
    "sandbar-timetable": "im7|%|ivm7|%|iiø7|V7(b9)|im7|%|bVImaj7|%|bIImaj7|%|iiø7|V7(b9)|im7|"
    "iiø7 V7(b9)",
}
STEPS = {"i": 0, "ii": 2, "iii": 4, "iv": 5, "v": 7, "vi": 9, "vii": 11}
LETTERS = "CDEFGAB"


def bars_of(numerals: str) -> list[list[str]]:
    bars: list[list[str]] = []
    for cell in numerals.split("|"):
        bars.append(bars[-1] if cell == "%" else cell.split())
    return bars


def read_numeral(numeral: str) -> tuple[int, str]:
    """Semitones above the tonic, and the quality behind the numeral."""
    match = re.fullmatch(r"([b#]?)(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(.*)", numeral)
    assert match
    shift = {"b": -1, "#": 1, "": 0}[match[1]]
    return (STEPS[match[2].lower()] + shift) % 12, match[3]


def test_every_chart_on_the_shelf_has_its_form_here() -> None:
    assert set(shelf()) == set(FORMS)


@pytest.mark.parametrize("name", sorted(FORMS))
def test_a_chart_plays_its_form(name: str) -> None:
    chart = shelf_chart(name)
    form, expected = unroll(chart), bars_of(FORMS[name])
    assert len(form.bars) == len(expected)
    assert form.key
    for bar, numerals in zip(form.bars, expected, strict=True):
        assert len(bar.changes) == len(numerals)
        assert {c.duration for c in bar.changes} == {bar.length / len(numerals)}
        for change, numeral in zip(bar.changes, numerals, strict=True):
            above, quality = read_numeral(numeral)
            assert change.chord.root
            assert (change.chord.root.pc - form.key.tonic.pc) % 12 == above
            assert change.chord.degrees == read_symbol(f"C{quality}").degrees


def test_the_demo_chart_is_a_three_chord_blues_in_f_at_84() -> None:
    form = unroll(shelf_chart("quayside-blues"))
    assert (form.title, str(form.key), form.tempo_bpm) == ("Quayside Blues", "F", 84)
    assert {c.text for c in form.changes} == {"F7", "Bb7", "C7"}


@pytest.mark.parametrize("name", sorted(FORMS))
def test_titles_are_each_their_own_and_rights_are_said(name: str) -> None:
    assert shelf_chart(name).rights == "own work"
    assert sum(shelf_chart(other).title == shelf_chart(name).title for other in shelf()) == 1
    assert read_chart(write_chart(shelf_chart(name))) == shelf_chart(name)


def test_labels_stand_where_sections_begin() -> None:
    form = unroll(shelf_chart("chandlery-ledger"))
    assert "".join(b.label or "." for b in form.bars) == "A.......B.......A.......C......."
    form = unroll(shelf_chart("harbourmasters-round"))
    assert [b.number for b in form.bars if b.label] == [1, 9, 17, 25]
    assert [b.source for b in form.bars][:16] == [*range(1, 9), *range(1, 7), 9, 10]


def test_an_unknown_chart_lists_those_there_are() -> None:
    with pytest.raises(UnknownName, match="Did you mean 'quayside-blues'"):
        shelf_chart("quaysid-blues")
