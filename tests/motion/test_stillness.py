"""Candidate anchors against the plain loops that say what they are."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstrocker.model import BoolArray, FloatArray
from firstrocker.motion import stillness
from firstrocker.motion.rest import moving_spread, spans_of
from firstrocker.motion.stillness import find_anchors

RATE_HZ = 20.0
ENERGY = st.sampled_from([0.0, 0.05, 0.3, 2.0, 3.0, 8.0, 15.0, 35.0, 70.0, 300.0, 900.0])


def by_loops(energy: FloatArray, valid: BoolArray) -> list[int]:
    taken: set[int] = set()
    for first, stop in spans_of((energy < stillness.STILL) & valid):
        parts = max(1, round((stop - first) / (stillness.SPACING_S * RATE_HZ)))
        limit = max(stillness.QUITE_STILL, 4.0 * float(energy[first:stop].min()))
        for part in np.array_split(np.arange(first, stop), parts):
            place = int(part[np.argmin(energy[part])])
            if energy[place] <= limit:
                taken.add(place)
    reach = round(0.5 * RATE_HZ)
    for level in stillness.LULLS:
        for first, stop in spans_of((energy < level) & valid):
            place = first + int(np.argmin(energy[first:stop]))
            before, after = energy[max(place - reach, 0) : place + 1].max(), energy[place : place + reach + 1].max()
            if not taken & set(range(first, stop)) and min(before, after) > stillness.STANDS_OUT * level:
                taken.add(place)
    return sorted(taken)


@given(energy=arrays(np.float64, st.integers(1, 80), elements=ENERGY), lost=st.sets(st.integers(0, 79)))
@settings(max_examples=100, deadline=None)
def test_candidates_are_those_of_plain_loops(energy: FloatArray, lost: set[int]) -> None:
    valid = ~np.isin(np.arange(len(energy)), list(lost))
    found = find_anchors(energy, valid, RATE_HZ)
    assert found.index.tolist() == by_loops(energy, valid)
    assert found.energy.tolist() == energy[found.index].tolist()


@given(
    values=arrays(np.float64, st.tuples(st.integers(4, 60), st.just(3)), elements=st.floats(-20.0, 20.0)),
    half=st.integers(1, 9),
)
def test_spread_is_that_of_each_window(values: FloatArray, half: int) -> None:
    window = min(2 * half + 1, len(values))
    windows = np.lib.stride_tricks.sliding_window_view(values, window, axis=0)
    plain = np.sqrt(windows.var(axis=2).sum(axis=1))
    spread = moving_spread(values, 2 * half + 1)
    left = (window - 1) // 2
    assert len(spread) == len(values)
    assert np.allclose(spread[left : left + len(plain)], plain, atol=1e-5)
