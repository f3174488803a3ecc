"""A person's days, trends and alerts: found when there, late for a known reason, and untouched by later days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from firstrocker.settings import Settings
from firstrocker.steps.trend import following_of
from firstrocker.study.alerts import WATCHED
from firstrocker.study.day_series import CLEARANCE, SLAP, Leg, LegBriefs, StrideDay
from firstrocker.study.trend import Person, follow, tables_of
from firstrocker.synth.months import Change
from firstrocker.tables_days import ALERTS, DAYS, TRENDS
from study.home import person

HOW = following_of(Settings())
SOFT = Leg("left", "braced", "soft", 50.0)
LATER = ("ended_day", "standing", "new", "change_now", "days")


def somebody(days: int = 50, seed: int = 1, change: Change | None = None, leg: Leg = SOFT) -> Person:
    made, worn = person(days, seed, *([change] if change else []))
    return Person("P01", [one.day for one in made], {leg: made}, worn, "left")


def lived(whole: Person, leg: Leg) -> Sequence[StrideDay]:
    days = whole.legs[leg]
    assert not isinstance(days, LegBriefs)
    return days


def until(whole: Person, day: int) -> Person:
    legs = {leg: [one for one in lived(whole, leg) if one.day <= day] for leg in whole.legs}
    worn = {when: hours for when, hours in whole.worn_h.items() if when <= day}
    return replace(whole, sessions=[one for one in whole.sessions if one <= day], legs=legs, worn_h=worn)


def alerts(of: Person, today: int | None = None) -> list[dict[str, Any]]:
    return follow(of, today=max(of.sessions) if today is None else today, how=HOW)[2]


@pytest.mark.parametrize(
    ("kind", "change"),
    [
        ("slaps", Change(SLAP, 40.0, 30)),
        ("clearance", Change(CLEARANCE, -6.0, 30)),
        ("scuffs", Change(CLEARANCE, -9.0, 30)),
        ("wear", Change("worn_h", -5.0, 30)),
    ],
)
def test_a_lasting_change_is_told_with_its_day_and_size(kind: str, change: Change) -> None:
    found = [row for row in alerts(somebody(seed=3, change=change)) if row["kind"] == kind]
    assert len(found) == 1
    row = found[0]
    assert 24 <= row["since_day"] <= 33  # the run that raised it may begin with days that chance had raised
    assert 32 <= row["first_day"] <= 40
    assert row["standing"]
    assert row["ci_low"] <= row["change"] <= row["ci_high"]
    assert (row["change"] > 0) == (kind in ("slaps", "scuffs"))
    if kind in ("clearance", "wear"):
        assert row["ci_low"] <= change.size <= row["ci_high"]
        assert row["change_now"] == pytest.approx(change.size, abs=2.5)
    assert (row["strides"] is None) == (kind == "wear")


def test_nothing_is_told_of_days_that_only_differ() -> None:
    assert [row["kind"] for seed in range(6) for row in alerts(somebody(seed=100 + seed))] == []


def test_a_better_foot_is_no_alert() -> None:
    assert alerts(somebody(seed=4, change=Change(CLEARANCE, 8.0, 25))) == []
    assert alerts(somebody(seed=4, change=Change(SLAP, -80.0, 25))) == []


def test_nights_to_come_change_no_alert_that_was_raised() -> None:
    whole = somebody(60, 5, Change(CLEARANCE, -6.0, 24))
    last = alerts(whole)
    assert last
    for night in range(24, 60, 3):
        known = [row for row in last if row["first_day"] <= night]
        then = alerts(until(whole, night))
        assert [{k: v for k, v in row.items() if k not in LATER} for row in then] == [
            {k: v for k, v in row.items() if k not in LATER} for row in known
        ]


def test_the_order_of_strides_within_a_day_does_not_matter() -> None:
    whole = somebody(40, 6, Change(SLAP, 40.0, 25))
    rng = np.random.default_rng(1)
    mixed = [_mixed(one, rng.permutation(one.n)) for one in lived(whole, SOFT)]
    first, second = alerts(whole), alerts(replace(whole, legs={SOFT: mixed}))
    assert [row["first_day"] for row in first] == [row["first_day"] for row in second] != []
    assert [row["change"] for row in second] == pytest.approx([row["change"] for row in first])


def _mixed(day: StrideDay, order: Any) -> StrideDay:
    values = {name: column[order] for name, column in day.values.items()}
    return StrideDay(day.day, day.bout[order], values, day.under[order])


def test_another_setting_begins_anew() -> None:
    lived, worn = person(50, 7, Change(CLEARANCE, -6.0, 25))
    firm = replace(SOFT, setting="firm", resistance=70.0)
    legs = {SOFT: [one for one in lived if one.day < 25], firm: [one for one in lived if one.day >= 25]}
    changed = Person("P01", [one.day for one in lived], legs, worn, "left")
    assert alerts(changed) == []
    assert "clearance" in [row["kind"] for row in alerts(replace(changed, legs={SOFT: lived}))]
    baseline = {
        row["setting"]: row["baseline"] for row in follow(changed, today=49, how=HOW)[1] if row["measure"] == CLEARANCE
    }
    assert baseline["soft"] - baseline["firm"] == pytest.approx(6.0, abs=2.0)


def test_the_other_leg_is_followed_and_not_watched() -> None:
    lived, worn = person(50, 3, Change(CLEARANCE, -6.0, 30))
    right = replace(SOFT, side="right")
    other = Person("P01", [one.day for one in lived], {right: lived}, worn, "left")
    assert alerts(other) == []
    trends = follow(other, today=49, how=HOW)[1]
    assert {row["measure"] for row in trends if row["watched"]} == {"worn_h"}
    assert alerts(replace(other, side=None)) != []


def test_several_settings_share_the_false_alarms() -> None:
    lived, worn = person(50, 8, Change(CLEARANCE, -3.5, 30))
    one = Person("P01", [day.day for day in lived], {SOFT: lived}, worn, "left")
    both = replace(one, legs={SOFT: lived, replace(SOFT, condition="unbraced", setting=None, resistance=None): lived})
    alone = [row["first_day"] for row in alerts(one) if row["kind"] == "clearance"]
    shared = [row["first_day"] for row in alerts(both) if row["kind"] == "clearance"]
    assert len(alone) == 1
    assert len(shared) in (0, 2)
    assert all(day >= alone[0] for day in shared)


def test_silence_is_told_on_its_third_day_and_over_when_data_come() -> None:
    quiet = replace(somebody(20), sessions=[0, 1, 2, 7, 8])
    rows = [row for row in alerts(quiet, today=12) if row["kind"] == "silent"]
    assert [(row["since_day"], row["first_day"], row["ended_day"], row["days"]) for row in rows] == [
        (3, 5, 7, 4),
        (9, 11, None, 4),
    ]
    assert [row["new"] for row in rows] == [False, False]
    assert [row["new"] for row in alerts(quiet, today=11) if row["kind"] == "silent"] == [False, True]
    assert [row for row in alerts(replace(quiet, sessions=[0, 3]), today=5) if row["standing"]] == []


def test_the_tables_have_their_schemas_and_hold_only_what_is_known() -> None:
    found = tables_of(*follow(somebody(30, 2, Change(SLAP, 60.0, 20)), today=29, how=HOW))
    for name, schema in {"days": DAYS, "trends": TRENDS, "alerts": ALERTS}.items():
        assert found[name].schema.equals(schema, check_metadata=True)
    days = found["days"].to_pylist()
    assert len(days) == 6 * 30
    assert all((row["value"] is None) == bool(row["reason"]) for row in days)
    assert sum(row["in_baseline"] for row in days if row["measure"] == CLEARANCE) == 14
    assert all(row["se_total"] >= (row["se"] or 0.0) for row in days if row["value"] is not None)
    trends = {row["measure"]: row for row in found["trends"].to_pylist()}
    assert {one.measure for one in WATCHED} == {name for name, row in trends.items() if row["watched"]}
    assert trends["slap_share"]["limit"] > 250
    assert trends[SLAP]["shifts"] == 1
    empty = tables_of([], [], [])
    assert [table.num_rows for table in empty.values()] == [0, 0, 0]


def test_a_slope_is_told_per_week() -> None:
    trends = follow(somebody(40, 2, Change(SLAP, 80.0, 0, 40)), today=39, how=HOW)[1]
    (row,) = [one for one in trends if one["measure"] == SLAP]
    assert row["slope_week"] == pytest.approx(14.0, abs=7.0)
    assert row["slope_ci_low"] < row["slope_week"] < row["slope_ci_high"]
