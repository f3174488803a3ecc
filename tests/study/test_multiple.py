"""Holm's correction against a general-purpose library."""

from __future__ import annotations

import gc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from firstrocker.measures import BY_COLUMN
from firstrocker.study.multiple import LEADING, holm


@pytest.fixture(autouse=True, scope="module")
def little_garbage() -> None:
    """The library looks for garbage at every call, which takes half a second where other tests have left much."""
    gc.collect()
    gc.freeze()


@given(st.lists(st.floats(1e-12, 1.0), min_size=1, max_size=40))
def test_holm_is_the_libraries(p_values: list[float]) -> None:
    assert holm(np.array(p_values)) == pytest.approx(multipletests(p_values, method="holm")[1])


def test_what_was_not_asked_does_not_count() -> None:
    assert holm(np.array([0.01, np.nan, 0.04])).tolist() == pytest.approx([0.02, np.nan, 0.04], nan_ok=True)
    assert len(holm(np.empty(0))) == 0


def test_leading_measures_are_measures() -> None:
    assert set(LEADING) <= set(BY_COLUMN)
