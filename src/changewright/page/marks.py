"""The small marks of the tempo line, drawn: a note, a dotted note, the swing equation.

Sizes are in staff spaces; shapes follow the proportions of engraved notes.
"""

from changewright.music.bar import Meter

__all__ = ["is_compound", "swing_svg", "tempo_share", "tempo_svg"]

_HEIGHT = 4.8

_HEAD = (
    '<ellipse cx="{x}" cy="{y}" rx=".64" ry=".46" transform="rotate(-22 {x} {y})"/>'
    '<path d="M{s} {t}V{y}" stroke="#000" stroke-width=".13"/>'
)


def is_compound(meter: Meter) -> bool:
    """True where the beat is a dotted quarter, as in 6/8 and 12/8."""
    return meter.unit == 8 and meter.beats % 3 == 0 and meter.beats > 3


def tempo_svg(meter: Meter) -> str:
    """The note that a metronome mark counts."""
    dot = '<circle cx="2.1" cy="3.2" r=".2"/>' if is_compound(meter) else ""
    return _svg(_tempo_width(meter), _note(0.75) + dot)


def tempo_share(meter: Meter) -> float:
    """The width of that note's drawing as a share of its height."""
    return _tempo_width(meter) / _HEIGHT


def _tempo_width(meter: Meter) -> float:
    return 2.5 if is_compound(meter) else 1.7


def swing_svg() -> str:
    """Two eighths are played as a triplet's quarter and eighth."""
    even = _note(0.8) + _note(2.9) + _beam(1.36, 3.52)
    equals = '<path d="M4.6 2.6H5.8M4.6 3.1H5.8" stroke="#000" stroke-width=".16"/>'
    long = (
        _note(7.3)
        + _note(9.5)
        + '<path d="M10.08 .45q.1 .75 .75 1.2q.4 .4 .05 1.3q.1-.9-.8-1.3z"/>'
    )
    bracket = (
        '<path d="M6.9 .1V-.35H8.35M9.2-.35H10.6V.1" stroke="#000" stroke-width=".1" fill="none"/>'
    )
    three = (
        '<path d="M8.5-.72q.3-.28.55-.02q.18.3-.2.42q.5.08.3.48q-.26.36-.68.06" '
        'stroke="#000" stroke-width=".13" fill="none"/>'
    )
    return _svg(11.2, even + equals + long + bracket + three)


def _note(x: float) -> str:
    return _HEAD.format(x=x, y=3.2, s=round(x + 0.58, 2), t=0.45)


def _beam(left: float, right: float) -> str:
    return f'<path d="M{left - 0.05} .4H{right + 0.02}V.9H{left - 0.05}z"/>'


def _svg(width: float, body: str) -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 -.9 {width} {_HEIGHT}">{body}</svg>'
