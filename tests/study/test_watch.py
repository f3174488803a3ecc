"""Watching day after day: the cumulative sum, the baseline, the limit, and what a later day may not change."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.meta_analysis import combine_effects

from firstrocker.model import FloatArray
from firstrocker.study.watch import (
    RESEMBLANCE,
    Raised,
    _alerts,
    cusum,
    decision_limit,
    learnt,
    level_of,
    steps_of,
    watch,
)

# Concentrations of a chemical process and their tabular CUSUM with target 99 and K = 1: Montgomery & Runger, Applied
# Statistics and Probability for Engineers, tables 16-3 and 16-8 (seen as the text of the page).
CONCENTRATION = [102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1]
CONCENTRATION += [101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4, 97.2, 101.0]
ABOVE = [2.0, 0.0, 0.0, 0.0, 2.0, 0.5, 0.0, 0.0, 0.0, 0.0, 1.3, 0.0, 1.1, 0.0, 0.0, 0.0, 0.3, 1.7, 0.0, 1.0]
BELOW = [0.0, 3.2, 2.9, 2.5, 0.0, 0.0, 0.0, 0.3, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 2.3, 0.0, 0.0, 0.8, 0.0]
BASELINE = 8


def found(values: FloatArray, limit: float = 5.0, *, sought: float = 1e-6, scale: float = 1.0) -> list[Raised]:
    return watch(
        values,
        np.zeros(len(values)),
        sought=lambda level: sought * scale,
        baseline=BASELINE,
        limits=[limit] * len(values),
        confidence=0.95,
    )


def test_the_sum_is_the_published_one() -> None:
    x = np.array(CONCENTRATION)
    assert cusum(x - 100.0) == pytest.approx(ABOVE, abs=1e-9)
    assert cusum(98.0 - x) == pytest.approx(BELOW, abs=1e-9)


def test_the_sum_takes_as_long_as_is_known() -> None:
    # One-sided average run length for K = 0.5, H = 4, standard normal values: 336 (textbook tables, from memory).
    steps = np.random.default_rng(3).standard_normal((4000, 1500)) - 0.5
    passed = cusum(steps) > 4.0
    run = np.where(passed.any(axis=0), passed.argmax(axis=0) + 1, len(steps))
    assert run.mean() == pytest.approx(336, abs=4 * 336 / np.sqrt(1500))


def test_the_variance_between_days_is_that_of_a_general_library() -> None:
    rng = np.random.default_rng(4)
    for between in (0.0, 0.5, 4.0):
        variances = rng.uniform(0.1, 3.0, 14)
        values = 10.0 + np.sqrt(variances + between) * rng.standard_normal(14)
        level = level_of(values, variances)
        other = combine_effects(values, variances, method_re="iterated", atol=1e-10)
        assert level.between == pytest.approx(max(float(other.tau2), 0.0), abs=1e-4)
        assert level.mean == pytest.approx(float(other.mean_effect_re), abs=1e-4)


def test_days_known_for_sure_have_their_own_variance() -> None:
    values = np.array([1.0, 4.0, 2.0, 8.0])
    level = level_of(values, np.zeros(4))
    assert level.between == pytest.approx(np.var(values, ddof=1))
    assert level.variance == pytest.approx(np.var(values, ddof=1) / 4)
    assert level_of(np.full(4, 3.0), np.zeros(4)).between == 0.0


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(BASELINE + 1, 60), st.floats(0.0, 3.0))
def test_later_days_change_nothing_but_the_end_of_an_alert(seed: int, known: int, shift: float) -> None:
    values = np.random.default_rng(seed).standard_normal(60)
    values[20:40] += shift
    before, after = found(values[:known], 4.0), found(values, 4.0)
    assert before == [
        replace(one, ended=one.ended if (one.ended or 99) < known else None) for one in after if one.day < known
    ]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.01, 100.0), st.floats(-1000.0, 1000.0))
def test_units_do_not_matter(seed: int, scale: float, offset: float) -> None:
    values = np.random.default_rng(seed).standard_normal(50)
    values[25:] += 2.0
    for one, other in zip(
        found(values, sought=1.0), found(scale * values + offset, sought=1.0, scale=scale), strict=True
    ):
        assert (one.day, one.since, one.ended) == (other.day, other.since, other.ended)
        assert other.change == pytest.approx(scale * one.change, rel=1e-6)


def test_the_simulated_rule_is_the_rule() -> None:
    days = np.random.default_rng(5).standard_normal((60, 40))
    days[30:] += 1.0
    first = cusum(steps_of(days, BASELINE)) > 5.0
    raised = 0
    for column in range(40):
        alerts = found(days[:, column])
        raised += bool(alerts)
        assert bool(alerts) == first[:, column].any()
        assert not alerts or alerts[0].day == BASELINE + int(first[:, column].argmax())
    assert 10 < raised < 40


@pytest.mark.parametrize(("baseline", "months"), [(14, 24.0), (14, 60.0), (7, 24.0)])
def test_the_limit_holds_its_rate_on_days_it_was_not_found_on(baseline: int, months: float) -> None:
    days = np.random.default_rng(6).standard_normal((baseline + 90, 4000))
    for place in range(1, len(days)):
        days[place] = RESEMBLANCE * days[place - 1] + np.sqrt(1 - RESEMBLANCE**2) * days[place]
    expected = 4000 * 3 / months
    counted = _alerts(steps_of(days, baseline), decision_limit(baseline=baseline, months=months))
    assert abs(counted - expected) < 5.0 * np.sqrt(expected)


def test_one_odd_day_raises_nothing_and_a_lasting_change_does() -> None:
    values = np.random.default_rng(7).standard_normal(50)
    limit = decision_limit(baseline=BASELINE, months=36.0)
    values[30] += 40.0
    assert found(values, limit) == []
    values[35:] += 4.0
    (alert,) = found(values, limit)
    assert abs(alert.since - 35) <= 1
    assert alert.ended is None
    assert alert.low < 4.0 < alert.high
    values[45:] -= 6.0
    assert found(np.r_[values, values[:20]], limit)[0].ended is not None


def test_a_change_too_small_to_matter_raises_nothing_however_sure() -> None:
    values = 0.01 * np.random.default_rng(8).standard_normal(60)
    values[30:] += 0.4
    assert found(values, sought=0.1)
    assert found(values, sought=1.0) == []


def test_what_is_learnt_leaves_out_the_last_days() -> None:
    for day in range(BASELINE, 100):
        assert BASELINE <= learnt(day, BASELINE) <= 3 * BASELINE
        assert learnt(day, BASELINE) <= max(day - BASELINE, BASELINE)


def test_nothing_is_watched_before_there_is_a_baseline() -> None:
    assert found(np.array([])) == []
    assert found(np.r_[np.zeros(BASELINE - 1), 1e6]) == []
