"""Slopes and changes of level over days."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.datasets import nile

from firstrocker.study.slopes import shifts_of, slope_of


def test_a_slope_is_that_of_most_days() -> None:
    days = np.array([0, 1, 2, 5, 6, 7, 9, 12, 13, 20], dtype=float)
    values = 3.0 + 0.5 * days
    values[4] = 400.0
    found = slope_of(days, values, confidence=0.95)
    assert found is not None
    assert found.value == pytest.approx(0.5)
    assert found.low <= 0.5 <= found.high
    assert slope_of(days[:7], values[:7], confidence=0.95) is None


def test_its_interval_covers() -> None:
    rng = np.random.default_rng(1)
    days = np.sort(rng.choice(40, 25, replace=False)).astype(float)
    held = 0
    for _ in range(200):
        found = slope_of(days, 0.1 * days + rng.standard_normal(25), confidence=0.9)
        held += found is not None and found.low <= 0.1 <= found.high
    assert held / 200 == pytest.approx(0.9, abs=0.06)


def test_the_nile_fell_in_1899() -> None:
    # Annual flow at Aswan 1871 to 1970 as shipped with statsmodels; that its level fell between 1898 and 1899 is what
    # the literature since Cobb (1978) found: from memory.
    data = nile.load_pandas().data
    found = shifts_of(data["volume"].to_numpy(dtype=float))
    assert [int(data["year"][one.place]) for one in found] == [1899]
    assert found[0].before > 1050
    assert found[0].after < 900


def test_series_without_a_change_have_none() -> None:
    rng = np.random.default_rng(2)
    false = sum(bool(shifts_of(rng.standard_normal(40))) for _ in range(300))
    assert false <= 9


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 1000), st.integers(8, 32), st.floats(0.01, 100.0))
def test_a_clear_step_is_found_where_it_is_in_any_unit_and_direction(seed: int, place: int, scale: float) -> None:
    values = np.random.default_rng(seed).standard_normal(40)
    values[place:] += 8.0
    found = shifts_of(values)
    assert place in [one.place for one in found]
    assert [one.place for one in shifts_of(-scale * values)] == [one.place for one in found]


def test_two_steps_are_two_and_their_medians_stand_between() -> None:
    values = np.r_[np.tile([0.0, 1.0], 10), np.tile([10.0, 11.0], 10), np.tile([4.0, 5.0], 10)]
    first, second = shifts_of(values)
    assert (first.place, second.place) == (20, 40)
    assert (first.before, first.after, second.before, second.after) == (0.5, 10.5, 10.5, 4.5)


def test_too_few_days_and_equal_days_have_no_change() -> None:
    assert shifts_of(np.arange(7.0)) == []
    assert shifts_of(np.full(30, 2.0)) == []
