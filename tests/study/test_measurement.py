"""Which part of the measurement's error averages out: found again where it is known."""

from __future__ import annotations

import numpy as np
import pytest

from firstrocker.study.measurement import WORST_CASE, ErrorShares, shares_of_errors


@pytest.mark.parametrize(
    ("stride", "walk", "session"), [(1.0, 0.0, 0.0), (1.0, 1.0, 1.0), (0.2, 2.0, 0.0), (0.5, 0.0, 2.0)]
)
def test_shares_are_found_again(stride: float, walk: float, session: float) -> None:
    rng = np.random.default_rng(1)
    errors, walks, sessions = [], [], []
    for s in range(400):
        of_session = session * rng.standard_normal()
        for w in range(3):
            of_walk = of_session + walk * rng.standard_normal()
            errors.append(of_walk + stride * rng.standard_normal(10))
            walks += [str(w)] * 10
            sessions += [str(s)] * 10
    found = shares_of_errors(np.concatenate(errors), walk=walks, session=sessions)
    whole = stride**2 + walk**2 + session**2
    assert found.walk == pytest.approx(walk**2 / whole, abs=0.06)
    assert found.session == pytest.approx(session**2 / whole, abs=0.06)


def test_too_little_to_tell_is_the_worst_case() -> None:
    assert shares_of_errors(np.array([1.0, 2.0, np.nan]), walk=["a", "a", "b"], session=["1"] * 3) == WORST_CASE
    assert shares_of_errors(np.zeros(4), walk=["a", "a", "b", "b"], session=["1"] * 4) == WORST_CASE


def test_shares_are_parts_of_a_whole() -> None:
    with pytest.raises(ValueError, match="sum to at most 1"):
        ErrorShares(walk=0.7, session=0.5)
    with pytest.raises(ValueError, match="between 0 and 1"):
        ErrorShares(walk=-0.1)
