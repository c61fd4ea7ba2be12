"""The library of phrases: list it, find what fits a chart, take phrases from a file."""

import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from changewright.chart.load import MOST_BYTES
from changewright.chart.model import Form
from changewright.errors import InputError, Place
from changewright.lesson.compose import grounds
from changewright.lesson.level import level
from changewright.lesson.phrase import Phrase, phrase_of
from changewright.lesson.phrase_library import own_phrases, read_phrases
from changewright.lesson.player import Player
from changewright.lesson.quoting import fitting
from changewright.lesson.solo import Finding, chart_of, excerpt, findings
from changewright.music.document import Document
from changewright.reading.analyse import analyse
from changewright.usecases.charts import open_form
from changewright.usecases.instruments import named_instrument

__all__ = ["find_phrases", "list_phrases", "phrases_in", "take_phrases"]

_WHOLE_BARS = 8
"""A file of up to so many bars is one phrase; a longer one is read as a solo."""


def phrases_in(folder: Path | None) -> tuple[Phrase, ...]:
    """A teacher's own phrases, none where no folder is named."""
    return () if folder is None else read_phrases(folder)


def list_phrases(folder: Path | None = None) -> list[Document]:
    """Every phrase of the library, a teacher's own first."""
    return [_described(one) for one in (*phrases_in(folder), *own_phrases())]


def find_phrases(
    chart: str,
    *,
    key: str | None = None,
    instrument: str = "piano",
    number: int = 8,
    folder: Path | None = None,
) -> list[Document]:
    """The phrases that fit a chart for an instrument at a level, with the bars where they do."""
    reading = analyse(open_form(chart, key))
    player = Player(named_instrument(instrument))
    ground = next(
        grounds(reading, player, level(number), "free-rhythm", phrases=phrases_in(folder)), None
    )
    found = {} if ground is None else fitting(ground)
    return [
        {
            **_described(places[0].phrase),
            "places": [{"bar": reading.bars[p.bar].number, "adapted": p.adapted} for p in places],
        }
        for places in found.values()
    ]


def _described(phrase: Phrase) -> Document:
    return {
        "name": phrase.name,
        "title": phrase.title,
        "level": phrase.level,
        "bars": len(phrase.bars),
        "chords": [str(c.text) for b in phrase.bars for c in b.changes],
        "degrees": [str(n.degree) for n in phrase.notes],
        "starts": str(phrase.entry),
        "ends": str(phrase.exit),
        "directions": list(phrase.directions),
        "tags": list(phrase.tags),
        "rights": phrase.rights,
    }


def take_phrases(
    source: Path, folder: Path, *, changes: str | None = None, figures: bool = False
) -> Document:
    """Take the phrases of a file into a folder, one text file each; nothing is overwritten.

    ``changes`` names the chart that a MIDI file is played over. ``figures`` takes enclosures,
    approach notes and guide-tone lines too. Raises :class:`InputError`.
    """
    form = _read(source, changes)
    found = findings(form)
    stem = re.sub(r"[^a-z0-9]+", "-", source.stem.lower()).strip("-") or "phrase"
    pieces = _pieces(form, found, stem, figures)
    folder.mkdir(parents=True, exist_ok=True)
    taken = [_written(folder, name, piece) for name, piece in pieces]
    notes = form.melody.notes if form.melody else ()
    return {
        "folder": str(folder),
        "found": [
            {
                "kind": one.kind,
                "bar": one.bar,
                "beat": one.beat,
                "notes": [str(notes[i].pitch) for i in one.notes],
            }
            for one in found
        ],
        "taken": taken,
    }


def _read(source: Path, changes: str | None) -> Form:
    if source.suffix.lower() not in (".mid", ".midi"):
        return open_form(str(source))
    from changewright.lesson.midi_melody import with_midi

    where = Place(file=source.name)
    if changes is None:
        raise InputError(
            "a MIDI file has no changes",
            where=where,
            remedy="Name the chart that it is played over with --changes.",
        )
    if not source.is_file() or source.stat().st_size > MOST_BYTES:
        raise InputError("there is no such file, or it is too long", where=where)
    return with_midi(open_form(changes), source.read_bytes(), source.name)


def _pieces(
    form: Form, found: Sequence[Finding], stem: str, figures: bool
) -> list[tuple[str, Form]]:
    if len(form.bars) <= _WHOLE_BARS and not figures:
        return [(stem, form)]
    wanted = [one for one in found if figures or one.is_phrase]
    if not wanted:
        raise InputError(
            "no phrase of up to four bars was found", remedy="Cut the phrase out of the solo first."
        )
    return [(f"{stem}-bar-{one.bar}-{_word(one)}", excerpt(form, one)) for one in wanted]


def _word(finding: Finding) -> str:
    return finding.kind.lower().replace(" ", "-")


def _written(folder: Path, name: str, form: Form) -> Document:
    phrase = phrase_of(form, name)
    path = _free(folder, name)
    path.write_text(chart_of(form), "utf-8")
    return {"file": path.name, **{k: v for k, v in _described(phrase).items() if k in _KEPT}}


_KEPT = ("level", "bars", "degrees", "tags")


def _free(folder: Path, name: str) -> Path:
    names: Iterable[str] = (name, *(f"{name}-{n}" for n in range(2, 10_000)))
    return next(p for one in names if not (p := folder / f"{one}.txt").exists())
