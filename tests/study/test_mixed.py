"""The effect across people against a published example, general-purpose libraries and plain cases."""

from __future__ import annotations

import warnings
from dataclasses import replace
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.regression.linear_model import WLS
from statsmodels.regression.mixed_linear_model import MixedLM

from bench.cohort_coverage import DESIGNS, comparable, covered, draw
from bench.cohort_verdicts import false_verdicts
from bench.cohort_verdicts import found as share_found
from firstrocker.model import FloatArray
from firstrocker.study.mixed import WalkMeans, contributing, effect_across_people
from study.sleep_restriction import DAYS, DAYS_DF, DAYS_P, DAYS_SD, DAYS_SE, sleep_restriction


def test_the_published_example() -> None:
    found = effect_across_people(sleep_restriction(), confidence=0.95)
    assert found.model == "effects differ"
    assert found.value == pytest.approx(DAYS, abs=5e-4)
    assert found.model_se == pytest.approx(DAYS_SE, abs=5e-4)
    assert found.slope_sd == pytest.approx(DAYS_SD, rel=2e-3)  # people's levels are free here, and normal there
    # For people with the same days each the robust standard error and its freedom are those of the model.
    assert found.se == pytest.approx(DAYS_SE, abs=5e-4)
    assert found.freedom == pytest.approx(DAYS_DF, abs=1e-6)
    assert found.p_value == pytest.approx(DAYS_P, rel=5e-3)


def test_another_published_example_of_uneven_rows() -> None:
    # Weights of 72 pigs over twelve weeks, some weeks missing (the data dietox of the R package geepack). The answers
    # are lme4's, lmer(Weight ~ Time + (1 + Time | Pig)) by REML, as statsmodels' own tests quote them, which ship the
    # data: slope 6.939014 with standard error 0.0798254, variance of slopes and residual as below. There levels are
    # normal and go with the slopes; here they are free: hence a percent of slack.
    file = files("statsmodels").joinpath("regression", "tests", "results", "dietox.csv")
    table = np.genfromtxt(str(file), delimiter=",", skip_header=1, usecols=(1, 3, 4))
    weight, week, pig = table.T
    found = effect_across_people(WalkMeans(weight, week, pig.astype(int), pig.astype(int)), confidence=0.95)
    assert len(found.people) == 72
    assert found.value == pytest.approx(6.939014, abs=2e-3)
    assert found.model_se == pytest.approx(0.0798254, rel=0.01)
    assert found.slope_sd == pytest.approx(np.sqrt(0.4183277), rel=0.02)
    assert found.se == pytest.approx(0.0798254, rel=0.05)


def by_the_library(walks: WalkMeans) -> tuple[float, float, float, float]:
    """Effect, standard error, SD of effects, residual SD by statsmodels: a level for each session, random effects."""
    walks = contributing(walks)
    levels = (walks.session[:, None] == np.unique(walks.session)).astype(float)
    cause = walks.cause - levels @ (levels.T @ walks.cause / levels.sum(axis=0))
    model = MixedLM(walks.value, np.column_stack([cause, levels]), groups=walks.person, exog_re=cause[:, None])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of variances that come out as 0
        fit = model.fit(reml=True, method=["bfgs", "lbfgs", "cg"])
    return float(fit.params[0]), float(fit.bse[0]), float(np.sqrt(fit.cov_re[0, 0])), float(np.sqrt(fit.scale))


@pytest.mark.parametrize(
    "design", ["2 and 2", "people differ in walks", "one person has most walks", "2 sessions of 1 and 2"]
)
@pytest.mark.parametrize(("people", "spread"), [(5, 1.2), (14, 0.4), (14, 1.2)])
def test_the_model_is_the_librarys(design: str, people: int, spread: float) -> None:
    walks = draw(np.random.default_rng(people), design, people, spread)
    found = effect_across_people(walks, confidence=0.95)
    value, se, slope_sd, scatter = by_the_library(walks)
    if found.model == "effects differ":
        assert [found.value, found.slope_sd] == pytest.approx([value, slope_sd], rel=1e-3)
        assert found.model_se == pytest.approx(se, rel=0.01)  # the library's is by its numeric Hessian
    else:
        assert found.slope_sd == 0.0
        assert slope_sd < 0.1 * scatter
        assert found.value == pytest.approx(value, abs=0.05 * se)


