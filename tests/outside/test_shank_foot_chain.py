"""The whole chain on both shanks and feet of one real walk: is it a walk, and is the ankle an ankle.

The set holds no accurate reference, so the bounds are those of plausibility. REFERENCES B: stance 60 to 62 % (S; this
walk is slow, 0.9 m/s, and stance then longer: M), ankle -15 to +10 deg (S), shank reclined by 20 to 25 deg at contact
(M).
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from typing import get_args

import numpy as np
import pandas as pd
import pytest

from firstrocker.chain import align, analyse, analyse_side
from firstrocker.model import FootGeometry, Person, Side, WalkInfo, WalkLogs
from firstrocker.settings import Settings
from outside import shank_foot_orientation as recorded
from shared_data import DATA, needs

FOLDER = DATA / "shank_foot_orientation"
pytestmark = needs("shank_foot_orientation")

PERSON = Person("X1", "1", "left", FootGeometry(0.15, 0.12, 0.07, measured=False))


@cache
def walk() -> WalkLogs:
    return WalkLogs(WalkInfo("a", "unbraced"), recorded.logs(FOLDER))


@cache
def strides() -> pd.DataFrame:
    result = analyse(PERSON, [walk()], settings=Settings())
    assert result.status != "rejected"
    return result.strides.to_pandas()


def test_left_and_right_steps_take_turns() -> None:
    """All sensors share a clock, so one foot's contact lies between two of the other's."""
    heel = {side: part["heel_strike_s"].to_numpy() for side, part in strides().groupby("side")}
    assert min(len(instants) for instants in heel.values()) >= 9
    order = sorted((instant, side) for side, instants in heel.items() for instant in instants)
    sides = [side for _, side in order]
    assert all(a != b for a, b in pairwise(sides))


def test_shared_clocks_are_found_to_agree() -> None:
    signals = align(walk(), settings=Settings())
    for clock in signals.clocks:
        assert clock.matched
        assert abs(clock.offset_s) < 0.01


def test_no_seat_is_found_fault_with() -> None:
    result = analyse(PERSON, [walk()], settings=Settings())
    assert not {finding.code for finding in result.findings} & {"axes-unclear", "foot-points-aside"}
    assert all(check.likeness > 0.9 and abs(check.left_over) < 0.01 for check in result.evidence[0].checks)


def test_straight_strides_are_plausible() -> None:
    straight = strides()[strides()["left_out"] == ""]
    assert len(straight) >= 6
    for column, low, high in (
        ("stance_percent", 55.0, 70.0),
        ("stride_length_m", 1.1, 1.5),
        ("foot_pitch_heel_strike_deg", 10.0, 35.0),
        ("ankle_heel_strike_deg", -10.0, 10.0),
        ("ankle_peak_dorsiflexion_deg", 5.0, 20.0),
        ("shank_heel_strike_deg", -30.0, -12.0),
    ):
        assert straight[column].between(low, high).all(), (column, straight[column].tolist())


@pytest.mark.parametrize("side", get_args(Side))
def test_ankle_runs_as_by_the_makers_orientation(side: Side) -> None:
    """Its course, not its zero: the maker's axes are the sensors', ours are the foot's and the shank's."""
    signals = align(walk(), settings=Settings())
    data = analyse_side(PERSON, signals, side, settings=Settings()).data
    time, loose = recorded.maker_ankle(FOLDER, side)
    assert data.ankle is not None
    own = np.interp(time, signals.time, data.ankle)
    walking = (time > 7.0) & (time < 23.0) & np.isfinite(own)
    assert np.corrcoef(own[walking], loose[walking])[0, 1] > 0.8
    assert np.degrees(np.std(own[walking] - loose[walking])) < 6.0
