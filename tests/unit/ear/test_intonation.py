"""Intonation: whose pitch leans, by note, by register, over time; against the take's own tuning."""

from dataclasses import replace

import numpy as np
import pytest
from benchmarks.takes import RATE, Played, Wave, render, synthetic_bank

from changewright.ear.audio import Audio
from changewright.ear.document import hearing_document
from changewright.ear.intonation import LongNote, intonation, intonation_of
from changewright.ear.judge import judge
from changewright.ear.measure import Measure
from changewright.ear.remarks import remarks
from changewright.ear.transcribe import transcribe
from changewright.theory.chord import Chord
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.symbols import read_symbol
from tests.unit.ear.exercises import clock_of, exact_take, root_up, slots

F = Key.parse("F")
ALTO = instrument("alto saxophone")


def played(midi: int, cents: float, times: int = 6, over: Chord | None = None) -> list[LongNote]:
    return [LongNote(k, 0.4, midi, cents, over) for k in range(times)]


def told(*notes: LongNote, key: Key = F, tuning: float = 0.0) -> dict[str, Measure]:
    return {m.id: m for m in intonation(notes, key, ALTO, tuning)}


def test_a_note_is_named_as_the_player_reads_it_with_its_degree() -> None:
    """Concert A in F is the alto's F sharp in D, the third of either key."""
    found = told(*played(69, 20.0))["J17.F#"]
    assert (found.value, found.count, found.detail) == (20.0, 6, "degree 3 of D")
    assert intonation_of([found]) == (
        "F# (degree 3 of D) leans sharp: about 20 cents sharp of the others."
    )


def test_four_of_a_kind_and_short_ones_tell_nothing() -> None:
    """Domain reference 8.5: at least five notes over a fifth of a second."""
    assert told(*played(69, 20.0, times=4)) == {}
    assert told(*(replace(n, length_s=0.19) for n in played(69, 20.0))) == {}


@pytest.mark.parametrize(("midi", "counts"), [(68, False), (71, False), (63, False), (69, True)])
def test_blue_notes_bend_on_purpose(midi: int, counts: bool) -> None:
    """Domain reference 8.5: the lowered third, fifth and seventh over the blues are style."""
    assert bool(told(*played(midi, -35.0, over=read_symbol("F7")))) is counts
    assert told(*played(midi, -35.0, over=read_symbol("Fmaj7")))


def test_registers_are_told_where_two_can_be_compared() -> None:
    """The alto sounds D flat 3 to A 5: C5 lies in its upper third, E flat 3 in its lowest."""
    low, high = played(51, 0.0), played(74, 24.0)
    assert not any(m.startswith("J17r") for m in told(*low))
    found = told(*low, *high)
    assert (found["J17r.low"].value, found["J17r.high"].value) == (0.0, 24.0)
    assert "Your high register lies about 24 cents sharp of the rest." in intonation_of(
        [m for m in found.values() if not m.id.startswith("J17.")]
    )


def test_drift_and_spread_are_those_of_the_notes_in_order() -> None:
    notes = [LongNote(k, 0.4, 60 + k % 3, 2.0 * k) for k in range(30)]
    found = told(*notes)
    assert found["J17d"].value == pytest.approx(40.0)
    assert found["J17s"].value == pytest.approx(np.std([2.0 * k for k in range(30)]))
    assert "your pitch rises by about 40 cents" in intonation_of([found["J17d"]])


def test_a_player_in_tune_with_himself_is_told_only_of_the_band() -> None:
    """A = 436: the take is its own measure; 16 cents below 440 Hz matter where a band plays."""
    found = list(told(*played(69, 0.0), tuning=12 * float(np.log2(436 / 440))).values())
    assert "within 15 cents" in intonation_of(found)
    assert "about 16 cents below the band" in intonation_of(found, with_band=True)


def test_beginners_hear_nothing_of_it_and_a_piano_is_not_its_player() -> None:
    found = list(told(*played(69, 40.0)).values())
    assert intonation_of(found, level=2) == ""
    assert intonation_of(found, level=3).startswith("Check F#")
    assert intonation(played(69, 40.0), F, instrument("piano"), 0.0) == []


def test_at_most_three_sentences_the_worst_note_first() -> None:
    found = [Measure(f"J17.{n}", f"Pitch of {n}", c, "cents", 6) for n, c in NAMED]
    said = intonation_of(found)
    assert said.startswith("Check D: it is about 41 cents flat of the others, in 6 long notes.")
    assert said.count(".") == 3
    assert "C leans" not in said


NAMED = (("C", 4.0), ("F#", 22.0), ("D", -41.0), ("E", 31.0), ("G", -16.0))


def test_a_saxophone_with_one_sharp_note_is_told_which() -> None:
    """From sound: a tenor whose concert A speaks 38 cents sharp, at A = 442."""
    sheet = replace(root_up(level=3), tempo_bpm=84)
    rest, sharp = (synthetic_bank("reed", 3, cents) for cents in (8.0, 46.0))

    def voice(midi: int, length_s: float, velocity: float, slurred: bool) -> Wave:
        bank = sharp if midi % 12 == 9 else rest
        return bank(midi, length_s, velocity, slurred)

    notes = [Played(s.onset_s, s.length_s, s.midi) for s in slots(sheet)]
    sound = render(notes, voice, notes[-1].onset_s + 2).samples
    take = transcribe(Audio(sound, RATE), instrument=sheet.instrument)
    hearing = judge(sheet, take, clock_of(sheet))
    by_id = {m.id: m for m in hearing.intonation}
    assert by_id["J17.B"].value == pytest.approx(38, abs=6)
    assert all(
        abs(m.value) < 12 for m in hearing.intonation if m.id[:4] == "J17." and m.id[4] != "B"
    )
    assert remarks(hearing).pitch.startswith("Check B (degree 3 of G): it is about")
    assert any(m["id"] == "J17.B" for m in hearing_document(hearing)["intonation"])


def test_a_midi_take_has_no_intonation() -> None:
    sheet = root_up(level=3)
    hearing = judge(sheet, exact_take(slots(sheet)), clock_of(sheet))
    assert hearing.intonation == ()
    assert remarks(hearing).pitch == ""
