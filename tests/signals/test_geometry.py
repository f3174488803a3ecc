"""Where the foot sensor sits: measured values as they are, estimates with wider errors and a finding."""

from __future__ import annotations

from typing import Any

import pytest

from firstrocker.model import Finding, FootGeometry
from firstrocker.signals.geometry import foot_geometry, last_length
from firstrocker.signals.session import SessionFile
from signals.made import session_content


def geometry(**given: Any) -> tuple[FootGeometry, tuple[Finding, ...]]:
    content = session_content()
    del content["foot_sensor"], content["shoe"]
    return foot_geometry(SessionFile.model_validate(content | given))


RULER = {"to_toe_mm": 145, "above_ground_mm": 75}


def test_ruler_values_are_taken_as_they_are_and_tell_nothing() -> None:
    foot, findings = geometry(foot_sensor=RULER, shoe={"outsole_mm": 285})
    assert (foot.to_toe, foot.to_heel, foot.above_ground) == pytest.approx((0.145, 0.140, 0.075))
    assert foot.measured
    assert findings == ()


def test_an_estimated_outsole_is_told_and_only_the_heel_is_wider() -> None:
    exact, _ = geometry(foot_sensor=RULER, shoe={"outsole_mm": 285})
    foot, (finding,) = geometry(foot_sensor=RULER, shoe={"size": 42, "system": "EU"})
    assert foot.to_toe_se == exact.to_toe_se
    assert foot.to_heel_se > 2 * exact.to_heel_se
    assert (finding.code, finding.severity) == ("geometry-estimated", "info")
    assert "EU size 42" in finding.message
    assert "heel" in finding.message


def test_less_known_means_wider_errors() -> None:
    known = [
        geometry(foot_sensor=RULER, shoe={"outsole_mm": 285}),
        geometry(shoe={"outsole_mm": 285}),
        geometry(shoe={"size": 42, "system": "EU"}),
        geometry(),
    ]
    toe = [foot.to_toe_se for foot, _ in known]
    assert toe == sorted(toe)
    assert len(set(toe)) == 4
    for foot, findings in known[1:]:
        assert not foot.measured
        assert [f.severity for f in findings] == ["warning"]
        assert "Measure with a ruler" in findings[0].remedy
        assert "sensor's distance to the tip of the shoe" in findings[0].message


def test_without_anything_an_adults_average_is_used_and_said() -> None:
    foot, (finding,) = geometry()
    assert 0.26 < foot.to_toe + foot.to_heel < 0.31
    assert "an adult's average" in finding.message


def test_a_sensor_behind_the_heel_is_a_contradiction() -> None:
    foot, findings = geometry(foot_sensor={"to_toe_mm": 300, "above_ground_mm": 75}, shoe={"outsole_mm": 285})
    assert "geometry-contradiction" in [f.code for f in findings]
    assert "behind the heel" in findings[0].message
    assert foot.to_toe == pytest.approx(0.3)
    assert foot.to_heel > 0


def test_a_long_distance_to_the_toe_lengthens_an_average_shoe() -> None:
    foot, _ = geometry(foot_sensor={"to_toe_mm": 260, "above_ground_mm": 75})
    assert foot.to_heel > 0.1


# From the size rules with a last 15 mm longer than the foot (REFERENCES, section D: the rules from memory, these values
# derived there): 260 mm is EU 41.25, UK 7.48, US 8.48; 280 mm is 44.25, 9.84, 10.84.
@pytest.mark.parametrize(
    ("size", "system", "foot_mm"),
    [
        (41.25, "EU", 260),
        (7.48, "UK", 260),
        (8.48, "US-men", 260),
        (44.25, "EU", 280),
        (9.84, "UK", 280),
        (10.84, "US-men", 280),
        (260, "mondopoint", 260),
    ],
)
def test_sizes_give_the_foot_they_are_made_for(size: float, system: Any, foot_mm: float) -> None:
    length, se = last_length(size, system)
    assert length == pytest.approx(foot_mm + 15, abs=0.1)
    assert 5 <= se <= 9


def test_womens_sizes_are_some_one_and_a_half_above_mens() -> None:
    assert last_length(10, "US-women")[0] == pytest.approx(last_length(8.5, "US-men")[0])
