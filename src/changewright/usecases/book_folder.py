"""A book as a folder or a zip: a PDF an edition, scores, tracks, the proof list and a manifest.

::

    book.json                                    what there is, page by page, and its hashes
    proof.txt                                    every respelling, octave move and line of its own
    four-keys-by-thursday-b-flat.pdf             one an edition
    musicxml/b-flat/F/001-root-up.musicxml
    midi/b-flat/F/001-root-up.mid                with the band and a bar of count-in
    audio/F/quayside-blues-78.flac               the band alone, shared by exercises that use it
"""

import json
import re
import unicodedata
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, BadZipFile, ZipFile, ZipInfo

from changewright import __version__
from changewright.errors import InputError, Place
from changewright.jobs.kept import Kept
from changewright.usecases.book import Book, track_of
from changewright.usecases.book_editions import Edition
from changewright.usecases.book_pages import SetPiece
from changewright.usecases.folder import whole_folder

__all__ = ["BOOK_MARKER", "proof_text", "write_book", "write_book_zip"]

BOOK_MARKER = "book.json"
"""The file by which a book's folder is known."""

_SHAPE = 1
_ENDINGS = {"musicxml": "musicxml", "midi": "mid"}
_EARLIEST = (1980, 1, 1, 0, 0, 0)  # the least date that a zip can hold
_PACKED = (".pdf", ".flac")


def write_book(book: Book, kept: Kept, folder: Path) -> dict[str, Any]:
    """Write the whole book to ``folder``, or nothing; returns the manifest."""
    with whole_folder(folder, BOOK_MARKER) as making:
        return _fill(book, kept, making)


def write_book_zip(book: Book, kept: Kept, path: Path) -> dict[str, Any]:
    """Write the book as one zip, the same bytes each time; an older one of ours is replaced."""
    if path.exists() and not _is_ours(path):
        raise InputError(
            "is already there and was not made by this command",
            where=Place(file=str(path)),
            remedy="Choose another name with --output.",
        )
    path.parent.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory(prefix=f".{path.name}-making-", dir=path.parent) as folder:
        whole = Path(folder) / "book"
        whole.mkdir()
        manifest = _fill(book, kept, whole)
        packed = Path(folder) / path.name
        with ZipFile(packed, "w") as archive:
            for file in sorted(p for p in whole.rglob("*") if p.is_file()):
                _pack(archive, file, file.relative_to(whole).as_posix())
        packed.replace(path)
    return manifest


def _is_ours(path: Path) -> bool:
    try:
        with ZipFile(path) as archive:
            return BOOK_MARKER in archive.namelist()
    except (OSError, ValueError, NotImplementedError, BadZipFile):
        return False


def _pack(archive: ZipFile, file: Path, name: str) -> None:
    told = ZipInfo(name, _EARLIEST)
    told.compress_type = ZIP_STORED if file.suffix in _PACKED else ZIP_DEFLATED
    told.external_attr = 0o644 << 16
    told.create_system = 3
    archive.writestr(told, file.read_bytes())


def _fill(book: Book, kept: Kept, folder: Path) -> dict[str, Any]:
    stem = _slug(book.plan.title)
    names = {one.id: f"{stem}-{one.id}.pdf" for one, _ in book.pdfs}
    for one, key in book.pdfs:
        (folder / names[one.id]).write_bytes(kept.read(key, "pdf"))
    (folder / "proof.txt").write_text(proof_text(book), encoding="utf-8")
    tracks = _write_tracks(book, kept, folder)
    exercises = [_write_piece(book, kept, folder, one, tracks) for one in book.pieces]
    manifest: dict[str, Any] = {
        "shape": _SHAPE,
        "made_by": f"changewright {__version__}",
        "title": book.plan.title,
        "author": book.plan.author,
        "pages": book.layout.count,
        "editions": [
            {"id": one.id, "name": one.name, "pdf": names[one.id]} for one, _ in book.pdfs
        ],
        "warnings": list(book.warnings),
        "exercises": exercises,
        "files": {
            path.relative_to(folder).as_posix(): sha256(path.read_bytes()).hexdigest()
            for path in sorted(folder.rglob("*"))
            if path.is_file()
        },
    }
    text = json.dumps(manifest, ensure_ascii=False, indent=1) + "\n"
    (folder / BOOK_MARKER).write_text(text, encoding="utf-8")
    return manifest


