"""Seats that cannot be trusted are found fault with, and seats of good walks of every kind are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from firstrocker.chain import analyse
from firstrocker.gait.evidence import LEAST_PLANAR, MOST_HEADING_OFF, Seat, SideEvidence, seat_findings
from firstrocker.model import FloatArray, FootGeometry, Segment
from firstrocker.motion.axes import Mounting
from firstrocker.settings import Settings
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.trial import Trial, trial

FIRST_SEED = 9000
CODES = {"axes-unclear", "foot-points-aside"}


def codes(walk: Trial) -> set[str]:
    return {finding.code for finding in analyse(walk.person, [walk.logs], settings=Settings()).findings}


@pytest.mark.untraced
@pytest.mark.parametrize("place", range(len(GAITS)))
def test_good_walks_raise_no_alarm(place: int) -> None:
    kind = sorted(GAITS)[place]
    ring_hz, rock_deg = ((0.0, 0.0), (15.0, 0.0), (0.0, 0.35))[place % 3]
    walk = trial(kind, seed=FIRST_SEED + place, strides=8, ring_hz=ring_hz, rock_deg=rock_deg)
    result = analyse(walk.person, [walk.logs], settings=Settings())
    assert not {finding.code for finding in result.findings} & CODES
    (side,) = result.evidence[0].sides
    assert [seat.segment for seat in side.seats] == ["foot", "shank"]
    assert all(rest.used and rest.spans for rest in side.rests)
    assert side.flat > 10
    assert result.evidence[0].checks[0].likeness > 0.98


def mixed(walk: Trial, segment: Segment, columns: list[int], signs: list[float]) -> Trial:
    def wrong(rates: FloatArray) -> FloatArray:
        return np.asarray(rates[:, columns] * signs)

    logs = tuple(
        replace(log, angular_velocity=wrong(log.angular_velocity)) if log.segment == segment else log
        for log in walk.logs.logs
    )
    return replace(walk, logs=replace(walk.logs, logs=logs))


@pytest.mark.untraced
@pytest.mark.parametrize(
    ("columns", "signs"), [([2, 1, 0], [1, 1, 1]), ([1, 2, 0], [1, 1, 1]), ([0, 1, 2], [-1, -1, -1])]
)
def test_mixed_up_columns_of_the_foots_gyroscope_never_pass_unnoticed(columns: list[int], signs: list[float]) -> None:
    walk = mixed(trial("slap", seed=100, strides=8), "foot", columns, signs)
    warnings = codes(walk)
    assert warnings & (CODES | {"no-steady-stride", "strides-left-out", "toe-below-ground", "gyroscope-gain-unusable"})


def side_of(segment: Segment, planar: float, aside: float, *, declared: bool = False) -> SideEvidence:
    seat = Seat(segment, Mounting(np.eye(3), planar, float("nan"), declared), None)
    return SideEvidence("left", (seat,), (), 10, aside, FootGeometry(0.15, 0.1, 0.07))


@pytest.mark.parametrize("segment", ["foot", "shank"])
def test_no_sideways_axis_is_a_finding(segment: Segment) -> None:
    least = LEAST_PLANAR[segment]
    (found,) = seat_findings(side_of(segment, least - 0.02, float("nan")))
    assert (found.code, found.severity, found.segment, found.side) == ("axes-unclear", "warning", segment, "left")
    assert f"{100 * (least - 0.02):.0f} %" in found.message
    assert seat_findings(side_of(segment, least + 0.01, float("nan"))) == ()


@pytest.mark.parametrize(("sign", "word"), [(1.0, "left"), (-1.0, "right")])
def test_a_foot_that_points_aside_is_a_finding(sign: float, word: str) -> None:
    (found,) = seat_findings(side_of("foot", 0.95, sign * (MOST_HEADING_OFF + 0.1)))
    assert found.code == "foot-points-aside"
    assert f"36 deg to the {word}" in found.message
    assert seat_findings(side_of("foot", 0.95, sign * (MOST_HEADING_OFF - 0.1))) == ()


def test_declared_axes_are_the_users_own() -> None:
    assert seat_findings(side_of("foot", 0.5, 1.0, declared=True)) == ()


def test_a_toe_off_after_the_next_heel_strike_is_no_crash() -> None:
    walk = trial("normal", seed=101, strides=8)
    result = analyse(walk.person, [mixed(walk, "foot", [0, 1, 2], [-1.0, -1.0, -1.0]).logs], settings=Settings())
    assert result.status != "ok"
