"""The parts of a group as a folder: a PDF a reader, and a proof list of what was moved."""

import json
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

from changewright import __version__
from changewright.errors import Refusal
from changewright.music.document import Document
from changewright.page import lesson_pdf
from changewright.usecases.folder import whole_folder
from changewright.usecases.part_octaves import Fold, Move
from changewright.usecases.parts import Part, Parts

__all__ = ["MARKER", "PROOF", "parts_document", "proof_lines", "write_parts"]

MARKER = "parts.json"
PROOF = "proof.txt"
"""What was moved and folded for whom, to be read before rehearsal."""


def write_parts(parts: Parts, folder: Path) -> Document:
    """Write a PDF for each reader and the proof list to ``folder``, or nothing.

    Returns the document. Raises a :class:`Refusal` where nobody can have a part.
    """
    if not parts.parts:
        reasons = [f"{one.edition.name}: {one.reason}" for one in parts.refused]
        raise Refusal(1, "1", ["range"], ["a lower level or other instruments"], "; ".join(reasons))
    with whole_folder(folder, MARKER) as making:
        for part in parts.parts:
            (making / f"{part.edition.id}.pdf").write_bytes(_pdf(part, parts))
        document = parts_document(parts, making)
        text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
        (making / MARKER).write_text(text, encoding="utf-8")
        (making / PROOF).write_text("\n".join(proof_lines(document)) + "\n", encoding="utf-8")
    return document


def _pdf(part: Part, parts: Parts) -> bytes:
    return lesson_pdf(
        part.sheets,
        title=parts.title,
        for_whom=part.edition.name,
        paper=parts.request.paper,
        look=parts.request.look,
        chords=parts.request.chords,
        reading=parts.reading,
        written=part.written,
    )


def parts_document(parts: Parts, folder: Path) -> Document:
    """All parts as a document; ``folder`` holds their PDFs."""
    request, first = parts.request, parts.parts[0]
    return {
        "shape": 1,
        "made_by": f"changewright {__version__}",
        "title": parts.title,
        "level": first.sheets[0].recipe.level,
        "key": str(parts.reading.key),
        "seed": request.seed,
        "exercises": [
            {"number": n, "title": sheet.title, "label": sheet.recipe.label}
            for n, sheet in enumerate(first.sheets, start=1)
        ],
        "parts": [_part(part, folder) for part in parts.parts],
        "refused": [
            {"id": one.edition.id, "name": one.edition.name, "reason": one.reason}
            for one in parts.refused
        ],
    }


def _part(part: Part, folder: Path) -> Document:
    file = f"{part.edition.id}.pdf"
    return {
        "id": part.edition.id,
        "name": part.edition.name,
        "clef": part.edition.instrument.clef,
        "written_key": part.moves[0].key,
        "file": file,
        "sha256": sha256((folder / file).read_bytes()).hexdigest(),
        "exercises": [_exercise(n, move) for n, move in enumerate(part.moves, start=1)],
    }


def _exercise(number: int, move: Move) -> Document:
    return {
        "number": number,
        "octaves": move.octaves,
        "lowest_written": str(move.written.low),
        "highest_written": str(move.written.high),
        "folds": [_fold(fold) for fold in move.folds],
        "given_up": list(move.given_up),
        "awkward": list(move.awkward),
        "beyond_bars": list(move.beyond),
    }


def _fold(fold: Fold) -> Document:
    return {"first_bar": fold.first_bar, "last_bar": fold.last_bar, "octaves": fold.octaves}


def proof_lines(document: Document) -> Iterator[str]:
    """The proof list in words."""
    yield f"{document['title']}: concert {document['key']}, level {document['level']}"
    for part in document["parts"]:
        yield ""
        yield f"{part['name']}: {part['clef']} clef, written {part['written_key']}, {part['file']}"
        for exercise in part["exercises"]:
            yield f"  {exercise['number']}  {'; '.join(_words(exercise))}"
            yield from (f"     given up: {one}" for one in exercise["given_up"])
            yield from (f"     awkward: {one}" for one in exercise["awkward"])
            if exercise["beyond_bars"]:
                bars = ", ".join(map(str, exercise["beyond_bars"]))
                yield f"     outside the range of level {document['level']}: bars {bars}"
    for one in document["refused"]:
        yield ""
        yield f"{one['name']}: no part. {one['reason']}"


def _words(exercise: Document) -> Iterator[str]:
    yield f"{exercise['lowest_written']} to {exercise['highest_written']}"
    yield _apart(exercise["octaves"], "than composed") or "in the octave composed"
    for fold in exercise["folds"]:
        first, last = fold["first_bar"], fold["last_bar"]
        bars = f"bar {first}" if first == last else f"bars {first} to {last}"
        yield f"{bars} {_apart(fold['octaves'], 'than the rest')}, changed at rests"


def _apart(octaves: int, than: str) -> str:
    if octaves == 0:
        return ""
    count = "an octave" if abs(octaves) == 1 else f"{abs(octaves)} octaves"
    return f"{count} {'higher' if octaves > 0 else 'lower'} {than}"
