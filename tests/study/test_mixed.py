"""The effect across people against a published example, general-purpose libraries and plain cases."""

from __future__ import annotations

import warnings
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.regression.linear_model import OLS

from bench.cohort_coverage import DESIGNS, covered, draw
from firstrocker.study.clustered import Cluster, clustered
from firstrocker.study.mixed import WalkMeans, contributing, effect_across_people
from study.sleep_restriction import DAYS, DAYS_DF, DAYS_P, DAYS_SD, DAYS_SE, sleep_restriction


def test_the_published_example() -> None:
    found = effect_across_people(sleep_restriction(), confidence=0.95)
    assert found.model == "intercept and slope"
    assert found.value == pytest.approx(DAYS, abs=5e-4)
    assert found.model_se == pytest.approx(DAYS_SE, abs=5e-4)
    assert found.slope_sd == pytest.approx(DAYS_SD, rel=2e-3)  # days centred, and another optimiser
    # For people with the same days each the robust standard error and its freedom are those of the model.
    assert found.se == pytest.approx(DAYS_SE, abs=5e-4)
    assert found.freedom == pytest.approx(DAYS_DF, abs=1e-6)
    assert found.p_value == pytest.approx(DAYS_P, rel=5e-3)


@pytest.mark.parametrize("design", ["one walk each way", "1 unbraced, 3 braced", "2 and 2", "2 sessions of 1 and 2"])
@pytest.mark.parametrize("people", [3, 7])
def test_people_with_the_same_walks_give_students_paired_t(design: str, people: int) -> None:
    # Oracle: scipy.stats on each person's own difference.
    walks = draw(np.random.default_rng(people), DESIGNS[design], people, 0.6)
    found = effect_across_people(walks, confidence=0.9)
    expected = stats.ttest_1samp(found.own, 0.0)
    interval = expected.confidence_interval(0.9)
    assert found.value == pytest.approx(found.own.mean())
    assert found.freedom == pytest.approx(people - 1)
    assert [found.ci_low, found.ci_high] == pytest.approx([interval.low, interval.high])
    assert found.p_value == pytest.approx(expected.pvalue)


def test_own_effects_are_differences_of_means() -> None:
    value = np.array([1.0, 3.0, 10.0, 5.0, 8.0, 8.0])
    walks = WalkMeans(value, np.array([0.0, 0, 1, 0, 1, 1]), np.array([4, 4, 4, 9, 9, 9]), np.array([0, 0, 0, 1, 1, 1]))
    found = effect_across_people(walks, confidence=0.95)
    assert found.own.tolist() == pytest.approx([8.0, 3.0])
    assert found.people.tolist() == [4, 9]
    assert found.model == "too few people"
    assert found.value == pytest.approx(5.5)
    assert found.without.tolist() == pytest.approx([3.0, 8.0])
    assert np.isnan([found.ci_low, found.ci_high, found.se, found.p_value]).all()


def test_a_level_of_a_session_does_not_pass_for_the_effect() -> None:
    walks = draw(np.random.default_rng(2), DESIGNS["people differ in walks"], 8, 0.5)
    level = np.random.default_rng(3).normal(0, 50, walks.session.max() + 1)
    plain = effect_across_people(walks, confidence=0.95)
    shifted = effect_across_people(replace(walks, value=walks.value + level[walks.session]), confidence=0.95)
    assert shifted.own == pytest.approx(plain.own)
    assert abs(shifted.value - plain.value) < 0.3 * plain.se


def test_sessions_of_one_level_are_passed_over() -> None:
    walks = WalkMeans(np.arange(5.0), np.array([0.0, 1, 1, 1, 0]), np.zeros(5, int), np.array([0, 0, 1, 1, 2]))
    assert contributing(walks).value.tolist() == [0.0, 1.0]
    unknown = replace(walks, value=np.array([0.0, np.nan, 2, 3, 4]))
    assert np.isfinite(contributing(unknown).value).all()
    nobody = effect_across_people(walks.chosen(walks.session > 0), confidence=0.95)
    assert np.isnan(nobody.value)
    assert len(nobody.people) == 0


def test_nothing_that_varies_gives_no_interval() -> None:
    walks = draw(np.random.default_rng(1), DESIGNS["2 and 2"], 5, 0.0)
    found = effect_across_people(replace(walks, value=2.0 * walks.cause), confidence=0.95)
    assert found.value == pytest.approx(2.0)
    assert np.isnan(found.ci_low)


@given(
    st.integers(0, 10_000),
    st.sampled_from(sorted(DESIGNS)),
    st.sampled_from([1e-3, 7.0, 1e4]),
    st.sampled_from([0.01, 10.0]),
)
@settings(deadline=None, max_examples=15)
def test_units_do_not_matter(seed: int, design: str, of_value: float, of_cause: float) -> None:
    walks = draw(np.random.default_rng(seed), DESIGNS[design], 5, 0.5)
    plain = effect_across_people(walks, confidence=0.95)
    other = effect_across_people(
        replace(walks, value=of_value * walks.value + 3.0, cause=of_cause * walks.cause), confidence=0.95
    )
    ratio = of_value / of_cause
    near = 0.02 * ratio * plain.se  # the search for the variances ends near the same place, not in it
    assert [other.value, other.se] == pytest.approx([ratio * plain.value, ratio * plain.se], abs=near)
    assert other.freedom == pytest.approx(plain.freedom, rel=0.05)


def test_nothing_is_said_to_the_user_by_the_library() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for seed in range(12):  # some of these are at the edge of what can be fitted
            effect_across_people(draw(np.random.default_rng(seed), DESIGNS["2 and 2"], 3, 0.0), confidence=0.95)


@pytest.mark.parametrize(
    ("people", "design"), [(3, "people differ in walks"), (6, "2 and 2"), (12, "dose of 3 levels")]
)
def test_intervals_hold_the_truth(people: int, design: str) -> None:
    # 400 draws of a share of 0.95 lie within 0.922 to 0.978 in 99 of 100 cases; the bench has more of them.
    shares, _, _ = covered(11, design, people, 0.4, 400)
    assert 0.92 <= shares[3] <= 0.98


def test_clusters_of_one_are_the_libraries_hc2() -> None:
    # With clusters of one value and equal variances CR2 is HC2, which statsmodels has.
    rng = np.random.default_rng(5)
    design = np.column_stack([np.ones(25), rng.normal(size=25)])
    value = design @ [1.0, 2.0] + rng.normal(size=25) * (1 + design[:, 1] ** 2)
    found = clustered([Cluster(design[[k]], value[[k]], np.eye(1)) for k in range(25)])
    fit = OLS(value, design).fit()
    assert found.value == pytest.approx(fit.params[1])
    assert found.se == pytest.approx(fit.HC2_se[1])
    for k in (0, 7, 24):
        keep = np.arange(25) != k
        assert found.without[k] == pytest.approx(OLS(value[keep], design[keep]).fit().params[1])


def test_leaving_out_what_determines_the_effect_says_so() -> None:
    parts = [Cluster(np.array([[1.0, 0.0]]), np.array([1.0]), np.eye(1)) for _ in range(3)]
    parts.append(Cluster(np.array([[1.0, 1.0], [1.0, -1.0]]), np.array([3.0, 1.5]), np.eye(2)))
    without = clustered(parts).without
    assert np.isfinite(without[:3]).all()
    assert np.isnan(without[3])
