"""Walks and conditions against each other."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker import tables
from firstrocker.study.compare import compare
from firstrocker.study.measurement import ErrorShares
from firstrocker.study.summary import summarise
from study.made import MadeWalk, drawn, row_of, stride_table

TOE = "toe_clearance_min_mm"
TIME = "loading_time_s"


def compared(walks: list[MadeWalk], **more: Any) -> pa.Table:
    usual: dict[str, Any] = {"confidence": 0.95, "resamples": 800, "seed": 1, "min_strides": 5}
    return compare(stride_table(walks), **(usual | more))


def walk(
    name: str, rng: np.random.Generator, mean: float, bouts: tuple[int, ...] = (8, 7), column: str = TOE, **more: Any
) -> MadeWalk:
    return MadeWalk(name, bouts, {column: drawn(rng, bouts, mean=mean, sd=1.0)}, **more)


def test_rows_and_their_order() -> None:
    rng = np.random.default_rng(0)
    walks = [
        walk("z", rng, 0, condition="unbraced"),
        walk("b", rng, 1, setting="soft"),
        walk("a", rng, 2, setting="firm"),
    ]
    table = compared(walks)
    assert table.schema.equals(tables.COMPARISON, check_metadata=True)
    assert list(zip(table["reference"].to_pylist(), table["other"].to_pylist(), strict=True)) == [
        ("unbraced", "braced"),
        ("walk:z", "walk:b"),
        ("walk:z", "walk:a"),
        ("walk:b", "walk:a"),
    ]
    assert table["n_other"].to_pylist() == [30, 15, 15, 15]


@given(st.integers(0, 1000), st.floats(-3, 3))
@settings(max_examples=20, deadline=None)
def test_difference_is_that_of_the_summary(seed: int, mean: float) -> None:
    rng = np.random.default_rng(seed)
    walks = [walk("a", rng, 0), walk("b", rng, mean, bouts=(6, 9, 5))]
    row = row_of(compared(walks, resamples=100), reference="walk:a")
    summary = summarise(stride_table(walks))
    means = [row_of(summary, walk=name)["mean"] for name in "ab"]
    assert row["difference"] == pytest.approx(means[1] - means[0], abs=1e-9)
    assert (row["ci_low"] + row["ci_high"]) / 2 == pytest.approx(row["difference"], abs=1e-9)


@given(st.integers(0, 1000))
@settings(max_examples=20, deadline=None)
def test_swapping_walks_mirrors(seed: int) -> None:
    rng = np.random.default_rng(seed)
    walks = [walk("a", rng, 0), walk("b", rng, 1, bouts=(6,)), walk("c", rng, 0.5)]
    forth, back = compared(walks), compared(walks[::-1])
    for one, other in combinations("abc", 2):
        row = row_of(forth, reference=f"walk:{one}", other=f"walk:{other}")
        swapped = row_of(back, reference=f"walk:{other}", other=f"walk:{one}")
        assert swapped["difference"] == pytest.approx(-row["difference"])
        assert [swapped["ci_low"], swapped["ci_high"]] == pytest.approx([-row["ci_high"], -row["ci_low"]])
        assert swapped["smallest_real_change"] == pytest.approx(row["smallest_real_change"])
        mirrored = {"higher": "lower", "lower": "higher"}.get(row["verdict"], row["verdict"])
        assert swapped["verdict"] == mirrored


@given(st.integers(0, 1000), st.floats(-50, 50), st.floats(0.01, 100))
@settings(max_examples=20, deadline=None)
def test_units_and_zeros_do_not_matter(seed: int, constant: float, factor: float) -> None:
    rng = np.random.default_rng(seed)
    walks = [walk("a", rng, 0), walk("b", rng, 1)]
    moved = [MadeWalk(w.walk, w.bouts, {TOE: [factor * (v or 0.0) + constant for v in w.values[TOE]]}) for w in walks]
    row, again = (row_of(compared(some), reference="walk:a") for some in (walks, moved))
    for name in ("difference", "ci_low", "ci_high", "smallest_real_change"):
        assert again[name] == pytest.approx(factor * row[name], rel=1e-6, abs=1e-9)
    assert again["verdict"] == row["verdict"]


def test_one_walk_each_compares_as_the_conditions_do() -> None:
    rng = np.random.default_rng(3)
    table = compared([walk("a", rng, 0, condition="unbraced"), walk("b", rng, 3)])
    conditions, walks = table.to_pylist()
    told = ("difference", "ci_low", "ci_high", "smallest_real_change", "verdict", "n_other")
    assert [conditions[name] for name in told] == [walks[name] for name in told]
    assert conditions["verdict"] == "higher"


def test_too_few_strides() -> None:
    rng = np.random.default_rng(5)
    table = compared([walk("a", rng, 0, condition="unbraced"), walk("b", rng, 50, bouts=(4,))])
    for row in table.to_pylist():
        assert row["verdict"] == "too few strides"
        assert (row["n_reference"], row["n_other"]) == (15, 4)
        assert row["difference"] == pytest.approx(50, abs=2)
        assert (row["ci_low"], row["ci_high"], row["smallest_real_change"]) == (None, None, None)


def test_a_walk_that_lacks_a_measure_is_told() -> None:
    rng = np.random.default_rng(6)
    lacking = MadeWalk("b", (8,), {TIME: drawn(rng, (8,), mean=0, sd=1)})
    row = row_of(compared([walk("a", rng, 0), lacking]), measure=TOE)
    assert (row["n_other"], row["difference"], row["verdict"]) == (0, None, "too few strides")


def test_strides_that_are_all_the_same_prove_nothing() -> None:
    rng = np.random.default_rng(7)
    row = row_of(compared([walk("a", rng, 0), MadeWalk("b", (8,), {TOE: [40.0] * 8})]))
    assert (row["ci_low"], row["smallest_real_change"], row["verdict"]) == (None, None, "no clear change")


def test_measurement_error_is_in_interval_and_real_change() -> None:
    rng = np.random.default_rng(8)
    made = [walk(name, rng, mean, setting=name, errors={TOE: 2.0}) for name, mean in (("a", 0.0), ("b", 4.0))]
    worst = row_of(compared(made))
    own = row_of(compared(made, shares={TOE: ErrorShares(0.0, 0.0)}))
    session = row_of(compared(made, shares={TOE: ErrorShares(0.0, 1.0)}))
    assert (worst["verdict"], own["verdict"]) == ("no clear change", "higher")
    assert worst["smallest_real_change"] == pytest.approx(np.hypot(own["smallest_real_change"], 1.96 * np.sqrt(8)))
    assert worst["ci_high"] - worst["ci_low"] > 2 * 1.9 * np.sqrt(8)
    assert session == own  # what both walks share cancels between them


def test_real_change_is_the_detectable_change_of_equal_walks() -> None:
    # 1.96 sqrt(2) SEM (Weir 2005, from memory): two walks of the same strides, hence of equal standard error.
    rng = np.random.default_rng(9)
    values = drawn(rng, (10, 10), mean=0, sd=1)
    made = [MadeWalk(name, (10, 10), {TIME: values}) for name in "ab"]
    # Different settings, so that neither is the other's repeat.
    made = [MadeWalk(w.walk, w.bouts, w.values, setting=w.walk) for w in made]
    row = row_of(compared(made))
    se = row_of(summarise(stride_table(made)), walk="a")["se"]
    assert row["smallest_real_change"] == pytest.approx(1.96 * np.sqrt(2) * se)
    assert row["verdict"] == "no clear change"


def test_repeats_that_differ_raise_the_real_change() -> None:
    rng = np.random.default_rng(10)
    unbraced = walk("a", rng, 0, condition="unbraced", setting=None)
    again = [walk("b", rng, 5.0, setting="soft"), walk("c", rng, 9.0, setting="soft")]
    apart = [walk("b", rng, 5.0, setting="soft"), walk("c", rng, 9.0, setting="firm")]
    repeated = row_of(compared([unbraced, *again]), reference="walk:a", other="walk:b")
    plain = row_of(compared([unbraced, *apart]), reference="walk:a", other="walk:b")
    # Two means 4 apart: a variance of 8 between repeats, on both sides of the difference.
    assert repeated["smallest_real_change"] == pytest.approx(1.96 * np.sqrt(2 * 8), rel=0.15)
    assert repeated["verdict"] == "no clear change"
    assert plain["verdict"] == "higher"
    pooled = row_of(compared([unbraced, *again]), reference="unbraced")
    pooled_apart = row_of(compared([unbraced, *apart]), reference="unbraced")
    assert pooled["ci_high"] - pooled["ci_low"] > 2 * (pooled_apart["ci_high"] - pooled_apart["ci_low"])


def test_a_setting_of_few_strides_is_not_pooled() -> None:
    rng = np.random.default_rng(11)
    made = [walk("a", rng, 0, condition="unbraced"), walk("b", rng, 3), walk("c", rng, 90, bouts=(2,), setting="firm")]
    row = row_of(compared(made), reference="unbraced")
    assert row["n_other"] == 15
    assert row["difference"] == pytest.approx(3, abs=1)


def test_same_seed_same_bytes() -> None:
    rng = np.random.default_rng(12)
    made = [walk("a", rng, 0), walk("b", rng, 1)]
    assert compared(made).equals(compared(made))
    assert not compared(made).equals(compared(made, seed=2))


def test_nothing_to_compare() -> None:
    assert compared([]).num_rows == 0
    assert compared([walk("a", np.random.default_rng(0), 0)]).num_rows == 0
    assert compared([]).schema.equals(tables.COMPARISON, check_metadata=True)


@pytest.mark.untraced
def test_wrong_changes_are_rare_and_true_ones_are_found() -> None:
    # Four walks, six pairs at once: with no change at all, 95 of 100 sessions should call none.
    rng = np.random.default_rng(13)
    bouts = (8, 8, 8)

    def session(means: tuple[float, ...]) -> list[str]:
        made = [
            MadeWalk(n, bouts, {TIME: drawn(rng, bouts, mean=m, sd=1, rho=0.3, share=0.1)}, setting=n)
            for n, m in zip("abcd", means, strict=True)
        ]
        return [str(v) for v in compared(made, resamples=400)["verdict"].to_pylist()]

    called = np.mean([any(v != "no clear change" for v in session((0, 0, 0, 0))) for _ in range(80)])
    assert called <= 0.1
    found = np.mean([session((0, 0, 0, 4))[2] == "higher" for _ in range(20)])
    assert found > 0.9
