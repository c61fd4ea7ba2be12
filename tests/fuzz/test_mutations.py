"""Charts and scores with slips of every kind: read, or refused with one clear error."""

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fuzz.targets import FULL, JUMPS, SEEDS, check_bytes, check_text

FAST = settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
LONG = settings(max_examples=4000, deadline=None, suppress_health_check=list(HealthCheck))

LINES = [*FULL.splitlines(), *JUMPS.splitlines()[3:]]
WORDS = sorted({word for line in LINES for word in re.findall(r"\S+|\s+", line)})
SCORES = [seed.decode() for seed in SEEDS["musicxml"]()[:4]]
PARTS = [re.findall(r"<[^>]*>|[^<]+", score) for score in SCORES]
TAGS = sorted({part for parts in PARTS for part in parts})
ODD = ["", "-1", "0", "99999999999", "1e9", "NaN", "½", "\u0000", "\ufeff", "&amp;", "</note>", "é"]
PACKED = SEEDS["mxl"]()[0]


@st.composite
def slips(draw, items, spare):
    """A list with a few things dropped, doubled, swapped or replaced."""
    row = list(items)
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(row) - 1))
        other = draw(st.integers(0, len(row) - 1))
        kind = draw(st.sampled_from(("drop", "double", "swap", "spare", "odd")))
        if kind == "drop" and len(row) > 1:
            del row[at]
        elif kind == "double":
            row.insert(other, row[at])
        elif kind == "swap":
            row[at], row[other] = row[other], row[at]
        else:
            row[at] = draw(st.sampled_from(spare if kind == "spare" else ODD))
    return row


lines = (slips(FULL.splitlines(), LINES) | slips(JUMPS.splitlines(), LINES)).map("\n".join)
words = slips(re.findall(r"\S+|\s+", FULL), WORDS).map("".join)
grammar = st.lists(st.sampled_from([*LINES, "| F7 |", "repeat", "end repeat"]), max_size=30).map(
    "\n".join
)
characters = st.builds(
    lambda at, length, new: FULL[:at] + new + FULL[at + length :],
    st.integers(0, len(FULL)),
    st.integers(0, 8),
    st.text(max_size=6),
)
scores = st.sampled_from(PARTS).flatmap(lambda parts: slips(parts, TAGS)).map("".join)
archives = st.builds(
    lambda at, new: PACKED[:at] + new + PACKED[at + len(new) :],
    st.integers(0, len(PACKED)),
    st.binary(min_size=1, max_size=12),
)


@given(lines | words | grammar | characters)
@FAST
def test_slips_of_the_pen(text: str) -> None:
    check_text(text)


@given(scores)
@FAST
def test_slips_in_a_score(text: str) -> None:
    check_bytes(text.encode("utf-8", "surrogatepass"))


@given(archives | st.binary(max_size=60))
@FAST
def test_slips_in_an_archive(content: bytes) -> None:
    check_bytes(content)


@pytest.mark.slow
@given(lines | words | grammar | characters)
@LONG
def test_many_slips_of_the_pen(text: str) -> None:
    check_text(text)


@pytest.mark.slow
@given(scores)
@LONG
def test_many_slips_in_a_score(text: str) -> None:
    check_bytes(text.encode("utf-8", "surrogatepass"))


@pytest.mark.slow
@given(archives)
@LONG
def test_many_slips_in_an_archive(content: bytes) -> None:
    check_bytes(content)