def _write_piece(
    book: Book, kept: Kept, folder: Path, one: SetPiece, tracks: dict[str, str]
) -> dict[str, Any]:
    """The scores of one exercise, and what the manifest says of it."""
    piece = one.piece
    first = one.told[book.plan.editions[0].id]["exercise"]
    chapter = _slug(str(book.plan.tonics[piece.chapter]), lower=False)
    name = f"{piece.number:03}-{_slug(piece.family)}"
    files: dict[str, dict[str, str]] = {}
    for extra, ending in _ENDINGS.items():
        if extra not in book.plan.extras:
            continue
        for edition in book.editions:
            path = folder / extra / edition.id / chapter / f"{name}.{ending}"
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(kept.read(one.key, f"{extra}/{edition.id}"))
            files.setdefault(extra, {})[edition.id] = path.relative_to(folder).as_posix()
    told = {
        "number": piece.number,
        "page": book.layout.page_of(piece.number),
        "title": first["title"],
        "chart": piece.chart.title,
        "key": str(piece.key),
        "level": piece.level,
        "labels": {e.id: one.told[e.id]["exercise"]["label"] for e in book.editions},
        "files": files,
    }
    if tracks:
        told["track"] = tracks[repr(track_of(piece, one.told["tempo_bpm"]))]
    return told


def _write_tracks(book: Book, kept: Kept, folder: Path) -> dict[str, str]:
    """Each track once, under a name that tells it from the others."""
    pieces = book.pieces if book.tracks else ()
    titles = {repr(track_of(s.piece, s.told["tempo_bpm"])): s.piece for s in pieces}
    names: dict[str, str] = {}
    for task, key in book.tracks:
        piece = titles[repr(task)]
        chapter = _slug(str(book.plan.tonics[piece.chapter]), lower=False)
        name = f"audio/{chapter}/{_slug(piece.chart.title)}-{task.tempo_bpm}"
        while f"{name}.flac" in names.values():
            name += f"-level-{task.level}-seed-{task.seed}"
        names[repr(task)] = f"{name}.flac"
        path = folder / f"{name}.flac"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(kept.read(key, "flac"))
    return names


def proof_text(book: Book) -> str:
    """Every automatic respelling, octave move and line of its own, edition by edition."""
    lines = [f"Proof list: {book.plan.title}", ""]
    lines += [f"Warning: {warning}" for warning in book.warnings]
    for edition in book.editions:
        lines += [f"{edition.name} edition", *_proof(book, edition), ""]
    return "\n".join(lines)


def _proof(book: Book, edition: Edition) -> Iterator[str]:
    first = book.plan.editions[0]
    nothing = True
    for one in book.pieces:
        told = one.told[edition.id]
        found = list(told["decisions"])
        if told["leader"] == edition.id != first.id:
            found.insert(0, "a line of its own: the common one does not suit its range")
        if found:
            nothing = False
            page = book.layout.page_of(one.piece.number)
            yield f"  page {page}, no. {one.piece.number}, {one.piece.family} in {one.piece.key}:"
            yield from (f"    {what}" for what in found)
    if nothing:
        yield "  nothing was respelled or moved"


def _slug(text: str, *, lower: bool = True) -> str:
    """A name for files: letters, figures and dashes; sharps are told from naturals."""
    said = text.replace("#", "-sharp").replace("♯", "-sharp").replace("♭", "b").replace("ß", "ss")
    plain = unicodedata.normalize("NFKD", said).encode("ascii", "ignore").decode()
    name = re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-")[:60]
    return (name.lower() if lower else name) or "book"
