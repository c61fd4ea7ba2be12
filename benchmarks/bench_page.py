"""The page against an open engraver: warm, cold, and the same music side by side."""

import pickle
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from itertools import islice
from pathlib import Path
from statistics import quantiles
from time import perf_counter

import lilypond

from benchmarks.figure import Figure, median_ms, paired_ms
from changewright.chart.model import form_of
from changewright.music.line import Line, Note, Role
from changewright.music.notated import Mark, NotatedBar, Notation
from changewright.music.notation import notate
from changewright.music.sheet import Recipe, Sheet
from changewright.page import lesson_pdf, sheet_svg
from changewright.theory.instrument import instrument
from changewright.theory.key import Key
from changewright.theory.symbols import write_symbol

__all__ = ["blues_sheet", "figures"]

_TITLE, _PLAYER = "Quayside workshop: blues in twelve keys", "Clarinet, Thursday"
_PLAYERS = ("clarinet", "alto saxophone", "flute", "trombone")
_BOOK = 48  # exercises: twelve keys for four players
_KEYS = ("F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G", "C")
_COLD = """import pickle, sys
from changewright.page import lesson_pdf
with open(sys.argv[1], "rb") as file:
    sheets, words = pickle.load(file)
sys.stdout.buffer.write(lesson_pdf(sheets, **words))"""


def figures() -> Iterable[Figure]:
    """Warm screen engraving and page, cold page, and the reference engraver on the same music.

    Either engraver gets the finished notes in a file of its own kind, and makes a PDF in a process
    of its own, start to end.
    """
    sheet = blues_sheet("F")
    yield Figure("page.screen_p95_ms", _p95_ms(sheet), "ms")
    yield Figure("page.ms", median_ms(lambda: _page(sheet)), "ms")
    with tempfile.TemporaryDirectory() as folder:
        one, book = (_Music(Path(folder) / str(count), count) for count in (1, _BOOK))
        cold, peer_cold = paired_ms(one.ours, one.theirs, times=3)
        yield Figure("page.cold_ms", cold, "ms", "lilypond", peer_cold)
        ours, peer = paired_ms(book.ours, book.theirs, times=2)
        yield Figure("page.vs_engraver", peer / ours, "times", "lilypond_ms", peer)
        ours, peer = _cpu_ms(book.ours), _cpu_ms(book.theirs)
        yield Figure("page.cpu_vs_engraver", peer / ours, "times", "lilypond_ms", peer)


def blues_sheet(key: str, player_id: str = "clarinet") -> Sheet:
    """Twelve bars of three chords in eighths, up and down the chord."""
    tonic = Key.parse(key)
    steps = (0, 0, 0, 0, -1, -1, 0, 0, 1, -1, 0, 0)
    symbols = [(f"{type(tonic.tonic)(tonic.tonic.fifths + step)}7", 4) for step in steps]
    form = form_of(symbols, tonic)
    player = instrument(player_id)
    low = player.concert_range("comfort").low.midi
    notes: list[Note] = []
    for bar in form.bars:
        chord = bar.changes[0].chord
        for place, degree in enumerate((*chord.four, *reversed(chord.four))):
            pitch = chord.tone(degree).at(3)
            while pitch.midi < low:
                pitch = chord.tone(degree).at(pitch.octave + 1)
            at = bar.start + Fraction(place, 2)
            notes.append(Note(at, Fraction(1, 2), pitch, Role.CHORD_TONE, degree))
    recipe = Recipe("bench", "root-up", 2, key, player.id, 1)
    line = Line(tuple(notes), form.length)
    return Sheet(
        recipe, f"Chord tones in {key}", "Up and down.", tonic, player, form.bars, line, (), 120
    )


def _sheets(count: int) -> Iterator[Sheet]:
    pairs = ((key, player) for player in _PLAYERS for key in _KEYS)
    yield from (blues_sheet(key, player) for key, player in islice(pairs, count))


def _page(sheet: Sheet) -> bytes:
    return lesson_pdf([sheet], title=_TITLE, for_whom=_PLAYER)


def _p95_ms(sheet: Sheet) -> float:
    sheet_svg(sheet, embed_fonts=False)
    taken = []
    for _ in range(40):
        start = perf_counter()
        sheet_svg(sheet, embed_fonts=False)
        taken.append((perf_counter() - start) * 1000)
    return quantiles(taken, n=20)[-1]


