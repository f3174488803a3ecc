"""A day's strides as one value, and what is marked in them."""

from __future__ import annotations

import numpy as np
import pytest

from firstrocker.study.day_series import CLEARANCE, LOW, SLAP, SLAPS, SPEED, Leg, Marking, StrideDay, series_of
from firstrocker.study.days import day_median, day_share
from firstrocker.study.marks import low_passes, slap_limit, why_no_low_passes

HOW = Marking(baseline=4, least=10, quantile=0.9, slap=None, near_mm=5.0)


def day(
    number: int, *, n: int = 40, slap: float | None = 200.0, clearance: float = 14.0, error: float = 1.0
) -> StrideDay:
    rng = np.random.default_rng(number)
    values = {
        SLAP: np.full(n, np.nan) if slap is None else slap + 30.0 * rng.standard_normal(n),
        CLEARANCE: clearance + 2.0 * rng.standard_normal(n),
        f"{CLEARANCE}_se": np.full(n, error),
        SPEED: np.full(n, 1.0),
    }
    return StrideDay(number, np.arange(n) // 10, values, np.zeros(n, dtype=bool))


def shares(days: list[StrideDay], measure: str, how: Marking = HOW) -> list[float]:
    (series,) = [one for one in series_of(Leg("left", "braced"), days, how=how) if one.measure == measure]
    return [one.value for one in series.values]


@pytest.mark.parametrize(("strides", "bouts"), [(200, 200), (200, 20)])
def test_the_error_of_a_median_is_what_medians_scatter_by(strides: int, bouts: int) -> None:
    rng = np.random.default_rng(1)
    bout = np.arange(strides) * bouts // strides
    found = [
        day_median(rng.standard_normal(strides) + (rng.standard_normal(bouts)[bout] if bouts < strides else 0.0), bout)
        for _ in range(400)
    ]
    scatter = np.std([one.value for one in found])
    assert np.sqrt(np.mean([one.se**2 for one in found])) == pytest.approx(scatter, rel=0.15)
    assert found[0].bouts == bouts


def test_the_error_of_a_share_is_what_shares_scatter_by_and_never_none() -> None:
    rng = np.random.default_rng(2)
    bout = np.arange(300) // 15
    found = [day_share(rng.random(300) < rng.beta(2, 8, 20)[bout], bout) for _ in range(400)]
    scatter = np.std([one.value for one in found])
    assert np.sqrt(np.mean([one.se**2 for one in found])) == pytest.approx(scatter, rel=0.15)
    assert day_share(np.zeros(50, dtype=bool), np.arange(50)).se > 0


def test_each_day_of_the_baseline_weighs_the_same() -> None:
    rng = np.random.default_rng(3)
    many, few = rng.normal(100, 10, 5000), rng.normal(300, 10, 50)
    limit = slap_limit([many, few], quantile=0.9)
    assert np.mean([(many > limit).mean(), (few > limit).mean()]) == pytest.approx(0.1, abs=0.011)


def test_a_slap_is_what_is_unusual_for_the_person_and_the_setting() -> None:
    days = [day(k) for k in range(8)] + [day(8, slap=290.0)]
    found = shares(days, SLAPS)
    assert np.mean(found[:4]) == pytest.approx(0.1, abs=0.02)
    assert found[-1] > 0.8
    higher = [day(k, slap=400.0) for k in range(8)]
    assert np.mean(shares(higher, SLAPS)[:4]) == pytest.approx(0.1, abs=0.02)


def test_the_same_strides_are_slaps_whatever_comes_later() -> None:
    days = [day(k) for k in range(6)]
    assert shares(days, SLAPS) == shares([*days, day(6, slap=900.0)], SLAPS)[:6]


def test_what_a_slap_is_can_be_set_for_everyone() -> None:
    how = Marking(baseline=4, least=10, quantile=0.9, slap=250.0, near_mm=5.0)
    assert shares([day(0, slap=290.0)], SLAPS, how)[0] > 0.5
    assert np.isnan(shares([day(0, slap=290.0)], SLAPS)[0])


def test_what_cannot_be_had_is_null_with_its_reason() -> None:
    days = [day(0, slap=None), day(1, n=6), day(2, error=4.0)]
    by_measure = {one.measure: one for one in series_of(Leg("left"), days, how=HOW)}
    assert "no shank log" in by_measure[SLAPS].values[0].reason
    assert "no shank log" in by_measure[SLAP].values[0].reason
    assert by_measure[CLEARANCE].values[1].reason == "fewer than 10 strides"
    assert "known after 4 days" in by_measure[SLAPS].values[2].reason
    assert "4.0 mm only" in by_measure[LOW].values[2].reason
    for series in by_measure.values():
        assert all(np.isnan(one.value) == bool(one.reason) for one in series.values)


def test_low_is_what_is_low_for_sure() -> None:
    clearance, error = np.array([2.0, 4.0, 4.0, 6.0]), np.array([1.0, 0.5, 1.0, 0.5])
    assert low_passes(clearance, error, near_mm=5.0).tolist() == [True, True, False, False]


def test_no_count_where_the_toe_is_said_to_be_under_the_ground() -> None:
    clearance, error = np.array([np.nan, 9.0, 8.0, 7.0]), np.ones(4)
    under = np.array([True, False, False, False])
    assert "1 of 4 strides" in why_no_low_passes(clearance, error, under)
    assert why_no_low_passes(clearance, error, np.zeros(4, dtype=bool)) == ""
    assert why_no_low_passes(np.full(4, np.nan), error, np.zeros(4, dtype=bool)) == "no toe clearance"
