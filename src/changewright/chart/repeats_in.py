"""Find the repeats of a score from its bar lines, as players take them.

A repeat sign without a beginning goes back to the end of the repeat before it, or to the top;
an ending without an end lasts one bar. Source: common practice.
"""

import re
from collections.abc import Sequence

from changewright.chart.musicxml_score import Draft
from changewright.chart.written import MOST_TIMES, Marks, Repeat
from changewright.errors import ChartError, Place

__all__ = ["repeat_marks"]


def repeat_marks(drafts: Sequence[Draft], first: int, name: str) -> list[Marks]:
    """The marks of each measure: where repeats open and close, and their endings.

    ``first`` is the index of the first full bar.
    """
    marks: list[Marks] = [{} for _ in drafts]
    begin, index = first, first
    while index < len(drafts):
        if drafts[index].forward:
            begin = index
        if drafts[index].ending:
            index = begin = _with_endings(drafts, marks, begin, index, name)
        elif drafts[index].backward:
            times = min(max(drafts[index].backward, 2), MOST_TIMES)
            marks[begin]["opens"] = Repeat(times, _is_vamp(drafts[begin]))
            marks[index]["closes"] = True
            index = begin = index + 1
        else:
            index += 1
    return marks


def _with_endings(
    drafts: Sequence[Draft], marks: list[Marks], begin: int, index: int, name: str
) -> int:
    """Mark a repeat whose first ending starts at ``index``; return where it is over."""
    if begin == index:
        where = Place(name, drafts[index].node.line, bar=index + 1)
        raise ChartError(
            "a repeat begins with an ending",
            where=where,
            remedy="Put the sign where the repeat begins, and export the score again.",
        )
    count = 0
    while index < len(drafts) and drafts[index].ending:
        numbers = tuple(n or count + 1 for n in drafts[index].ending)
        marks[index]["ending"] = numbers
        count = max(count, *numbers)
        stop = _ending_stop(drafts, index)
        goes_back = bool(drafts[stop - 1].backward)
        index = stop
    if goes_back and index < len(drafts) and not drafts[index].ending:
        count += 1  # the last ending has no bracket: it is the bar that follows
        marks[index]["ending"] = (count,)
        index += 1
    if count < 2:
        for mark in marks[begin:index]:
            mark.pop("ending", None)
    times = min(max(count, 2), MOST_TIMES)
    marks[begin]["opens"] = Repeat(times, _is_vamp(drafts[begin]))
    marks[index - 1]["closes"] = True
    return index


def _is_vamp(draft: Draft) -> bool:
    return any(re.match(r"vamp\b", words, re.IGNORECASE) for words in draft.words)


def _ending_stop(drafts: Sequence[Draft], index: int) -> int:
    """The index after an ending's last bar."""
    for at in range(index, len(drafts)):
        if at > index and (drafts[at].ending or drafts[at].forward):
            return at
        if drafts[at].ending_stops or drafts[at].backward:
            return at + 1
    return index + 1