def _cpu_ms(make: Callable[[], None]) -> float:
    """The processor's time for the book: what it costs whoever else is at work."""
    before = _spent_s()
    make()
    return 1000 * (_spent_s() - before)


def _spent_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


class _Music:
    """So many exercises as finished notes, written for either engraver before the clock starts."""

    def __init__(self, folder: Path, count: int) -> None:
        folder.mkdir()
        sheets = list(_sheets(count))
        # No more on the page than the reference engraver prints: no steps of practice.
        words = {"title": _TITLE, "for_whom": _PLAYER, "practice": False}
        self._sheets = folder / "sheets.pickle"
        self._sheets.write_bytes(pickle.dumps((sheets, words)))
        self._source = folder / "page.ly"
        self._source.write_text(_ly_book(sheets), "utf-8")

    def ours(self) -> None:
        command = [sys.executable, "-c", _COLD, str(self._sheets)]
        made = subprocess.run(command, check=True, capture_output=True)
        assert made.stdout.startswith(b"%PDF")

    def theirs(self) -> None:
        """The same titles, keys, tempos, instructions, notes, symbols and figures, one process."""
        page = self._source.with_suffix("")
        command = [str(lilypond.executable()), "-s", "-o", str(page), str(self._source)]
        subprocess.run(command, check=True, capture_output=True)
        assert page.with_suffix(".pdf").stat().st_size > 0


def _ly_book(sheets: Iterable[Sheet]) -> str:
    scores = (_ly_headed(notate(sheet)) for sheet in sheets)
    head = f'title = "{_TITLE}" subtitle = "{_PLAYER}" tagline = ##f'
    return f'\\version "2.24.0"\n\\header {{ {head} }}\n' + "\n".join(scores)


def _ly_headed(notation: Notation) -> str:
    """A score with what our page prints over it: keys and reader, tempo, feel and instruction."""
    sheet, key = notation.sheet, notation.key
    keys = f"Concert {sheet.key.tonic} {sheet.key.mode}, written {key.tonic} {key.mode}"
    score = _ly_score(notation).replace(
        "\\header {", f'\\header {{ opus = "{keys} for {sheet.instrument.name}" '
    )
    tempo = f'\\tempo "{sheet.feel}" 4 = {sheet.tempo_bpm} '
    return f'\\markup {{ \\italic "{sheet.instruction}" }}\n' + score.replace(
        "\\new Staff { ", f"\\new Staff {{ {tempo}"
    )


def _ly_score(notation: Notation) -> str:
    names = " ".join(_ly_bar(bar) for bar in notation.bars)
    chords = " ".join(_ly_chord(bar) for bar in notation.bars)
    figures = " ".join(
        f'"{m.figure}"' for b in notation.bars for m in b.marks if m.figure is not None
    )
    tonic = _ly_name(notation.key.tonic.letter, notation.key.tonic.alter)
    title = notation.sheet.title
    return (
        f"\\score {{ << \\new ChordNames {{ \\chordmode {{ {chords} }} }} "
        f'\\new Staff {{ \\key {tonic} \\{notation.key.mode} {names} \\bar "|." }} '
        f'\\addlyrics {{ {figures} }} >> \\header {{ piece = "{title}" }} '
        "\\layout { } }"
    )


def _ly_bar(bar: NotatedBar) -> str:
    line_break = " \\break" if bar.bar.number % 4 == 0 else ""
    return " ".join(_ly_note(mark) for mark in bar.marks) + f" |{line_break}"


def _ly_note(mark: Mark) -> str:
    length = f"{int(4 / mark.value.base)}{'.' * mark.value.dots}"
    if mark.pitch is None:
        return f"r{length}"
    name = mark.pitch.name
    octave = mark.pitch.octave - 3
    ticks = "'" * octave if octave > 0 else "," * -octave
    return f"{_ly_name(name.letter, name.alter)}{ticks}{length}{'~' if mark.tied_to else ''}"


def _ly_chord(bar: NotatedBar) -> str:
    chord = bar.chords[0].chord
    assert chord.root is not None
    assert write_symbol(chord).endswith("7")
    return f"{_ly_name(chord.root.letter, chord.root.alter)}1:7"


def _ly_name(letter: str, alter: int) -> str:
    return letter.lower() + ("is" * alter if alter > 0 else "es" * -alter)
