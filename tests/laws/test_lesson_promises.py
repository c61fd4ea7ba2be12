"""Laws of composing: whatever is asked for, a sheet keeps everything that it promises."""

from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from changewright.chart.model import form_of
from changewright.errors import InputError, Refusal
from changewright.lesson.compose import compose
from changewright.lesson.family import families
from changewright.lesson.level import levels
from changewright.lesson.player import Player
from changewright.music.bar import Meter
from changewright.music.keeping import broken
from changewright.reading.analyse import analyse
from changewright.theory.instrument import instruments
from tests.strategies import QUALITIES, all_instruments, names
from tests.unit.lesson.forms import KEYS, reading

chords = st.builds(
    lambda name, quality: f"{name}{quality}" if quality != "N.C." else quality,
    names,
    st.sampled_from((*QUALITIES, "N.C.")),
)
forms = st.builds(
    lambda symbols, meter: form_of(symbols, meter=meter, title="any"),
    st.lists(st.tuples(chords, st.sampled_from([1, 2, 2, 4, 4, 4, 8, 16])), min_size=1, max_size=8),
    st.sampled_from([Meter(4, 4), Meter(4, 4), Meter(4, 4), Meter(3, 4), Meter(5, 4), Meter(6, 8)]),
)
seeds = st.integers(0, 10_000)
tasks = st.sampled_from(
    [(levels()[n], f.id) for n in levels() for f in families().values() if f.since <= n]
)
LENIENT = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


def outcome(form, instrument, task, seed, **more):
    """The sheet, or the refusal, or what a family lacks in the changes."""
    try:
        return compose(analyse(form), Player(instrument), *task, seed, **more)
    except (Refusal, InputError) as fault:
        return fault


@given(forms, all_instruments, tasks, seeds)
@LENIENT
def test_a_sheet_keeps_its_promises_or_the_refusal_says_where(form, instrument, task, seed):
    found = outcome(form, instrument, task, seed)
    if isinstance(found, Refusal):
        assert 1 <= found.bar <= len(form.bars)
        assert found.rules
    elif isinstance(found, InputError):
        assert found.remedy
    else:
        assert broken(found) == ()
        assert found.line.notes
        assert found.instruction


@given(forms, all_instruments, tasks, seeds)
@settings(LENIENT, max_examples=20)
def test_the_same_recipe_gives_the_same_sheet(form, instrument, task, seed):
    first, again = (outcome(form, instrument, task, seed) for _ in range(2))
    assert first == again or str(first) == str(again)


@given(forms, all_instruments, tasks, seeds)
@settings(LENIENT, max_examples=20)
def test_a_refusal_can_always_be_relaxed_and_the_sheet_says_so(form, instrument, task, seed):
    found = outcome(form, instrument, task, seed)
    if isinstance(found, Refusal):
        sheet = outcome(form, instrument, task, seed, relax=True)
        assert found.repairs[0] in sheet.instruction
        assert broken(sheet) == ()


@pytest.mark.longest
def test_ten_thousand_sheets_keep_every_promise():
    """Common forms in twelve keys, every instrument, level and family; none may be refused."""
    dice = Random(5)
    players = [Player(one) for one in instruments().values()]
    tried = [
        (levels()[n], f.id)
        for n in levels()
        for f in families().values()
        if f.since <= n and not f.wants_melody
    ]
    for _ in range(10_000):
        chorus = reading(dice.choice(["jazz blues", "two five one"]), dice.choice(KEYS))
        sheet = compose(chorus, dice.choice(players), *dice.choice(tried), dice.randrange(10**6))
        assert broken(sheet) == ()
