"""The chorus read anew at the pitch that its player sees, so that reasons name his own notes."""

from dataclasses import replace

from changewright.chart.model import Form, Pin
from changewright.music.bar import Bar, Change, Quarters
from changewright.music.line import Line
from changewright.music.written import Hand
from changewright.reading.house import HouseRules
from changewright.reading.model import Reading
from changewright.theory.chord import Chord
from changewright.theory.instrument import Instrument
from changewright.theory.pitch import Interval
from changewright.theory.spelling import Manner
from changewright.theory.symbols import write_symbol
from changewright.theory.transposition import transpose_key_for, written_shift

__all__ = ["hand_for", "written_form", "written_reading"]

_NO_HOUSE = HouseRules()


def hand_for(player: Instrument, reading: Reading, manner: Manner = "usual") -> Hand:
    """The hand that writes a chorus out for a player, in a manner of spelling."""
    return Hand(written_shift(player, reading.key), transpose_key_for(player, reading.key), manner)


def written_reading(
    form: Form,
    concert: Reading,
    player: Instrument,
    house: HouseRules = _NO_HOUSE,
    manner: Manner = "usual",
) -> Reading:
    """Read ``form`` as the player reads it; ``concert`` is its reading at concert pitch.

    For a player who reads concert names, and for one who reads them an octave away, that is
    ``concert`` itself. ``house`` are the rules by which ``concert`` was read, ``manner`` the
    spelling of the page.
    """
    # PITFALL: to import the analysis takes a sixth of a cold page, and few pages need it.
    from changewright.reading.analyse import analyse

    hand = hand_for(player, concert, manner)
    return concert if hand.up.fifths == 0 else analyse(written_form(form, hand), house)


def written_form(form: Form, hand: Hand) -> Form:
    """A chorus moved to written pitch: bars, pins, key areas and melody.

    Chords are turned as the hand turns them on the page. A form without a key stays without.
    """
    return replace(
        form,
        key=None if form.key is None else hand.key,
        bars=tuple(_bar(bar, hand) for bar in form.bars),
        melody=None if form.melody is None else _melody(form.melody, hand),
        pins=tuple(_pin(pin, form, hand) for pin in form.pins),
        areas=tuple((at, key.transpose(hand.up)) for at, key in form.areas),
    )


def _bar(bar: Bar, hand: Hand) -> Bar:
    return replace(bar, changes=tuple(_change(change, hand) for change in bar.changes))


def _change(change: Change, hand: Hand) -> Change:
    """A change whose text is the symbol as the page prints it; N.C. keeps the author's text."""
    chord = hand.chord(change.chord)
    text = change.text if chord.root is None else write_symbol(chord)
    return replace(change, chord=chord, text=text)


def _melody(melody: Line, hand: Hand) -> Line:
    notes = tuple(replace(note, pitch=note.pitch + hand.up) for note in melody.notes)
    return replace(melody, notes=notes)


def _pin(pin: Pin, form: Form, hand: Hand) -> Pin:
    """A pinned scale is turned as the chord that it is pinned to."""
    key = None if pin.key is None else pin.key.transpose(hand.up)
    if pin.scale is None:
        return replace(pin, key=key)
    chord = _chord_at(form, pin.start)
    return replace(pin, key=key, scale=pin.scale.transpose(_move(chord, hand)))


def _chord_at(form: Form, onset: Quarters) -> Chord | None:
    return next((c.chord for c in form.changes if c.onset <= onset < c.end), None)


def _move(chord: Chord | None, hand: Hand) -> Interval:
    """The interval by which the hand moves what belongs to a chord; octaves don't matter."""
    moved = None if chord is None else hand.chord(chord)
    if chord is None or moved is None or chord.root is None or moved.root is None:
        return hand.up
    return Interval(moved.root.fifths - chord.root.fifths, 0)
