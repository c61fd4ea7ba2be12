"""Books at the Desk and on the Shelf: give a file in, see how far it is, fetch what came of it."""

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Route

from changewright.errors import InputError, NotKept, Place
from changewright.studio.bookcase import FILE, MOST_TEXT
from changewright.studio.faults import fault_view
from changewright.studio.pages import page, see_other
from changewright.studio.press import book_state, go_on
from changewright.studio.studio import Studio, studio_of

__all__ = ["ROUTES", "finished_books", "unfinished_books"]

_START = """title = "Two keys by Thursday"
author = "Quayside workshop"
keys = ["F", "Bb"]
editions = ["C treble", "B-flat"]

[[exercises]]
charts = ["quayside-blues"]
levels = [2]
families = ["root-up", "guide-tones"]
"""


def unfinished_books(studio: Studio) -> list[dict[str, Any]]:
    """The books that are not there yet, as the Desk tells them."""
    books = studio.books
    return [
        {
            "at": f"/books/{name}",
            "title": books.told(name)["title"],
            "player": "",
            **book_state(studio, name),
        }
        for name in books.names()
        if books.manifest(name) is None
    ]


def finished_books(studio: Studio) -> list[dict[str, Any]]:
    """The books that are there, as the Shelf tells them."""
    found = ((name, studio.books.manifest(name)) for name in studio.books.names())
    return [{"name": name, **made} for name, made in found if made is not None]


def _new(request: Request) -> Response:
    """A file to begin with, or that of another book."""
    of = request.query_params.get("of")
    text = _START if of is None else studio_of(request).books.text(of)
    return _editor(request, text, None)


def _editor(request: Request, text: str, fault: dict[str, Any] | None) -> Response:
    return page(
        request, "book_new.html", status=422 if fault else 200, text=text, fault=fault, file=FILE
    )


async def _give(request: Request) -> Response:
    """A book's file, typed or brought in; what can't be used is shown again with its fault."""
    async with request.form(max_files=1, max_fields=4, max_part_size=5 * MOST_TEXT) as form:
        upload, typed = form.get("book"), str(form.get("text", "")).encode()
        is_file = isinstance(upload, UploadFile) and bool(upload.filename)
        content = (
            await upload.read(MOST_TEXT + 1)
            if is_file and isinstance(upload, UploadFile)
            else typed
        )
    return await run_in_threadpool(_given, request, content)


def _given(request: Request, content: bytes) -> Response:
    studio = studio_of(request)
    text = content[:MOST_TEXT].decode("utf-8", "replace").replace("\r\n", "\n")
    try:
        if len(content) > MOST_TEXT:
            raise InputError(
                f"more than {MOST_TEXT:,} bytes are too many for a book's file",
                remedy="Make two books of it.",
            )
        if "\ufffd" in text:
            raise InputError("this is no text", where=Place(FILE), remedy="Save it as UTF-8.")
        name = studio.books.keep(text)
    except InputError as wrong:
        told = fault_view(wrong)
        line = f", line {told['line']}" if told["line"] else ""
        return _editor(request, text, told | {"where": FILE + line})
    if studio.books.halted(name) is None:
        go_on(studio, name)
    return see_other(f"/books/{name}")


def _book(request: Request) -> Response:
    studio, name = studio_of(request), request.path_params["book"]
    told, state = studio.books.told(name), book_state(studio, name)
    made = studio.books.manifest(name)
    if made is not None:
        proof = (studio.books.path(name) / "made" / "proof.txt").read_text("utf-8")
        return page(
            request,
            "book.html",
            name=name,
            made=made,
            proof=proof,
            text=studio.books.text(name),
            has_zip=(studio.books.path(name) / "book.zip").is_file(),
        )
    halted = studio.books.halted(name) or {}
    return page(
        request,
        "book_making.html",
        status=422 if state["state"] == "failed" else 202,
        name=name,
        title=told["title"],
        exercises=told["exercises"],
        fault=halted.get("fault"),
        **{"done": None, "total": None, **state},
    )


def _progress(request: Request) -> Response:
    """How far a book is, for a page that waits."""
    return JSONResponse(book_state(studio_of(request), request.path_params["book"]))


def _stop(request: Request) -> Response:
    """Stop at the next step; what is finished is kept."""
    studio, name = studio_of(request), request.path_params["book"]
    studio.books.stop(name)
    return see_other(f"/books/{name}")


def _make(request: Request) -> Response:
    """Go on with a book that was stopped, or could not be made."""
    studio, name = studio_of(request), request.path_params["book"]
    if studio.books.halted(name) is not None:
        go_on(studio, name)
    return see_other(f"/books/{studio.books.path(name).name}")


def _delete(request: Request) -> Response:
    studio_of(request).books.delete(request.path_params["book"])
    return see_other("/shelf")


def _pdf(request: Request) -> Response:
    """One edition of a book that is there."""
    books, name = studio_of(request).books, request.path_params["book"]
    made = books.manifest(name) or {"editions": []}
    for one in made["editions"]:
        if one["id"] == request.path_params["edition"]:
            path = books.path(name) / "made" / one["pdf"]
            return FileResponse(path, media_type="application/pdf", filename=path.name)
    raise NotKept("this book has no such edition", remedy="Choose one on the book's page.")


def _zip(request: Request) -> Response:
    """Everything that came of a book, in one file."""
    books, name = studio_of(request).books, request.path_params["book"]
    path = books.path(name) / "book.zip"
    if books.manifest(name) is None or not path.is_file():
        raise NotKept("this book is not made yet", remedy="Wait for it on its page.")
    return FileResponse(path, media_type="application/zip", filename="book.zip")


_AT = "/books/{book}"
ROUTES = [
    Route("/books/new", _new),
    Route("/books", _give, methods=["POST"]),
    Route(_AT, _book),
    Route(_AT + "/state", _progress),
    Route(_AT + "/stop", _stop, methods=["POST"]),
    Route(_AT + "/make", _make, methods=["POST"]),
    Route(_AT + "/delete", _delete, methods=["POST"]),
    Route(_AT + "/editions/{edition}", _pdf),
    Route(_AT + "/book.zip", _zip),
]
