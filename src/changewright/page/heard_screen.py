"""Listening notes for a screen: one HTML file that needs nothing else, with each bar's sound in it.

The notes stay folded until the player has thought about the questions. No script, no network.
"""

from base64 import b64encode
from collections.abc import Iterator
from html import escape

from changewright.page.heard import BarNote, HeardPage
from changewright.page.heard_print import MEASURE_HEADS, MEASURE_KEY, heard_key, measure_cells
from changewright.page.heard_rows import HeardRow, heard_rows
from changewright.page.look import Face, font_bytes, printable

__all__ = ["heard_html"]

_FACES: tuple[tuple[Face, str], ...] = (
    ("edwin-roman", ""),
    ("edwin-bold", ";font-weight:bold"),
    ("edwin-italic", ";font-style:italic"),
)
_STYLE = """
body{margin:0 auto;max-width:60rem;padding:1rem;font:1.05rem/1.5 Edwin,serif;color:#000;
background:#fff}
h1{margin:0;line-height:1.2}h2{margin:1.6rem 0 .4rem}h3{margin:1.8rem 0 .3rem}
svg{display:block;width:100%;height:auto;margin:.4rem 0}
.wide{overflow-x:auto}.wide svg{min-width:36rem}
textarea{box-sizing:border-box;width:100%;font:inherit;margin:.2rem 0 .8rem}
label{display:block}summary{cursor:pointer;font-weight:bold;padding:.6rem 0}
summary:focus-visible,audio:focus-visible,textarea:focus-visible{outline:3px solid #000}
.wide p{margin:.5rem 0 0;font-style:italic;font-size:.85rem}
li{margin:.5rem 0}ol{list-style:none;padding:0}audio{display:block;height:2.2rem;margin:.2rem 0}
.key,footer{font-size:.9rem}
table{border-collapse:collapse;font-size:.9rem;min-width:36rem}
th,td{padding:.25rem .6rem;text-align:right;font-weight:normal;border-bottom:1px solid #777}
thead th{font-style:italic}tbody th{text-align:left}
""".replace("\n", "")


def heard_html(page: HeardPage) -> str:
    """The page as one HTML document, to be opened from disk."""
    title = escape(page.title or "Listening notes")
    return "".join(
        (
            '<!doctype html><html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width,initial-scale=1">',
            f"<title>{title}</title><style>{_fonts()}{_STYLE}</style></head><body><main>",
            f"<h1>{title}</h1><p>{escape(page.for_whom)}</p>",
            *_questions(page),
            "<details><summary>Then open the listening notes</summary>",
            *_said(page),
            *_measures(page),
            *_bars(page),
            f"</details></main><footer><p>{escape(page.caveat)}</p></footer></body></html>\n",
        )
    )


def _fonts() -> str:
    return "".join(
        f'@font-face{{font-family:Edwin{rule};src:url("data:font/otf;base64,'
        f'{b64encode(font_bytes(face)).decode("ascii")}") format("opentype")}}'
        for face, rule in _FACES
    )


def _questions(page: HeardPage) -> Iterator[str]:
    yield "<h2>First, your own ears</h2>"
    for number, question in enumerate(page.questions, start=1):
        yield (
            f'<label for="ears-{number}">{escape(printable(question))}</label>'
            f'<textarea id="ears-{number}" rows="2"></textarea>'
        )


def _said(page: HeardPage) -> Iterator[str]:
    yield "<h2>What was heard</h2>"
    if page.headline:
        yield f"<p>{escape(printable(page.headline))}</p>"
    for head, text in page.said:
        yield f"<p><strong>{escape(printable(head))}.</strong> {escape(printable(text))}</p>"


def _measures(page: HeardPage) -> Iterator[str]:
    if not page.measures:
        return
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in MEASURE_HEADS)
    yield f'<h2>Beside chance and the record</h2><p class="key">{escape(MEASURE_KEY)}</p>'
    yield f'<div class="wide"><table><thead><tr>{heads}</tr></thead><tbody>'
    for row in page.measures:
        name, *cells = (escape(printable(cell)) for cell in measure_cells(row))
        rest = "".join(f"<td>{cell}</td>" for cell in cells)
        yield f'<tr><th scope="row">{name}</th>{rest}</tr>'
    yield "</tbody></table></div>"


def _bars(page: HeardPage) -> Iterator[str]:
    rows = heard_rows(page)
    if not rows:
        return
    head = "Bar by bar" if page.exercise is not None else "The solo, bar by bar"
    yield f'<h2>{head}</h2><p class="key"><em>{escape(heard_key(page))}</em></p>'
    for row in rows:
        yield from _row(row)


def _row(row: HeardRow) -> Iterator[str]:
    staves = f"<p>Heard</p>{row.take}<p>Asked</p>{row.exercise}" if row.exercise else row.take
    drawings = staves + row.picture
    yield f'<section><h3>{escape(row.title)}</h3><div class="wide">{drawings}</div><ol>'
    for note in row.notes:
        yield _note(note)
    yield "</ol></section>"


def _note(note: BarNote) -> str:
    sound = ""
    if note.sound:
        coded = b64encode(note.sound).decode("ascii")
        sound = (
            f'<audio controls preload="none" aria-label="Your take, bar {note.number}" '
            f'src="data:audio/wav;base64,{coded}"></audio>'
        )
    text = escape(printable(note.text))
    return f"<li><strong>Bar {note.number}.</strong> {text}{sound}</li>"
