"""Effects across people from the summaries of their walks: who is in, who is not, and what is said."""

from __future__ import annotations

from typing import Any

import numpy as np
import pyarrow as pa
import pytest

from firstrocker import tables
from firstrocker.measures import BY_COLUMN
from firstrocker.model import Side
from firstrocker.study.cohort import effects, own_effects

SLAP = "slap_rate_deg_s"


def walk(subject: str, condition: str, mean: float | None, **more: Any) -> dict[str, Any]:
    usual = {"session": "1", "walk": f"{condition}{mean}", "side": "left", "measure": SLAP, "n": 12, "se": 1.0}
    row: dict[str, Any] = usual | {"subject": subject, "condition": condition, "mean": mean} | more
    return row | {"unit": BY_COLUMN[row["measure"]].unit}


def study(changes: list[float], measure: str = SLAP) -> list[dict[str, Any]]:
    rows = []
    for k, change in enumerate(changes):
        level = 300.0 + 17.0 * (k % 5)
        rows += [walk(f"P{k:02}", "unbraced", level, measure=measure)]
        rows += [walk(f"P{k:02}", "braced", level + change, measure=measure)]
    return rows


def found(
    rows: list[dict[str, Any]], *, affected: Side = "left", units: dict[Any, str] | None = None, least: int = 5
) -> list[dict[str, Any]]:
    sides = {(row["subject"], row["session"]): affected for row in rows}
    table = effects(
        pa.Table.from_pylist(rows, schema=tables.SUMMARY), sides, units=units or {}, confidence=0.95, min_strides=least
    )
    assert table.schema.equals(tables.EFFECTS, check_metadata=True)
    assert {row["verdict"] for row in table.to_pylist()} <= set(tables.COHORT_VERDICTS)
    return [dict(row) for row in table.to_pylist()]


CHANGES = [-52.0, -61.0, -40.0, -55.0, -49.0, -66.0, -45.0]


def test_braced_against_unbraced_with_all_that_is_promised() -> None:
    (row,) = found(study(CHANGES))
    mean, sd = np.mean(CHANGES), np.std(CHANGES, ddof=1)
    assert (row["leg"], row["question"], row["dose_unit"], row["unit"]) == ("affected", "braced", None, "deg/s")
    assert (row["people"], row["sessions"], row["walks"], row["strides"]) == (7, 7, 14, 168)
    assert row["difference"] == pytest.approx(mean)
    assert row["ci_high"] - row["ci_low"] == pytest.approx(2 * 2.446912 * sd / np.sqrt(7), rel=1e-5)  # t of 6, 0.975
    assert row["sd"] == pytest.approx(sd)
    assert (row["verdict"], row["family"], row["doubtful"]) == ("lower", "leading", False)
    least = min(CHANGES)
    assert row["without_one_high"] == pytest.approx((sum(CHANGES) - least) / 6)
    assert row["leans_on"] == "P05"
    assert "Nothing speaks against normal effects." in row["checks"]


def test_few_people_give_no_interval_and_say_so() -> None:
    (row,) = found(study(CHANGES[:2]))
    assert (row["people"], row["ci_low"], row["p_adjusted"], row["verdict"]) == (2, None, None, "too few people")
    (row,) = found(study(CHANGES[:3]))
    assert row["ci_low"] < row["difference"] < row["ci_high"]
    assert "cannot be judged" in row["checks"]


def test_only_people_who_walked_both_ways_count() -> None:
    rows = [*study(CHANGES), walk("Q1", "braced", 900.0), walk("Q2", "unbraced", 900.0), walk("Q3", "unbraced", None)]
    rows += [walk("Q4", "unbraced", 1.0, session="1"), walk("Q4", "braced", 2.0, session="2")]
    rows += [walk("Q5", "unbraced", 1.0), walk("Q5", "braced", 2.0, n=4)]
    (row,) = found(rows)
    assert row["people"] == 7
    assert row["difference"] == pytest.approx(np.mean(CHANGES))
    sides: dict[tuple[str, str], Side] = {("P00", "1"): "left"}
    table = pa.Table.from_pylist(rows, schema=tables.SUMMARY)
    assert effects(table, sides, units={}, confidence=0.95, min_strides=5)["people"].to_pylist() == [1]
    assert effects(table, {}, units={}, confidence=0.95, min_strides=5).num_rows == 0


def test_legs_are_told_by_the_affected_side() -> None:
    rows = study(CHANGES) + [row | {"side": "right", "mean": 5.0 + k} for k, row in enumerate(study([1.0, 2.0, 4.0]))]
    assert {row["leg"]: row["people"] for row in found(rows)} == {"affected": 7, "other": 3}
    assert {row["leg"]: row["people"] for row in found(rows, affected="right")} == {"affected": 3, "other": 7}


