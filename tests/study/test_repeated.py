"""Reliability from repeated walks and sessions: which values are paired, and the numbers against outside ones."""

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
from firstrocker.study.reliability import intraclass_correlation
from firstrocker.study.repeated import reliability
from study.test_cohort import walk

FIRST = [210.0, 250.0, 190.0, 300.0, 275.0]
SECOND = [220.0, 245.0, 205.0, 310.0, 270.0]


def found(rows: list[dict[str, Any]]) -> dict[tuple[str, str], dict[str, Any]]:
    sides: dict[tuple[str, str], Side] = {(row["subject"], row["session"]): "left" for row in rows}
    table = reliability(pa.Table.from_pylist(rows, schema=tables.SUMMARY), sides, confidence=0.95, min_strides=5)
    assert table.schema.equals(tables.RELIABILITY, check_metadata=True)
    return {(row["repeats"], row["condition"]): dict(row) for row in table.to_pylist()}


def test_two_walks_of_one_session() -> None:
    rows = []
    for k, (one, two) in enumerate(zip(FIRST, SECOND, strict=True)):
        rows += [walk(f"P{k}", "unbraced", one), walk(f"P{k}", "unbraced", two), walk(f"P{k}", "unbraced", 1e6)]
        rows += [walk(f"P{k}", "braced", 5.0, setting="soft"), walk(f"P{k}", "braced", 9.0, setting="firm")]
    rows.append(walk("Q", "unbraced", 1.0))
    both = found(rows)
    assert list(both) == [("walks", "unbraced")]
    row = both["walks", "unbraced"]
    d = np.array(SECOND) - np.array(FIRST)
    assert row["people"] == 5
    assert row["sem"] == pytest.approx(d.std(ddof=1) / np.sqrt(2))
    assert row["mdc95"] == pytest.approx(1.959964 * d.std(ddof=1), rel=1e-6)
    assert (row["bias"], row["limit_high"]) == pytest.approx((d.mean(), d.mean() + 1.96 * d.std(ddof=1)))
    # The variance of four degrees of freedom: scipy's chi-square.
    low, high = (np.sqrt(4 / stats.chi2(4).ppf(share)) for share in (0.975, 0.025))
    assert [row["mdc95_ci_low"], row["mdc95_ci_high"]] == pytest.approx([low * row["mdc95"], high * row["mdc95"]])


def test_two_sessions_are_compared_by_their_means() -> None:
    rows = []
    for k, (one, two) in enumerate(zip(FIRST, SECOND, strict=True)):
        rows += [walk(f"P{k}", "braced", one - 4.0, setting="soft"), walk(f"P{k}", "braced", one + 4.0, setting="soft")]
        rows += [walk(f"P{k}", "braced", two, setting="soft", session="2")]
        rows += [walk(f"P{k}", "braced", 7.0 * k, setting="firm", session="3")]
    both = found(rows)
    assert set(both) == {("walks", "braced"), ("sessions", "braced")}
    assert both["sessions", "braced"]["bias"] == pytest.approx(np.mean(SECOND) - np.mean(FIRST))
    assert both["walks", "braced"]["bias"] == pytest.approx(8.0)


def test_two_people_say_nothing() -> None:
    rows = [walk(f"P{k}", "unbraced", FIRST[k] + step) for k in range(2) for step in (0.0, 3.0)]
    assert found(rows) == {}


# Pingouin 0.7 calls pandas 3.1 in a way that pandas warns of: nothing of ours.
@pytest.mark.filterwarnings("ignore:The inplace keyword")
@given(st.integers(0, 10_000), st.integers(4, 12), st.integers(2, 4))
@settings(deadline=None, max_examples=15)
def test_correlations_are_those_of_pingouin(seed: int, people: int, occasions: int) -> None:
    # Oracle: pingouin, a general-purpose library; it prints two decimals of the intervals.
    pingouin, pandas = pytest.importorskip("pingouin"), pytest.importorskip("pandas")
    rng = np.random.default_rng(seed)
    table = rng.normal(0, 2, (people, 1)) + rng.normal(0, 1, (people, occasions)) + rng.normal(0, 0.5, occasions)
    long = pandas.DataFrame(
        {
            "person": np.repeat(np.arange(people), occasions),
            "occasion": np.tile(np.arange(occasions), people),
            "value": table.ravel(),
        }
    )
    answers = pingouin.intraclass_corr(long, targets="person", raters="occasion", ratings="value")
    ours = intraclass_correlation(table)
    for at, one in ((1, ours.agreement), (2, ours.consistency)):
        answer = answers.iloc[at]
        interval = next(answer[name] for name in answers.columns if name.startswith("CI95"))
        assert one.value == pytest.approx(answer["ICC"], abs=1e-6)
        assert [one.ci_low, one.ci_high] == pytest.approx(list(interval), abs=0.0051)
