"""The onset model answers as the published one: tools/build_onset_model.py only folded its sums."""

from pathlib import Path

import numpy as np
import pytest

from changewright.ear._engines import ONSET_HOP, ONSET_WINDOW, real_engines
from tests.unit.ear.known import known_window

ANSWERS = Path(__file__).with_name("onset_answers.npz")


def test_the_folded_model_answers_as_the_published_one() -> None:
    published = np.load(ANSWERS)
    onset, note = real_engines().posteriors(known_window(ONSET_WINDOW))
    assert onset.shape == note.shape == (-(-ONSET_WINDOW // ONSET_HOP), 88)
    assert onset == pytest.approx(published["onset"].astype(np.float32), abs=1e-3)  # half precision
    assert note == pytest.approx(published["note"].astype(np.float32), abs=1e-3)
    assert onset.max() > 0.9


def test_silence_strikes_no_note() -> None:
    onset, note = real_engines().posteriors(np.zeros(ONSET_WINDOW, dtype=np.float32))
    assert np.isfinite(onset).all()
    assert max(float(onset.max()), float(note.max())) < 0.2
