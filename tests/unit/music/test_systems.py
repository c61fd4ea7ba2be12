from changewright.music.notation import notate
from changewright.music.systems import sections
from tests.unit.page.sheets import sheet_of

VAMP = [("Dm7", 4), ("G7", 4)]


def lengths(labels: dict[int, str], count: int, seed: int = 7) -> list[int]:
    sheet = sheet_of(VAMP * count, key="C", labels=labels, seed=seed)
    return [len(section) for section in sections(notate(sheet).bars)]


def test_each_letter_begins_a_system():
    assert lengths({1: "A", 5: "B"}, 4) == [4, 4]
    assert lengths({1: "A", 3: "B", 5: "C"}, 3) == [2, 2, 2]


def test_a_vamp_under_one_letter_fills_the_system():
    assert lengths({1: "A", 3: "A", 5: "A", 7: "B"}, 4) == [4, 2, 2]
    assert lengths({1: "A", 5: "A"}, 4) == [4, 4]
