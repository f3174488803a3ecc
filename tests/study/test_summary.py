"""Each walk by itself: plain numbers against numpy, and what holds whatever the strides."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker import tables
from firstrocker.study.measurement import ErrorShares
from firstrocker.study.summary import summarise
from study.made import MadeWalk, drawn, row_of, stride_table

TOE = "toe_clearance_min_mm"
SLAP = "slap_rate_deg_s"

walks = st.lists(st.integers(1, 7), min_size=1, max_size=4).flatmap(
    lambda bouts: st.tuples(
        st.just(tuple(bouts)), st.lists(st.floats(-100, 100), min_size=sum(bouts), max_size=sum(bouts))
    )
)


def one_walk(bouts: tuple[int, ...], values: list[float | None], **more: Any) -> list[MadeWalk]:
    return [MadeWalk("a", bouts, {TOE: values}, **more)]


@given(walks)
@settings(max_examples=50, deadline=None)
def test_plain_numbers_are_numpys(walk: tuple[tuple[int, ...], list[float]]) -> None:
    bouts, values = walk
    table = summarise(stride_table(one_walk(bouts, list(values))))
    assert table.schema.equals(tables.SUMMARY, check_metadata=True)
    row = row_of(table, walk="a", measure=TOE)
    assert (row["n"], row["unit"]) == (len(values), "mm")
    assert row["mean"] == pytest.approx(np.mean(values), abs=1e-9)
    found = [row["q25"], row["median"], row["q75"]]
    assert found == pytest.approx(np.percentile(values, [25, 50, 75]).tolist(), abs=1e-9)
    if len(values) > 1:
        assert row["sd"] == pytest.approx(np.std(values, ddof=1), abs=1e-9)
    else:
        assert (row["sd"], row["se"]) == (None, None)


@given(walks, st.randoms(use_true_random=False), st.floats(-50, 50))
@settings(max_examples=30, deadline=None)
def test_order_within_bouts_moves_no_mean_and_a_constant_moves_nothing_else(
    walk: tuple[tuple[int, ...], list[float]], random: Any, constant: float
) -> None:
    bouts, values = walk
    row = summarise(stride_table(one_walk(bouts, list(values)))).to_pylist()[0]
    shuffled: list[float | None] = []
    at = 0
    for size in bouts:
        part = list(values[at : at + size])
        random.shuffle(part)
        shuffled += part
        at += size
    again = summarise(stride_table(one_walk(bouts, shuffled))).to_pylist()[0]
    for name in ("mean", "sd", "median"):
        assert again[name] == pytest.approx(row[name], abs=1e-9)
    moved = summarise(stride_table(one_walk(bouts, [value + constant for value in values]))).to_pylist()[0]
    assert moved["mean"] == pytest.approx(row["mean"] + constant, abs=1e-9)
    if row["se"] is not None and moved["se"] is not None and row["sd"] > 1e-3:
        assert moved["se"] == pytest.approx(row["se"], rel=1e-5)


def test_strides_that_do_not_count_and_nulls_leave_no_trace() -> None:
    values: list[float | None] = [10.0, None, 12.0, 11.0, None, 14.0]
    row = row_of(summarise(stride_table(one_walk((6,), values))), measure=TOE)
    assert (row["n"], row["mean"]) == (4, 11.75)
    assert row_of(summarise(stride_table(one_walk((6,), [0.0 if v is None else v for v in values]))))["mean"] < 8


def test_what_some_walk_lacks_has_a_row_and_what_all_lack_has_none() -> None:
    with_shank = MadeWalk("a", (4,), {TOE: [1.0, 2, 3, 4], SLAP: [5.0, 6, 7, 9]})
    without = MadeWalk("b", (4,), {TOE: [1.0, 2, 3, 4]})
    table = summarise(stride_table([with_shank, without]))
    assert set(table["measure"].to_pylist()) == {TOE, SLAP}
    row = row_of(table, walk="b", measure=SLAP)
    assert row["n"] == 0
    assert all(row[name] is None for name in ("mean", "sd", "median", "q25", "q75", "se"))
    none = summarise(stride_table([MadeWalk("a", (), {TOE: []})]))
    assert none.num_rows == 0
    assert none.schema.equals(tables.SUMMARY, check_metadata=True)


def test_strides_that_are_all_the_same_give_no_standard_error() -> None:
    row = row_of(summarise(stride_table(one_walk((5,), [0.3] * 5))), measure=TOE)
    assert row["sd"] == pytest.approx(0, abs=1e-12)
    assert row["se"] is None


def test_dependence_makes_the_mean_less_sure() -> None:
    rng = np.random.default_rng(2)
    bouts = (12, 12, 12, 12)
    ratio = {}
    for rho, share in ((0.0, 0.0), (0.6, 0.0), (0.0, 0.5)):
        found = []
        for _ in range(20):
            made = [MadeWalk(w, bouts, {TOE: drawn(rng, bouts, mean=0, sd=1, rho=rho, share=share)}) for w in "abcd"]
            found += [row["se"] / row["sd"] * np.sqrt(48) for row in summarise(stride_table(made)).to_pylist()]
        ratio[rho, share] = np.median(found)
    # Were rho and the share known: 1; the mean of 12 strides at 0.6 has 3.4 times the variance of independent ones;
    # half the variance between four bouts makes 0.5 / 4 + 0.5 / 48, which is 6.5 / 48. What is not known widens all.
    assert 1.0 < ratio[0.0, 0.0] < 1.4
    assert np.sqrt(3.4) * 0.9 < ratio[0.6, 0.0] < np.sqrt(3.4) * 1.4
    assert np.sqrt(6.5) * 0.9 < ratio[0.0, 0.5] < np.sqrt(6.5) * 1.4


def test_common_measurement_error_does_not_average_out() -> None:
    rng = np.random.default_rng(3)
    bouts = (10,) * 4
    values = drawn(rng, bouts, mean=10, sd=1)
    plain = row_of(summarise(stride_table(one_walk(bouts, list(values)))))["se"]
    made = stride_table(one_walk(bouts, list(values), errors={TOE: 2.0}))
    assert row_of(summarise(made))["se"] == pytest.approx(np.hypot(plain, 2.0))
    half = summarise(made, shares={TOE: ErrorShares(walk=0.25, session=0.25)})
    assert row_of(half)["se"] == pytest.approx(np.sqrt(plain**2 + 0.5 * 4.0))
    assert row_of(summarise(made, shares={TOE: ErrorShares(0.0, 0.0)}))["se"] == pytest.approx(plain)


def test_sessions_do_not_touch_each_other() -> None:
    rng = np.random.default_rng(5)
    made = [
        stride_table(one_walk((6, 5), list(drawn(rng, (6, 5), mean=0, sd=1))), subject=subject)
        for subject in ("P01", "P02")
    ]
    together = summarise(pa.concat_tables(made)).to_pylist()
    assert together == [row for table in made for row in summarise(table).to_pylist()]
