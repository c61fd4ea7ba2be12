"""Which scales fit a chord, and which chords fit a scale: the two-way look-up."""

from collections.abc import Iterable

from changewright.errors import InputError
from changewright.music.document import Document
from changewright.theory.chord import Chord
from changewright.theory.fitting import Care, ScaleFit, chords_for, scales_for
from changewright.theory.scale import Scale
from changewright.theory.symbols import read_symbol, write_symbol

__all__ = ["chords_document", "scales_document"]


def scales_document(symbol: str) -> Document:
    """The scales that hold every note of a chord, the best fit first.

    Raises :class:`ChordError` for a symbol that can't be read, :class:`InputError` for N.C.
    """
    chord = read_symbol(symbol)
    if chord.root is None:
        raise InputError("N.C. is no chord, so no scale fits it", remedy="Write a chord.")
    return {
        "chord": write_symbol(chord),
        "tones": [str(tone) for tone in chord.tones],
        "scales": [_scale(fit, chord) for fit in scales_for(chord)],
    }


def chords_document(name: str, *, on_every_note: bool = False) -> Document:
    """The chords whose every note lies in a scale, on its root or ``on_every_note`` of it.

    Raises :class:`InputError` for a root or a scale that we don't know.
    """
    scale = _parsed(name)
    return {
        "scale": str(scale),
        "tones": [str(tone) for tone in scale.tones],
        "chords": [
            {
                "chord": write_symbol(fit.chord),
                "tones": [str(tone) for tone in fit.chord.tones],
                "care": _care(fit.care),
            }
            for fit in chords_for(scale, on_every_note=on_every_note)
        ],
    }


def _scale(fit: ScaleFit, chord: Chord) -> Document:
    kind, tones = fit.scale.kind, fit.scale.tones
    added = (d for d, tone in zip(kind.degrees, tones, strict=True) if tone.pc not in chord.pcs)
    return {
        "scale": str(fit.scale),
        "id": kind.id,
        "tones": [str(tone) for tone in tones],
        "adds": [str(degree) for degree in added],
        "family": kind.family,
        "note": kind.note,
        "care": _care(fit.care),
    }


def _care(care: Iterable[Care]) -> list[Document]:
    return [
        {"degree": str(one.degree), "against": str(one.against), "reason": one.reason}
        for one in care
    ]


def _parsed(name: str) -> Scale:
    try:
        return Scale.parse(name)
    except ValueError as fault:
        raise InputError(
            f"can't read the scale {name!r}: {fault}", remedy="Write it like 'F mixolydian'."
        ) from None
