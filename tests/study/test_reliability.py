"""Reliability against published worked examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker.study.reliability import (
    bland_altman,
    intraclass_correlation,
    minimal_detectable_change,
    sem_from_differences,
    sem_from_icc,
)

# Six people by four judges, the example of Shrout & Fleiss (1979, their table 2). The numbers and the answers of R's
# psych::ICC (0.290 with 0.019 to 0.761; 0.715 with 0.342 to 0.946) were seen in public repositories that quote them,
# not in the paper.
SHROUT_FLEISS = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], float)

# Peak expiratory flow, l/min, first readings of two meters, 17 people (Bland & Altman 1986). The readings were seen in
# the R package BlandAltmanLeh, the paper's results in the tests of the R package blandr, not in the paper.
LARGE = np.array([494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427], float)
MINI = np.array([512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451], float)


def test_intraclass_correlations_of_shrout_and_fleiss() -> None:
    found = intraclass_correlation(SHROUT_FLEISS)
    assert (found.people, found.occasions) == (6, 4)
    one, other = found.agreement, found.consistency
    assert [one.value, one.ci_low, one.ci_high] == pytest.approx([0.290, 0.019, 0.761], abs=5e-4)
    assert [other.value, other.ci_low, other.ci_high] == pytest.approx([0.715, 0.342, 0.946], abs=5e-4)


def test_limits_of_bland_and_altman() -> None:
    # The paper works with 2 standard deviations, with rounded numbers and with t = 2.12: hence 0.3 l/min of slack.
    found = bland_altman(LARGE, MINI, multiple=2.0)
    assert found.bias.value == pytest.approx(-2.1, abs=0.05)
    assert found.sd == pytest.approx(38.8, abs=0.05)
    assert [found.bias.ci_low, found.bias.ci_high] == pytest.approx([-22.0, 17.8], abs=0.1)
    assert [found.lower.value, found.upper.value] == pytest.approx([-79.7, 75.5], abs=0.1)
    assert [found.upper.ci_low, found.upper.ci_high] == pytest.approx([40.9, 110.1], abs=0.3)
    assert [found.lower.ci_low, found.lower.ci_high] == pytest.approx([-114.3, -45.1], abs=0.3)


def test_measurement_error_and_detectable_change() -> None:
    # Weir (2005), the formula from memory. A speed that varies by 0.19 m/s between people, with ICC .89, was published
    # as SEM .06 and MDC .18 (Sensors 2020;20:4866, table 3, seen in the table).
    sem = sem_from_icc(0.19, 0.89)
    assert sem == pytest.approx(0.0630, abs=5e-5)
    assert minimal_detectable_change(sem) == pytest.approx(0.1747, abs=5e-5)
    assert np.isnan(sem_from_icc(1.0, 1.2))


@given(st.lists(st.floats(-100, 100), min_size=2, max_size=30))
@settings(deadline=None)
def test_error_from_differences(differences: list[float]) -> None:
    # SEM = SD / sqrt(2), detectable change 1.96 SD (PMC6558857, table 1, seen in the table).
    sem = sem_from_differences(np.array([*differences, np.nan]))
    assert sem == pytest.approx(np.std(differences, ddof=1) / np.sqrt(2), abs=1e-9)
    assert minimal_detectable_change(sem) == pytest.approx(1.96 * np.std(differences, ddof=1), rel=2e-4, abs=1e-9)


def test_two_occasions_give_the_same_error_either_way() -> None:
    # Of two occasions, SD of the differences / sqrt(2) is the root of the residual mean square behind ICC(3,1).
    rng = np.random.default_rng(4)
    table = rng.normal(10, 3, (30, 1)) + rng.normal(0, 1, (30, 2)) + np.array([0.0, 0.7])
    assert sem_from_differences(table[:, 1] - table[:, 0]) == pytest.approx(np.sqrt(_residual_mean_square(table)))


def _residual_mean_square(table: np.ndarray) -> float:
    n, k = table.shape
    fitted = table.mean(1, keepdims=True) + table.mean(0) - table.mean()
    return float(((table - fitted) ** 2).sum() / ((n - 1) * (k - 1)))


@given(st.integers(0, 10_000), st.floats(-5, 5))
@settings(deadline=None)
def test_a_shift_between_occasions_costs_agreement_only(seed: int, shift: float) -> None:
    table = np.random.default_rng(seed).normal(0, 1, (8, 2)) + np.arange(8)[:, None]
    plain = intraclass_correlation(table)
    shifted = intraclass_correlation(table + np.array([0.0, shift]))
    assert shifted.consistency.value == pytest.approx(plain.consistency.value, abs=1e-9)
    apart = abs(shifted_mean(table, shift)) >= abs(shifted_mean(table, 0.0))
    assert (shifted.agreement.value <= plain.agreement.value + 1e-9) == apart or abs(shift) < 1e-6


def shifted_mean(table: np.ndarray, shift: float) -> float:
    return float(np.mean(table[:, 1] - table[:, 0]) + shift)


def test_interval_of_the_consistency_covers() -> None:
    rng = np.random.default_rng(6)
    held = 0
    for _ in range(600):
        found = intraclass_correlation(rng.normal(0, 1, (12, 1)) * 2 + rng.normal(0, 1, (12, 3)))
        held += found.consistency.ci_low <= 0.8 <= found.consistency.ci_high
    assert 0.93 <= held / 600 <= 0.97


def test_what_cannot_be_had_is_nan() -> None:
    assert np.isnan(intraclass_correlation(np.ones((5, 2))).agreement.value)
    assert np.isnan(intraclass_correlation(np.array([[1.0, 2.0], [np.nan, 1.0]])).consistency.value)
    same = intraclass_correlation(np.array([[1.0, 1.0], [2.0, 2.0]]))
    assert same.agreement.value == 1.0
    assert np.isnan(same.agreement.ci_low)
    assert np.isnan(sem_from_differences(np.array([1.0])))
    assert np.isnan(bland_altman(np.array([1.0]), np.array([2.0])).sd)
