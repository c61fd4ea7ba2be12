"""The reading as a document for JSON, of a documented shape.

The shape (``format`` 1)::

    {"format": 1, "title": str, "key": "Bb", "colour": "major" | "minor" | "blues", "cost": float,
     "other_homes": [{"key", "colour", "costs_more"}],
     "changes": [{"bar": int, "beat": str, "onset": str, "duration": str, "symbol": str,
                  "key": str, "numeral": str, "relation": str, "doing": str,
                  "local_tonic": str, "local_tonic_pc": 0..11, "function": "T"|"D"|"S"|"C"|"P",
                  "pinned": bool,
                  "tones": [str],
                  "scales": [{"scale", "tones", "because", "care": ["4"], "rule"}],
                  "others": [{"local_tonic", "function", "costs_more"}]}],
     "areas": [{"key", "start": str, "end": str, "first_bar", "last_bar"}],
     "cadences": [{"kind", "key", "first", "last", "first_bar", "last_bar"}],
     "passages": [{"kind", "first", "last", "first_bar", "last_bar", "words"}],
     "guide_lines": [{"starts_on": "3", "notes": [{"change", "degree", "name", "motion",
                      "instead", "because"}]}],
     "questions": [{"symbol", "bars": [int], "text"}],
     "joins": [{"change", "shared": [str], "moves": [{"from", "to", "semitones"}]}],
     "difficulty": {...}}

Onsets and durations are quarters as an exact fraction (``"9/2"``); ``first``, ``last`` and
``change`` are indices into ``changes``. ``local_tonic`` is the tonic that the chord is, colours,
or is on its way to; ``function`` is T tonic, D dominant and all that leads to it, S
subdominant, C colour, P passing. Source of the five: Granroth-Wilding and Steedman's corpus.
"""

from changewright.music.document import Document
from changewright.reading.difficulty import Difficulty, difficulty_of
from changewright.reading.guide import GuideLine, Join, guide_lines, joins
from changewright.reading.model import ReadChange, Reading, ScaleChoice
from changewright.reading.questions import questions

__all__ = ["reading_document"]


def reading_document(reading: Reading, tempo_bpm: int = 120) -> Document:
    """Everything the reading says, in plain values, in the shape described above."""
    lines = guide_lines(reading)
    return {
        "format": 1,
        "title": reading.title,
        "key": str(reading.key),
        "colour": reading.colour,
        "cost": round(reading.cost, 3),
        "other_homes": [
            {"key": str(o.key), "colour": o.colour, "costs_more": o.costs_more}
            for o in reading.other_homes
        ],
        "changes": [_change(one) for one in reading.changes],
        "areas": [
            {
                "key": str(area.key),
                "start": str(area.start),
                "end": str(area.end),
                "first_bar": area.first_bar,
                "last_bar": area.last_bar,
            }
            for area in reading.areas
        ],
        "cadences": [
            {
                "kind": cadence.kind.value,
                "key": str(cadence.key),
                "first": cadence.first,
                "last": cadence.last,
                "first_bar": cadence.first_bar,
                "last_bar": cadence.last_bar,
            }
            for cadence in reading.cadences
        ],
        "passages": [
            {
                "kind": passage.kind.value,
                "first": passage.first,
                "last": passage.last,
                "first_bar": passage.first_bar,
                "last_bar": passage.last_bar,
                "words": passage.words,
            }
            for passage in reading.passages
        ],
        "questions": [
            {"symbol": one.symbol, "bars": list(one.bars), "text": one.text}
            for one in questions(reading)
        ],
        "guide_lines": [_guide_line(line) for line in lines or ()],
        "joins": [_join(join) for join in joins(reading)],
        "difficulty": _difficulty(difficulty_of(reading, tempo_bpm)),
    }


def _change(one: ReadChange) -> Document:
    tonic = one.local_tonic
    return {
        "bar": one.bar,
        "beat": one.beat,
        "onset": str(one.change.onset),
        "duration": str(one.change.duration),
        "symbol": one.change.text,
        "key": str(one.key),
        "numeral": one.numeral,
        "relation": one.relation,
        "doing": one.doing,
        "local_tonic": str(tonic),
        "local_tonic_pc": tonic.tonic.pc,
        "function": one.function.value,
        "pinned": one.pinned,
        "tones": [str(tone) for tone in one.change.chord.tones],
        "scales": [_scale(choice) for choice in one.scales],
        "others": [
            {
                "local_tonic": str(other.goal),
                "function": other.function.value,
                "costs_more": other.costs_more,
            }
            for other in one.others
        ],
    }


def _scale(choice: ScaleChoice) -> Document:
    return {
        "scale": str(choice.scale),
        "tones": [str(tone) for tone in choice.scale.tones],
        "because": choice.because,
        "care": [str(degree) for degree in choice.care],
        "rule": choice.rule,
    }


def _guide_line(line: GuideLine) -> Document:
    return {
        "starts_on": str(line.starts_on),
        "notes": [
            {
                "change": note.index,
                "degree": str(note.degree),
                "name": str(note.name),
                "motion": note.motion,
                "instead": None if note.instead is None else str(note.instead),
                "because": note.because,
            }
            for note in line.notes
        ],
    }


def _join(join: Join) -> Document:
    return {
        "change": join.index,
        "shared": [str(name) for name in join.shared],
        "moves": [
            {"from": str(move.start), "to": str(move.end), "semitones": move.semitones}
            for move in join.moves
        ],
    }


def _difficulty(found: Difficulty) -> Document:
    return {
        "level": found.level,
        "keys": [str(key) for key in found.keys],
        "key_changes": found.key_changes,
        "chords_a_bar": found.chords_a_bar,
        "shortest": str(found.shortest),
        "chromatic_roots": found.chromatic_roots,
        "chord_types": found.chord_types,
        "tempo_bpm": found.tempo_bpm,
        "tempo_level": found.tempo_level,
        "hardest": [{"bar": b.bar, "reasons": list(b.reasons)} for b in found.hardest],
        "bars": [{"bar": b.bar, "level": b.level} for b in found.bars],
    }
