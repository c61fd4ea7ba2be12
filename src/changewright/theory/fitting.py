"""Which scales fit a chord and which chords a scale fits, and which notes to handle with care.

Only what sounds is weighed here; which scale a chord's *function* asks for is the reading's
business. Source: domain reference 3.1; the semitone rule is that of common chord-scale hand-outs.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from changewright.theory.chord import Chord
from changewright.theory.pitch import Degree, Name
from changewright.theory.quality import qualities
from changewright.theory.scale import Scale, ScaleKind, scale_kinds

__all__ = ["Care", "ChordFit", "ScaleFit", "care_notes", "chords_for", "clashes", "scales_for"]

# Families from the plainest to the most coloured. Source: common practice, no source.
_FAMILIES = (
    "mode of major", "mode of melodic minor", "pentatonic", "blues", "mode of harmonic minor",
    "symmetric", "mode of harmonic major", "added-note",
)  # fmt: skip
_WANTED = (Degree(2, -1), Degree(6, -1))  # b9 and b13 colour a dominant


@dataclass(frozen=True, slots=True)
class Care:
    """A scale note to handle with care over a chord: its degree over the chord's root, the chord
    degree that it rubs against, and the reason in a teacher's words."""

    degree: Degree
    against: Degree
    reason: str


@dataclass(frozen=True, slots=True)
class ScaleFit:
    """A scale that holds every note of a chord, and what to handle with care in it."""

    scale: Scale
    care: tuple[Care, ...]


@dataclass(frozen=True, slots=True)
class ChordFit:
    """A chord whose every note lies in a scale, and what to handle with care in the scale."""

    chord: Chord
    care: tuple[Care, ...]


def scales_for(chord: Chord) -> tuple[ScaleFit, ...]:
    """The scales on a chord's root that hold all its notes, the best fit first.

    Best is: fewest notes to handle with care, fewest tensions a semitone over a chord tone, then
    the plainest family; a scale that names the chord's third otherwise comes last. Empty for N.C.

    >>> from changewright.theory.symbols import read_symbol
    >>> [fit.scale.kind.id for fit in scales_for(read_symbol("Cm11"))[:2]]
    ['dorian', 'aeolian']
    """
    root = chord.root
    if root is None:
        return ()
    scales = (kind.on(root) for kind in scale_kinds().values())
    fits = [ScaleFit(s, care_notes(s, chord)) for s in scales if chord.pcs <= s.pcs]
    return tuple(sorted(fits, key=lambda fit: _unrest(fit, chord)))


def chords_for(scale: Scale, *, on_every_note: bool = False) -> tuple[ChordFit, ...]:
    """The chords whose every note lies in a scale, seventh chords first, then by care and richness.

    On the scale's own root, or ``on_every_note`` of it (the scale's own harmony).

    >>> from changewright.theory.scale import scale_kind
    >>> [str(fit.chord.degrees[-1]) for fit in chords_for(scale_kind("lydian").on(Name(-1)))[:2]]
    ['13', '9']
    """
    roots = scale.tones if on_every_note else (scale.root,)
    chords = (q.on(root) for root in roots for q in qualities().values())
    fits = [ChordFit(c, care_notes(scale, c)) for c in chords if c.pcs <= scale.pcs]
    order = {tone: i for i, tone in enumerate(scale.tones)}
    return tuple(sorted(fits, key=lambda fit: (order[_root(fit.chord)], _rank(fit))))


def clashes(scale: Scale, chord: Chord) -> tuple[Care, ...]:
    """The semitone rule by the letter: every scale note a semitone above a chord tone."""
    root = _root(chord)
    found = []
    for tone in scale.tones:
        below = (tone.pc - 1) % 12
        against = next((d for d in chord.degrees if chord.tone(d).pc == below), None)
        if against is not None and tone.pc not in chord.pcs:
            degree = _degree_over(root, tone)
            found.append(Care(degree, against, _because(degree, against)))
    return tuple(found)


def care_notes(scale: Scale, chord: Chord) -> tuple[Care, ...]:
    """What to handle with care: the semitone rule, without the tensions that a dominant wants.

    A b9 or b13 over a dominant is colour, not a clash; over a sus chord the third rubs against
    the suspended fourth. Source: domain reference 3.1.

    >>> from changewright.theory.symbols import read_symbol
    >>> [c.reason for c in care_notes(scale_kinds()["ionian"].on(Name(0)), read_symbol("Cmaj7"))]
    ['the 4 is a semitone over the 3: pass through it, do not rest on it']
    """
    found = [c for c in clashes(scale, chord) if not (_is_dominant(chord) and c.degree in _WANTED)]
    return (*found, *_third_over_sus(scale, chord))


def _third_over_sus(scale: Scale, chord: Chord) -> Iterable[Care]:
    root = _root(chord)
    third = root + Degree(3).interval
    if chord.has(4) and third.pc in scale.pcs and third.pc not in chord.pcs:
        reason = "the 3 undoes the suspended 4: keep it for the resolution, or high above"
        yield Care(Degree(3), Degree(4), reason)


def _is_dominant(chord: Chord) -> bool:
    return chord.is_dominant and chord.third is not None


def _because(degree: Degree, against: Degree) -> str:
    rub = f"the {degree} is a semitone over the {'root' if against == Degree(1) else against}"
    return f"{rub}: pass through it, do not rest on it"


def _root(chord: Chord) -> Name:
    if chord.root is None:
        raise ValueError("N.C. has no root")
    return chord.root


def _degree_over(root: Name, tone: Name) -> Degree:
    """The degree 1 to 7 of a tone over a root, as both are spelled."""
    fifths = tone.fifths - root.fifths
    number = 4 * fifths % 7 + 1
    return Degree(number, (fifths - Degree(number).interval.fifths) // 7)


def _unrest(fit: ScaleFit, chord: Chord) -> tuple[bool, int, int, int]:
    """A scale that only sounds the chord's third under another name (b4, #2) comes last."""
    misnamed = chord.third is not None and chord.tone(chord.third) not in fit.scale.tones
    colour = len(clashes(fit.scale, chord)) - len(fit.care)
    return misnamed, len(fit.care), colour, _plainness(fit.scale.kind)


def _rank(fit: ChordFit) -> tuple[bool, int, int]:
    return fit.chord.seventh is None, len(fit.care), -len(fit.chord.degrees)


def _plainness(kind: ScaleKind) -> int:
    if kind.id == "chromatic":
        return len(_FAMILIES)
    return next((i for i, family in enumerate(_FAMILIES) if family in kind.family), 2)
