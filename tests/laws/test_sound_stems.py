"""What holds of the sound of any performance."""

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from changewright.music.performance import Event, Part, Performance
from changewright.sound.bank import NoteBank
from changewright.sound.levelling import TRUE_PEAK_DBTP
from changewright.sound.mix import frame_of, strikes_of
from changewright.sound.stems import render, synthesise, tracks_of

events = st.builds(
    Event,
    st.floats(0, 3, allow_nan=False),
    st.floats(0.03, 2, allow_nan=False),
    st.integers(0, 127),
    st.integers(1, 127),
)
pieces = st.builds(
    Event,
    st.floats(0, 3),
    st.just(0.1),
    st.sampled_from((36, 38, 42, 44, 46, 51)),
    st.integers(1, 127),
)


def _part(name: str, program: int, found: list[Event], drums: bool = False) -> Part:
    return Part(name, program, tuple(sorted(found)), drums)


performances = st.builds(
    lambda bass, line, drums, program: Performance(
        (_part("bass", 32, bass), _part("line", program, line), _part("drums", 32, drums, True)),
        3.0,
    ),
    st.lists(events, max_size=8),
    st.lists(events, max_size=8),
    st.lists(pieces, max_size=12),
    st.sampled_from((0, 11, 56, 66, 73)),
)


@settings(max_examples=25, deadline=None)
@given(performances)
def test_stems_are_aligned_bounded_and_sum_to_the_mix(played: Performance) -> None:
    stems = render(played)
    assert {stems[name].shape for name in stems} == {(stems.frames, 2)}
    total = np.zeros((stems.frames, 2), dtype=np.float32)
    for name in stems:
        total += stems[name]
    assert np.array_equal(total, stems.mix)
    assert np.isfinite(total).all()
    assert np.abs(total).max(initial=0) < 1
    assert stems.loudness.true_peak_dbtp <= TRUE_PEAK_DBTP


@settings(max_examples=25, deadline=None)
@given(performances, st.lists(st.integers(1, 150_000), min_size=1, max_size=3))
def test_any_cutting_gives_the_same_bits(played: Performance, cuts: list[int]) -> None:
    bank = NoteBank()
    for track in tracks_of(played):
        whole = track.block(0, 150_000, bank)
        edges = sorted({0, *cuts, 150_000})
        for start, stop in itertools.pairwise(edges):
            assert np.array_equal(track.block(start, stop, bank), whole[:, start:stop])


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0, 7_200, allow_nan=False), max_size=12))
def test_frames_come_from_absolute_times(onsets: list[float]) -> None:
    part = _part("drums", 32, [Event(at, 0.1, 37, 80) for at in onsets], True)
    assert [s.onset for s in strikes_of(part)] == [frame_of(at) for at in sorted(onsets)]
    assert all(
        abs(s.onset - at * 48_000) <= 0.5
        for s, at in zip(strikes_of(part), sorted(onsets), strict=True)
    )


@settings(max_examples=15, deadline=None)
@given(performances)
def test_parts_sound_alone_as_they_sound_together(played: Performance) -> None:
    together = synthesise(played)
    for part in played.parts:
        alone = synthesise(Performance((part,), played.length_s))[part.name]
        shared = min(len(alone), together.frames)
        assert np.array_equal(alone[:shared], together[part.name][:shared])
