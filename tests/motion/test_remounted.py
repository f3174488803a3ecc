"""Sums over steps, of which the last may end with the log."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from firstrocker.motion.remounted import _sums

COUNT = 40


@given(st.lists(st.integers(0, COUNT - 2), unique=True).map(sorted), st.booleans(), st.integers(0, 999))
def test_sums_over_steps_are_those_of_a_loop(first: list[int], to_the_end: bool, seed: int) -> None:
    values = np.random.default_rng(seed).normal(size=(COUNT, 3))
    # As from one anchor to the next: each step ends with the sample that the next one begins with.
    stop = [after + 1 for after in first[1:]] + ([COUNT if to_the_end else COUNT - 1] if first else [])
    kept = [k for k, (a, b) in enumerate(zip(first, stop, strict=True)) if b - a >= 2]
    begin, end = (np.array(ends, dtype=np.int64)[kept] for ends in (first, stop))
    expected = [values[a:b].sum(axis=0) for a, b in zip(begin, end, strict=True)]
    np.testing.assert_allclose(_sums(values, begin, end), np.reshape(expected, (-1, 3)), atol=1e-12)
