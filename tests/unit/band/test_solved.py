import pytest

from changewright.band.comping import VOICE_LEADING
from changewright.band.solved import solved
from changewright.errors import Refusal
from changewright.line.slot import Slot
from changewright.line.trellis import Trellis
from changewright.music.bar import Quarters


def test_a_hand_that_must_jump_jumps() -> None:
    slots = tuple(
        Slot(Quarters(at), 1, "1", tuple((f"v{k}", (note + 3 * k,)) for k in (1, 2, 3, 4)))
        for at, note in ((0, 48), (1, 60))
    )
    trellis = Trellis(VOICE_LEADING, slots)
    with pytest.raises(Refusal):
        trellis.solve()
    assert solved(trellis).best().tolist() == [0, 0]


def test_a_hand_may_jump_where_a_section_opens() -> None:
    slots = tuple(
        Slot(
            Quarters(at),
            1,
            "1",
            tuple((f"v{k}", (note + 3 * k,)) for k in (1, 2, 3, 4)),
            facts=(("opens", int(at > 0)),),
        )
        for at, note in ((0, 48), (1, 60))
    )
    assert Trellis(VOICE_LEADING, slots).solve().best().tolist() == [0, 0]
