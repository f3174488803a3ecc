"""How measures develop over sessions: differences and their intervals are right, and claim no more than is known."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from firstrocker.study.course import CoursePoint, between_visits, course
from firstrocker.study.summary import summarise
from study.made import MadeWalk, drawn, stride_table


def row(measure: str, mean: float, se: float | None = 2.0, **more: Any) -> dict[str, Any]:
    usual = {"side": "left", "condition": "unbraced", "setting": None, "resistance": None, "walk": "a", "n": 20}
    return usual | {"measure": measure, "mean": mean, "se": se} | more


def followed(*sessions: list[dict[str, Any]], side: str | None = "left") -> list[CoursePoint]:
    named = [(str(place + 1), side, rows) for place, rows in enumerate(sessions)]
    return course(named, confidence=0.95, min_strides=5)


def test_difference_and_interval_from_the_first_session() -> None:
    first, second, third = followed(*([row("slap_rate_deg_s", mean)] for mean in (300.0, 280.0, 200.0)))
    assert (first.verdict, first.difference) == ("first", None)
    assert first.ci_low == pytest.approx(300 - 1.96 * 2, abs=0.01)
    assert second.difference == -20.0
    assert second.difference_low == pytest.approx(-20 - 1.96 * np.sqrt(8), abs=0.01)
    assert third.difference == -100.0
    assert third.verdict == "more than the walks explain"
    assert not third.between_known


def test_speed_must_exceed_what_visits_differ_by() -> None:
    points = followed(*([row("walking_speed_m_s", mean, 0.01)] for mean in (1.0, 1.15, 1.25)))
    assert [one.verdict for one in points] == ["first", "no clear change", "clear change"]
    assert points[1].real_change == 0.18
    assert all(one.between_known for one in points[1:])


@pytest.mark.parametrize(("mean", "change"), [(0.3, 0.10), (0.8, 0.15), (0.9, 0.18)])
def test_published_changes_of_speed(mean: float, change: float) -> None:
    assert between_visits("walking_speed_m_s", mean) == change


def test_what_nobody_has_published_is_not_known() -> None:
    assert between_visits("foot_pitch_heel_strike_deg", 10.0) == 5.0
    for measure in ("slap_rate_deg_s", "toe_clearance_min_mm", "ankle_share", "shank_forward_rate_deg_s"):
        assert between_visits(measure, 1.0) is None


def test_settings_are_followed_apart_and_repeats_together() -> None:
    braced: dict[str, Any] = {"condition": "braced", "setting": "soft", "resistance": 50.0}
    one = [row("slap_rate_deg_s", 300.0), row("slap_rate_deg_s", 200.0, walk="b", **braced)]
    one.append(row("slap_rate_deg_s", 230.0, walk="c", n=10, **braced))
    points = followed(one, [row("slap_rate_deg_s", 190.0, **braced)])
    soft = [point for point in points if point.setting == "soft"]
    assert [point.mean for point in soft] == [pytest.approx(210.0), 190.0]
    assert soft[0].n == 30
    assert len(points) == 3


def test_too_few_strides_or_no_error_say_nothing() -> None:
    few = followed([row("slap_rate_deg_s", 300.0)], [row("slap_rate_deg_s", 100.0, n=4)])[1]
    unsure = followed([row("slap_rate_deg_s", 300.0)], [row("slap_rate_deg_s", 100.0, None)])[1]
    for point in (few, unsure):
        assert point.verdict == "too few strides"
        assert point.difference_low is None
        assert point.real_change is None


def test_sessions_without_a_side_are_passed_over() -> None:
    assert followed([row("slap_rate_deg_s", 300.0)], side=None) == []


def test_an_unchanged_person_is_rarely_said_to_differ() -> None:
    wrong = 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        tables = []
        for _ in range(2):
            values = {"slap_rate_deg_s": drawn(rng, (10, 10), mean=250, sd=25, rho=0.3)}
            tables.append(summarise(stride_table([MadeWalk("a", (10, 10), dict(values), "unbraced")])).to_pylist())
        wrong += followed(*tables)[1].verdict != "no clear change"
    assert wrong <= 6  # 1 of 20 expected, 2 of 40; more than 6 would come by chance in 1 of 100