def doses(unit_of: dict[str, str], slope: float = -3.0) -> tuple[list[dict[str, Any]], dict[Any, str]]:
    rows, units = [], {}
    for k, (subject, unit) in enumerate(unit_of.items()):
        for step, resistance in enumerate((50.0, 60.0, 70.0)):
            name = f"w{step}"
            bend = (1.0, -2.0, 1.0)[step] * (k % 3)
            value = 400.0 + 10 * k + (slope + 0.1 * (k % 4)) * resistance + bend
            rows.append(walk(subject, "braced", value, walk=name, resistance=resistance, setting=str(resistance)))
            units[subject, "1", name] = unit
        rows.append(walk(subject, "unbraced", 250.0, walk="u"))
    return rows, units


def test_resistance_is_a_dose_and_units_are_never_mixed() -> None:
    kinds = {f"A{k}": "Shore A" for k in range(5)} | {f"B{k}": "N\u00b7m/deg" for k in range(4)}
    rows, units = doses(kinds)
    dosed = {row["dose_unit"]: row for row in found(rows, units=units) if row["question"] == "resistance"}
    assert {unit: row["people"] for unit, row in dosed.items()} == {"Shore A": 5, "N\u00b7m/deg": 4}
    shore = dosed["Shore A"]
    assert shore["difference"] == pytest.approx(np.mean([-3.0, -2.9, -2.8, -2.7, -3.0]), abs=0.02)
    assert (shore["cause_low"], shore["cause_high"], shore["walks"]) == (50.0, 70.0, 15)
    assert (shore["unit"], shore["verdict"]) == ("deg/s per Shore A", "lower")


def test_one_person_with_two_units_is_compared_within_each() -> None:
    rows, units = doses({"A": "Shore A"})
    units["A", "1", "w2"] = "N\u00b7m/deg"
    dosed = [row for row in found(rows, units=units) if row["question"] == "resistance"]
    assert [(row["dose_unit"], row["walks"]) for row in dosed] == [("Shore A", 2)]


def test_labels_and_numbers_without_unit_are_no_dose() -> None:
    rows, units = doses({f"A{k}": "Shore A" for k in range(5)})
    assert {row["question"] for row in found(rows, units={})} == {"braced"}
    nameless = [row | {"resistance": None} for row in rows]
    assert {row["question"] for row in found(nameless, units=units)} == {"braced"}


def test_more_measures_ask_for_more() -> None:
    slight = [-12.0, 3.0, -9.0, -14.0, -2.0, -11.0, -6.0]
    (alone,) = found(study(slight))
    noise = np.random.default_rng(1)
    others = ("toe_clearance_min_mm", "foot_lowering_rate_deg_s", "shank_forward_rate_deg_s")
    rows = study(slight) + [row for m in others for row in study(noise.normal(0, 9, 7).tolist(), m)]
    together = {row["measure"]: row for row in found(rows)}
    assert alone["verdict"] == "lower"
    assert together[SLAP]["p_value"] == pytest.approx(alone["p_value"])
    assert together[SLAP]["p_adjusted"] == pytest.approx(4 * alone["p_value"])
    assert together[SLAP]["verdict"] == "no clear change"


def test_checks_name_who_stands_out_and_what_does_not_hold() -> None:
    (row,) = found(study([*CHANGES, 400.0]))
    assert row["doubtful"]
    assert "Far from the others: P07." in row["checks"]
    assert "The direction rests on one person: P07." in row["checks"]
    rows = study(CHANGES * 2)
    for k, one in enumerate(rows):
        one["mean"] = 100.0 + 20 * (k // 2) + (0 if one["condition"] == "unbraced" else -3.0 * (k // 2))
    (row,) = found(rows)
    assert "The effect is less in people with higher values" in row["checks"]


def test_uneven_scatter_is_told() -> None:
    rng = np.random.default_rng(4)
    rows = []
    for k in range(10):
        for condition, scatter in (("unbraced", 1.0), ("braced", 12.0)):
            level = 300.0 - 50.0 * (condition == "braced")
            rows += [walk(f"P{k}", condition, level + scatter * rng.standard_normal()) for _ in range(3)]
    (row,) = found(rows)
    assert "times as much as at the low end" in row["checks"]
    assert row["doubtful"]


def test_own_effects_average_sessions() -> None:
    rows = [walk("P1", "unbraced", 10.0), walk("P1", "unbraced", 20.0), walk("P1", "braced", 5.0)]
    rows += [walk("P1", "unbraced", 30.0, session="2"), walk("P1", "braced", 40.0, session="2")]
    rows += [walk("P1", "braced", 1e6, session="3"), walk("P2", "braced", 1.0)]
    sides: dict[tuple[str, str], Side] = {(row["subject"], row["session"]): "left" for row in rows}
    table = own_effects(pa.Table.from_pylist(rows, schema=tables.SUMMARY), sides, min_strides=5)
    (row,) = table.to_pylist()
    assert (row["subject"], row["sessions"]) == ("P1", 2)
    assert [row["unbraced"], row["braced"], row["difference"]] == pytest.approx([22.5, 22.5, 0.0])
