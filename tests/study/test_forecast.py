"""What more walking is said to tell is what it tells: simulated sessions of known scatter, walked on as forecast."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from firstrocker.measures import MEASURES
from firstrocker.model import FloatArray
from firstrocker.study.centres import Plan, Pools, compared_settings, pool_settings
from firstrocker.study.compare import pairs_of
from firstrocker.study.forecast import POWER, Further, foresee, outlooks
from firstrocker.study.strides import SideStrides, WalkStrides

M = len(MEASURES)
COLUMNS = list(range(M))
PLAN = Plan(0.95, 600, 1, 5, {})


@dataclass(frozen=True)
class Truth:
    """How both settings are walked, in every measure alike: each is one repeat of the same experiment."""

    difference: float
    sd: float = 1.0
    common: float = 0.0
    rho: float = 0.2
    share: float = 0.0


def bouts_of(strides: int) -> list[int]:
    """Bouts of some 6 strides, as a corridor makes them."""
    return [len(part) for part in np.array_split(np.arange(strides), max(strides // 6, 1))]


def walked(rng: np.random.Generator, name: str, setting: str, mean: float, strides: int, truth: Truth) -> WalkStrides:
    parts: list[FloatArray] = []
    for size in bouts_of(strides):
        own = rng.standard_normal((size, M))
        for place in range(1, size):
            own[place] = truth.rho * own[place - 1] + np.sqrt(1 - truth.rho**2) * own[place]
        parts.append(np.sqrt(truth.share) * rng.standard_normal(M) + np.sqrt(1 - truth.share) * own)
    bout = np.repeat(np.arange(len(parts)), [len(part) for part in parts])
    values = mean + truth.sd * np.concatenate(parts) + truth.common * rng.standard_normal(M)
    errors = np.full(values.shape, truth.common)
    return WalkStrides(name, "braced", setting, None, values, errors, bout, np.arange(strides) + 2 * bout)


def pools_of(walks: list[WalkStrides]) -> Pools:
    return pool_settings(SideStrides("P01", "1", "left", tuple(walks)), PLAN)


def pilot(rng: np.random.Generator, truth: Truth, strides: int) -> list[WalkStrides]:
    return [
        walked(rng, "a", "soft", 0.0, strides, truth),
        walked(rng, "b", "firm", truth.difference, strides, truth),
    ]


def found(pools: Pools) -> tuple[FloatArray, FloatArray, list[bool]]:
    (pair,) = pairs_of(compared_settings(pools, PLAN), PLAN.confidence)
    clear = [pair.row(place)["verdict"] in ("higher", "lower") for place in COLUMNS]
    return pair.difference[None], pair.real_change[None], clear


def kept_promises(
    truth: Truth, *, strides: int, sessions: int, known: bool, seed: int, part: float = 1.0
) -> tuple[float, float, int]:
    """Share of forecasts after which the verdict was clear, their median further strides, and how many there were.

    known: the forecast is told the true difference and not the one found. part: of the strides forecast, walked.
    """
    rng = np.random.default_rng(seed)
    clear: list[bool] = []
    asked: list[int] = []
    for _ in range(sessions):
        walks = pilot(rng, truth, strides)
        pools = pools_of(walks)
        difference, real, already = found(pools)
        believed = np.full((1, M), truth.difference) if known else difference
        (row,) = outlooks(pools, PLAN, COLUMNS, believed, real)
        steps: dict[Further, list[int]] = {}
        for place, one in enumerate(row):
            if one.further is not None and (known or not already[place]):
                steps.setdefault(one.further, []).append(place)
        for step, places in steps.items():
            more = [
                walked(rng, f"{name}{k}", setting, mean, max(round(part * step.strides), 1), truth)
                for name, setting, mean in (("a", "soft", 0.0), ("b", "firm", truth.difference))
                for k in range(step.walks)
            ]
            after = found(pools_of(walks + more))[2]
            clear += [after[place] for place in places]
            asked += [step.walks * step.strides] * len(places)
    return float(np.mean(clear)), float(np.median(asked)), len(clear)


@pytest.mark.untraced
@pytest.mark.parametrize("truth", [Truth(0.9), Truth(1.2, common=0.15), Truth(1.0, share=0.15)], ids=str)
def test_as_many_clear_verdicts_as_forecast_and_not_with_much_less(truth: Truth) -> None:
    share, asked, n = kept_promises(truth, strides=12, sessions=6, known=True, seed=3)
    assert n > 60
    assert asked >= 20
    assert share >= POWER - 3 * np.sqrt(POWER * (1 - POWER) / n)
    too_little, _, n = kept_promises(truth, strides=12, sessions=4, known=True, seed=3, part=0.2)
    assert too_little < POWER - 3 * np.sqrt(POWER * (1 - POWER) / n)


def test_no_number_of_strides_helps_against_an_error_that_a_walk_shares() -> None:
    rng = np.random.default_rng(1)
    pools = pools_of(pilot(rng, Truth(0.3, sd=0.2, common=0.5), 12))
    difference, real, _ = found(pools)
    (row,) = outlooks(pools, PLAN, COLUMNS, np.full_like(difference, 0.3), real)
    of_measured = [one for one, measure in zip(row, MEASURES, strict=True) if measure.has_se]
    assert all(one.kind == "too small" and one.shared and one.further is None for one in of_measured)


def test_walks_help_where_strides_do_not() -> None:
    rng = np.random.default_rng(2)
    pools = pools_of(pilot(rng, Truth(1.0, sd=0.2, common=0.35), 12))
    _, real, _ = found(pools)
    (row,) = outlooks(pools, PLAN, COLUMNS, np.full((1, M), 1.0), real)
    kinds = [one.kind for one in row]
    assert kinds.count("walks") > M / 2
    assert all(one.shared for one in row if one.kind == "walks")
    assert all(one.further is not None and one.further.walks > 1 for one in row if one.kind == "walks")


def test_settings_without_a_difference_can_be_called_the_same() -> None:
    rng = np.random.default_rng(3)
    pools = pools_of(pilot(rng, Truth(0.0), 12))
    _, real, _ = found(pools)
    (row,) = outlooks(pools, PLAN, COLUMNS, np.zeros((1, M)), real)
    assert all(one.further is None and one.same is not None for one in row)
    seen = foresee(pools, PLAN, {0: row[0].same or Further(0, 0), 1: row[0].same or Further(0, 0)}, COLUMNS)
    assert seen.half_width[0, 0] <= real[0, 0]


def test_one_stride_says_nothing_of_how_many_more() -> None:
    rng = np.random.default_rng(4)
    walks = [walked(rng, "a", "soft", 0.0, 12, Truth(1.0)), walked(rng, "b", "firm", 1.0, 1, Truth(1.0))]
    (row,) = outlooks(pools_of(walks), PLAN, COLUMNS, np.ones((1, M)), np.ones((1, M)))
    assert all(one.kind == "too few" for one in row)


@pytest.mark.parametrize("place", [0, 1])
def test_more_strides_narrow_the_intervals(place: int) -> None:
    rng = np.random.default_rng(5)
    pools = pools_of(pilot(rng, Truth(1.0), 12))
    widths = [np.mean(foresee(pools, PLAN, {place: Further(1, n)}, COLUMNS).half_width) for n in (0, 12, 24, 60)]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < 0.9 * widths[0]
