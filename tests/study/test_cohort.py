"""Differences within people, gathered across people: against a general-purpose library and against plain cases."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from firstrocker import tables
from firstrocker.model import Side
from firstrocker.study.cohort import effects


def row(subject: str, difference: float | None, **other: Any) -> dict[str, Any]:
    usual = {"session": "1", "side": "left", "measure": "slap_rate_deg_s", "reference": "unbraced", "other": "braced"}
    return usual | {"subject": subject, "difference": difference} | other


def gathered(rows: list[dict[str, Any]], affected: Side = "left", confidence: float = 0.95) -> list[dict[str, Any]]:
    sides = {(row["subject"], row["session"]): affected for row in rows}
    table = effects(pa.Table.from_pylist(rows, schema=tables.COMPARISON), sides, confidence=confidence)
    assert table.schema.equals(tables.EFFECTS, check_metadata=True)
    found: list[dict[str, Any]] = table.to_pylist()
    return found


@settings(deadline=None)
@given(st.lists(st.floats(-500, 500), min_size=3, max_size=20).filter(lambda values: np.ptp(values) > 1e-3))
def test_interval_is_students(values: list[float]) -> None:
    # Oracle: scipy.stats, a general-purpose library.
    found = gathered([row(f"P{n}", value) for n, value in enumerate(values)], confidence=0.9)[0]
    interval = stats.ttest_1samp(values, 0.0).confidence_interval(0.9)
    assert found["people"] == len(values)
    assert found["difference"] == pytest.approx(np.mean(values), abs=1e-9)
    assert found["ci_low"] == pytest.approx(interval.low, rel=1e-6, abs=1e-6)
    assert found["ci_high"] == pytest.approx(interval.high, rel=1e-6, abs=1e-6)


def test_each_person_counts_once() -> None:
    rows = [row("P1", 10.0), row("P1", 20.0, session="2"), row("P2", 1.0), row("P3", 2.0)]
    found = gathered(rows)[0]
    assert (found["people"], found["sessions"]) == (3, 4)
    assert found["difference"] == pytest.approx((15 + 1 + 2) / 3)


def test_few_people_give_no_interval() -> None:
    two = gathered([row("P1", 1.0), row("P2", 3.0)])[0]
    assert (two["people"], two["sd"]) == (2, pytest.approx(np.sqrt(2)))
    assert two["ci_low"] is None
    assert two["ci_high"] is None
    assert gathered([row("P1", 1.0)])[0]["sd"] is None


def test_legs_are_told_by_the_affected_side() -> None:
    rows = [row("P1", 1.0), row("P1", 2.0, side="right")]
    assert {one["leg"]: one["difference"] for one in gathered(rows)} == {"affected": 1.0, "other": 2.0}
    assert {one["leg"]: one["difference"] for one in gathered(rows, "right")} == {"affected": 2.0, "other": 1.0}


def test_what_does_not_belong_is_passed_over() -> None:
    rows = [row("P1", None), row("P1", 3.0, reference="walk:a", other="walk:b")]
    assert gathered(rows) == []
    table = pa.Table.from_pylist([row("P1", 1.0)], schema=tables.COMPARISON)
    assert effects(table, {}, confidence=0.95).num_rows == 0
