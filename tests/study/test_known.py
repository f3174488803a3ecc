"""An effect across people is never surer than what is known of each person's own change."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from firstrocker import tables
from firstrocker.measures import BY_COLUMN
from firstrocker.model import FloatArray, Side
from firstrocker.study.cohort import effects
from firstrocker.study.known import no_surer_than, own_errors
from firstrocker.study.mixed import Effect, WalkMeans, effect_across_people

CLEARANCE = "toe_clearance_min_mm"


def compared(subject: str, low: float | None, high: float | None, **more: Any) -> dict[str, Any]:
    row: dict[str, Any] = {"session": "1", "side": "left", "measure": CLEARANCE, "reference": "unbraced"}
    row |= {"other": "braced", "unit": "mm", "subject": subject, "ci_low": low, "ci_high": high}
    return row | more


def errors_of(*rows: dict[str, Any], confidence: float = 0.95) -> Any:
    affected: dict[tuple[str, str], Side] = {("A", "1"): "left", ("A", "2"): "left", ("B", "1"): "left"}
    return own_errors(pa.Table.from_pylist(list(rows), schema=tables.COMPARISON), affected, confidence=confidence)


def test_errors_are_read_off_the_sessions_intervals() -> None:
    found = errors_of(
        compared("A", -1.0, 5.0),
        compared("A", -3.0, 5.0, session="2"),
        compared("B", None, None),
        compared("B", 0.0, 1.0, side="right"),
        compared("B", 0.0, 9.0, reference="walk:a"),
        compared("C", 0.0, 1.0),
    )
    assert found == {
        ("affected", CLEARANCE): {"A": pytest.approx(np.hypot(3.0, 4.0) / 1.959964 / 2.0, rel=1e-6)},
        ("other", CLEARANCE): {"B": pytest.approx(0.5 / 1.959964, rel=1e-6)},
    }
    (ninety,) = errors_of(compared("A", -1.644854, 1.644854), confidence=0.9).values()
    assert ninety["A"] == pytest.approx(1.0, rel=1e-6)


def fitted(changes: FloatArray) -> Effect:
    people = np.arange(len(changes)).repeat(2)
    cause = np.tile([0.0, 1.0], len(changes))
    return effect_across_people(WalkMeans(10.0 + cause * changes.repeat(2), cause, people, people), confidence=0.95)


def test_changes_that_lie_close_by_chance_say_no_more_than_each_is_known() -> None:
    close = fitted(np.array([2.4, 3.2, 3.4]))
    bounded = no_surer_than(close, np.array([8.0, 1.5, 2.0]), confidence=0.95)
    assert (close.ci_low > 0, bounded.ci_low < 0) == (True, True)
    assert bounded.se == pytest.approx(np.sqrt(8.0**2 + 1.5**2 + 2.0**2) / 3.0)
    assert (bounded.ci_high - bounded.ci_low) / 2.0 == pytest.approx(1.959964 * bounded.se, rel=1e-6)
    assert (bounded.value, bounded.freedom) == (close.value, np.inf)
    assert bounded.p_value == pytest.approx(0.30, abs=0.05)


def test_changes_that_differ_more_than_their_errors_stay_as_they_are() -> None:
    far = fitted(np.array([-40.0, 10.0, 55.0, 2.0]))
    assert no_surer_than(far, np.array([8.0, 1.5, 2.0, 3.0]), confidence=0.95) is far
    assert no_surer_than(far, np.zeros(4), confidence=0.95) is far
    few = fitted(np.array([1.0, 2.0]))
    assert no_surer_than(few, np.array([8.0, 8.0]), confidence=0.95) is few


@pytest.mark.parametrize("own_se", [0.5, 8.0])
def test_intervals_hold_the_truth_where_people_are_alike(own_se: float) -> None:
    rng = np.random.default_rng(5)
    errors = np.array([own_se, 1.0, 1.0])
    held = []
    for _ in range(400):
        one = no_surer_than(fitted(3.0 + errors * rng.standard_normal(3)), errors, confidence=0.95)
        held.append(one.ci_low <= 3.0 <= one.ci_high)
    assert np.mean(held) >= 0.95


def test_the_table_and_its_verdict_are_by_it() -> None:
    rows: list[dict[str, Any]] = []
    for subject, change in (("A", 2.4), ("B", 3.2), ("C", 3.4)):
        head = {"subject": subject, "session": "1", "side": "left", "measure": CLEARANCE, "n": 12, "se": 1.0}
        head |= {"unit": BY_COLUMN[CLEARANCE].unit}
        rows.append(head | {"walk": "a", "condition": "unbraced", "mean": 15.0})
        rows.append(head | {"walk": "b", "condition": "braced", "mean": 15.0 + change})
    affected: dict[tuple[str, str], Side] = {(subject, "1"): "left" for subject in "ABC"}
    summary = pa.Table.from_pylist(rows, schema=tables.SUMMARY)

    def row(own: dict[str, float]) -> dict[str, Any]:
        known = {("affected", CLEARANCE): own}
        (one,) = effects(summary, affected, units={}, confidence=0.95, min_strides=5, known=known).to_pylist()
        return dict(one)

    sure, unsure = row({}), row({"A": 8.0, "B": 1.5, "C": 2.0})
    assert (sure["verdict"], unsure["verdict"]) == ("higher", "no clear change")
    assert (unsure["df"], unsure["difference"]) == (None, sure["difference"])
    assert "The interval is as wide as the errors of people's own changes leave it" in unsure["checks"]
    assert "roughly normal" in sure["checks"]
    assert "roughly normal" not in unsure["checks"]
