"""Hypothesis strategies for charts: every mark, meter and melody that the format can say."""

from fractions import Fraction
from itertools import pairwise

from hypothesis import strategies as st

from changewright.chart.chart import RIGHTS, Chart
from changewright.chart.written import Jump, Repeat, ScalePin, Sung, WrittenBar, WrittenChord
from changewright.music.bar import Meter
from changewright.theory.key import Key
from changewright.theory.pitch import Name

__all__ = ["charts", "pieces", "plain_charts"]

SYMBOLS = ("F7", "Bb7", "C-7", "Gm7(b5)", "F#°7", "Ebmaj7", "C7/E", "N.C.", "D7(b9)", "Am7", "C6/9")
METERS = (Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(5, 4), Meter(2, 2), Meter(7, 8))
names = st.integers(-6, 6).map(Name)
keys = st.one_of(
    st.builds(Key, st.integers(-6, 6).map(Name), st.just("major")),
    st.builds(Key, st.integers(-3, 9).map(Name), st.just("minor")),
)
words = st.text("abcdef XYZ #-'é♭", min_size=1, max_size=20).map(lambda s: " ".join(s.split()))
titles = words.filter(bool)


@st.composite
def lengths(draw, total):
    """Split a bar: equally, on beats, or anywhere."""
    cuts = draw(st.sets(st.integers(1, 11), max_size=3))
    edges = [Fraction(0), *(total * c / 12 for c in sorted(cuts)), total]
    return [b - a for a, b in pairwise(edges)]


@st.composite
def chords(draw, total):
    def one(length):
        text = draw(st.sampled_from(SYMBOLS))
        root = draw(st.none() | names) if text != "N.C." else draw(names)
        pin = draw(st.none() | st.none() | st.builds(ScalePin, scale_ids, st.just(root)))
        return WrittenChord(text, length, pin)

    return tuple(one(length) for length in draw(lengths(total)))


scale_ids = st.sampled_from(("mixolydian", "dorian", "ionian"))


@st.composite
def pieces(draw, total, sounding):
    """A bar of melody that may hold what sounds before it."""
    if draw(st.booleans()):
        return ()
    tones = draw(lengths(total))
    pitches = [
        draw(st.none() | st.builds(lambda n, o: n.at(o), names, st.integers(3, 5))) for _ in tones
    ]
    held = sounding is not None and draw(st.booleans())
    if held:
        pitches[0] = sounding
    if not any(pitches):
        return ()
    sung = []
    for i, (pitch, length) in enumerate(zip(pitches, tones, strict=True)):
        if pitch is None and sung and sung[-1].pitch is None:
            length += sung.pop().length
        sung.append(Sung(pitch, length, held and i == 0))
    return tuple(sung)


@st.composite
def runs(draw):
    """Marks for a stretch of bars: plain, repeated, or repeated with endings."""
    kind = draw(st.sampled_from(("plain", "repeat", "endings")))
    count = draw(st.integers(1, 5))
    marks = [{} for _ in range(count)]
    if kind == "plain":
        return marks
    times = draw(st.integers(2, 4))
    marks[0]["opens"] = Repeat(times, draw(st.booleans()))
    if kind == "endings":
        last = draw(st.integers(1, times - 1))
        marks.append({"ending": tuple(range(1, last + 1))})
        marks.append({"ending": tuple(range(last + 1, times + 1))})
        marks.extend({} for _ in range(draw(st.integers(0, 1))))
    marks[-1]["closes"] = True
    return marks


@st.composite
def _marks(draw):
    parts = [draw(runs()) for _ in range(draw(st.integers(1, 4)))]
    has_form = draw(st.booleans())
    for i, part in enumerate(parts):
        if has_form or draw(st.booleans()):
            part[0]["section"] = "ABCD"[i]
    return [m for part in parts for m in part], has_form and "ABCD"[: len(parts)]


@st.composite
def _jumps(draw, marks):
    last = len(marks) - 1
    if last < 3 or draw(st.booleans()):
        return
    to, then = draw(st.sampled_from(("top", "sign"))), draw(st.sampled_from(("", "coda", "end")))
    marks[1]["sign"] = to == "sign"
    if then == "coda":
        marks[1]["to_coda"], marks[last]["coda"] = True, True
        marks[last - 1]["jump"] = Jump(to, then)
    else:
        marks[last]["jump"] = Jump(to, then)
        marks[2]["fine"] = then == "end"


@st.composite
def charts(draw, with_jumps=True):
    """Any chart."""
    marks, names_ = draw(_marks())
    if with_jumps and not names_:
        draw(_jumps(marks))
    order = st.lists(st.sampled_from(names_ or "A"), max_size=5 if names_ else 0).map(tuple)
    return Chart(
        title=draw(titles),
        by=draw(words),
        tempo_bpm=draw(st.integers(20, 400)),
        feel=draw(st.sampled_from(("swing", "bossa", "even eighths"))),
        rights=draw(st.sampled_from([*RIGHTS, "public domain, 1912"])),
        bars=draw(_bars(marks)),
        form=draw(order),
        head_in=draw(order),
        solos=draw(order),
        head_out=draw(order),
    )


@st.composite
def _bars(draw, marks):
    meter, key = draw(st.sampled_from(METERS)), draw(st.none() | keys)
    bars, sounding = [], None
    if draw(st.booleans()):
        half = meter.length / 2
        bars.append(WrittenBar(draw(chords(half)), meter, key, pickup=True))
    for mark in marks:
        if draw(st.integers(0, 5)) == 0:
            meter, key = draw(st.sampled_from(METERS)), draw(keys)
        same = bars and bars[-1].meter == meter and not bars[-1].pickup and draw(st.booleans())
        own = bars[-1].chords if same else draw(chords(meter.length))
        melody = draw(pieces(meter.length, sounding))
        sounding = melody[-1].pitch if melody else None
        pin = draw(st.none() | st.none() | keys)
        bars.append(WrittenBar(own, meter, key, pin=pin, melody=melody, **mark))
    return tuple(bars)


plain_charts = charts(with_jumps=False)
"""Charts without a way back."""