@pytest.mark.parametrize("design", ["one walk each way", "1 unbraced, 3 braced", "2 and 2", "2 sessions of 1 and 2"])
@pytest.mark.parametrize("people", [3, 7])
def test_people_with_the_same_walks_give_students_paired_t(design: str, people: int) -> None:
    # Oracle: scipy.stats on each person's own difference.
    walks = draw(np.random.default_rng(people), design, people, 0.6)
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
    walks = draw(np.random.default_rng(2), "people differ in walks", 8, 0.5)
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
    walks = draw(np.random.default_rng(1), "2 and 2", 5, 0.0)
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
    walks = draw(np.random.default_rng(seed), design, 5, 0.5)
    plain = effect_across_people(walks, confidence=0.95)
    other = effect_across_people(
        replace(walks, value=of_value * walks.value + 3.0, cause=of_cause * walks.cause), confidence=0.95
    )
    ratio = of_value / of_cause
    near = 0.02 * ratio * plain.se  # the search for the variances ends near the same place, not in it
    assert [other.value, other.se] == pytest.approx([ratio * plain.value, ratio * plain.se], abs=near)
    assert other.freedom == pytest.approx(plain.freedom, rel=0.05)


@pytest.mark.untraced
@pytest.mark.parametrize(
    ("people", "design"), [(3, "people differ in walks"), (5, "2 and 2"), (8, "doses differ between people")]
)
def test_intervals_hold_the_truth(people: int, design: str) -> None:
    # 1,500 draws of a share of 0.95 lie within 0.9355 to 0.9645 in 99 of 100 cases; the bench has more of them.
    shares, _ = covered(11, design, people, 0.4, 1500)
    assert 0.935 <= shares[3] <= 0.972


@pytest.mark.untraced
def test_a_family_of_verdicts_is_seldom_false_and_often_found() -> None:
    # Of 800 draws, 0.05 lies under 0.07 in 99.5 of 100 cases; the bench has more of them.
    assert false_verdicts(5, "2 and 2", 8, 4, 800) <= 0.07
    assert share_found(6, "2 and 2", 12, 2.0, 100) >= 0.9


def test_people_who_walked_one_way_only_do_not_count() -> None:
    assert [comparable("one in four one way only", people) for people in (3, 4, 8)] == [3, 3, 6]
    walks = draw(np.random.default_rng(4), "one in four one way only", 8, 0.4)
    found = effect_across_people(walks, confidence=0.95)
    assert found.people.tolist() == [0, 1, 2, 4, 5, 6]
    other = replace(walks, value=np.where(np.isin(walks.person, (3, 7)), 1e6, walks.value))
    assert effect_across_people(other, confidence=0.95).ci_low == found.ci_low


def weighed(own: FloatArray, reach: FloatArray) -> WalkMeans:
    """One walk each way, the cause so far apart that each person's summed square is ``reach``."""
    people = np.repeat(np.arange(len(own)), 2)
    step = np.sqrt(2.0 * reach)
    cause = np.stack([np.zeros(len(own)), step], axis=1).ravel()
    return WalkMeans(own[people] * cause + 3.0 * people, cause, people, people)


def test_the_standard_error_is_the_librarys_hc2() -> None:
    # With one value per person, weighted by what it varies by, CR2 is HC2, which statsmodels has.
    rng = np.random.default_rng(5)
    own, reach = rng.normal(1.0, 1.0, 25), rng.uniform(0.5, 4.0, 25)
    found = effect_across_people(weighed(own, reach), confidence=0.95)
    fit = WLS(own, np.ones((25, 1)), weights=reach).fit()
    assert found.model == "not told apart"
    assert found.value == pytest.approx(fit.params[0])
    assert found.se == pytest.approx(fit.HC2_se[0])
    for k in (0, 7, 24):
        keep = np.arange(25) != k
        assert found.without[k] == pytest.approx(WLS(own[keep], np.ones((24, 1)), weights=reach[keep]).fit().params[0])


@pytest.mark.untraced
def test_degrees_of_freedom_are_satterthwaites() -> None:
    # Twice the squared mean over the variance of the squared standard error, where the model holds.
    reach = np.array([0.5, 0.5, 1.0, 4.0, 9.0, 2.0])
    rng = np.random.default_rng(8)
    found = [
        effect_across_people(weighed(rng.standard_normal(6) / np.sqrt(reach), reach), confidence=0.9)
        for _ in range(6000)
    ]
    squares = np.array([one.se**2 for one in found])
    assert squares.mean() == pytest.approx(1.0 / reach.sum(), rel=0.05)
    assert 2.0 * squares.mean() ** 2 / squares.var() == pytest.approx(found[0].freedom, rel=0.1)


def test_one_person_who_determines_the_effect_gives_no_interval() -> None:
    found = effect_across_people(weighed(np.array([1.0, 2.0, 3.0]), np.array([1e12, 1.0, 1.0])), confidence=0.95)
    assert np.isnan(found.ci_low)
