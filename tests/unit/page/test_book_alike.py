"""A class reads one exercise from parts for several instruments, bar by bar at the same place."""

from dataclasses import replace

from changewright.music.notation import notate
from changewright.page.engraving import engrave_alike, engrave_notation
from changewright.page.look import look_of
from changewright.theory.instrument import instrument
from tests.unit.page.sheets import random_rhythms, sheet_of

PLAYERS = ("flute", "alto saxophone", "trombone")


def test_all_readers_get_the_same_bars_on_each_system():
    look = look_of("plain")
    sheet = sheet_of(instrument_id="flute", key="Gb", rhythm=random_rhythms(5), seed=3)
    sheets = [replace(sheet, instrument=instrument(player)) for player in PLAYERS]
    notations = [notate(one) for one in sheets]
    together = engrave_alike(notations, look)
    numbers = [[[b.bar.number for b in s.bars] for s in systems] for systems in together]
    assert numbers[0] == numbers[1] == numbers[2]
    assert [n for row in numbers[0] for n in row] == list(range(1, 13))
    alone = [len(engrave_notation(n, look)) for n in notations]
    assert len(numbers[0]) >= max(alone)
    assert not any(s.is_crowded for systems in together for s in systems if len(s.bars) > 1)
