"""The whole chain on virtual sensors that move as markers did on a real walk, against the truth of that motion.

The sensors are faultless and the stride is said over and over, so this is a check of the method on a real foot's
motion, not of what a sensor on a person reaches.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd
import pytest
from scipy.spatial.transform import Rotation

from firstrocker.model import FloatArray, FootGeometry, Person, Side
from outside import virtual_walk, walk_markers
from shared_data import DATA, needs
from whole_chain import strides_of

FOLDER = DATA / "walk_markers"
pytestmark = needs("walk_markers")

WALKS: list[tuple[str, Side]] = [(name, side) for name in walk_markers.RECORDINGS for side in ("left", "right")]
STRIDES = 8


@dataclass(frozen=True)
class Checked:
    """A virtual walk and the steady strides found in it, with the number of the true contact each starts with."""

    truth: virtual_walk.VirtualWalk
    strides: pd.DataFrame
    contact: FloatArray

    def at(self, curve: FloatArray, instants: FloatArray) -> FloatArray:
        return np.interp(instants, self.truth.time, curve)

    def within(self, start: str, end: str) -> list[np.ndarray]:
        time = self.truth.time
        return [(time >= s[start]) & (time <= s[end]) for s in self.strides.to_dict("records")]


@cache
def checked(name: str, side: Side) -> Checked:
    mounting = Rotation.from_euler("xyz", [0.5, -0.9, 2.2]).as_matrix()
    trial = walk_markers.read_trial(FOLDER, name, side)
    truth = virtual_walk.walk(trial, strides=STRIDES, rate_hz=100.0, mounting=mounting)
    geometry = FootGeometry(
        to_toe=truth.to_toe_m, to_heel=walk_markers.FOOT_POINT[0], above_ground=truth.above_ground_m
    )
    person = Person("V1", "1", side, geometry, standing_shank_angle=truth.standing_shank_angle)
    found = strides_of(person, truth.logs)
    assert len(found) == STRIDES - 1
    steady = found[found["steady"]].reset_index(drop=True)
    assert len(steady) == STRIDES - 3
    number = np.abs(steady["heel_strike_s"].to_numpy()[:, None] - truth.contact).argmin(axis=1)
    return Checked(truth, steady, truth.contact[number])


def say(error: FloatArray) -> str:
    return f"bias {np.mean(error):.4g}, SD {np.std(error):.4g}"


@pytest.mark.parametrize(("name", "side"), WALKS)
def test_contact_and_foot_off_against_the_force_plates(name: str, side: Side) -> None:
    """Plate threshold 20 N. The markers' low-pass spreads the shock that heel strike is known by."""
    walk = checked(name, side)
    heel = walk.strides["heel_strike_s"].to_numpy() - walk.contact
    off = walk.strides["toe_off_s"].to_numpy()
    toe = off - walk.truth.off[np.abs(off[:, None] - walk.truth.off).argmin(axis=1)]
    assert abs(heel.mean()) < 0.020, say(heel)
    assert abs(toe.mean()) < 0.025, say(toe)


@pytest.mark.parametrize(("name", "side"), WALKS)
def test_stride_length(name: str, side: Side) -> None:
    walk = checked(name, side)
    error = walk.strides["stride_length_m"].to_numpy() - walk.truth.advance_m
    assert abs(error.mean()) < 0.015, say(error)


@pytest.mark.parametrize(("name", "side"), WALKS)
def test_least_height_of_the_toe(name: str, side: Side) -> None:
    """The ground point under the toe marker, over the ground: its least height in the middle half of swing."""
    walk = checked(name, side)
    errors = []
    for stride in walk.strides.to_dict("records"):
        swing = stride["next_heel_strike_s"] - stride["toe_off_s"]
        inside = (walk.truth.time > stride["toe_off_s"] + 0.25 * swing) & (
            walk.truth.time < stride["toe_off_s"] + 0.75 * swing
        )
        errors.append(stride["toe_clearance_min_mm"] - 1e3 * walk.truth.toe_height[inside].min())
    assert abs(np.mean(errors)) < 5.0, say(np.array(errors))


@pytest.mark.parametrize(("name", "side"), WALKS)
@pytest.mark.parametrize(
    ("column", "curve", "event"),
    [
        ("foot_pitch_heel_strike_deg", "foot_pitch", "heel_strike_s"),
        ("foot_pitch_toe_off_deg", "foot_pitch", "toe_off_s"),
        ("ankle_heel_strike_deg", "ankle", "heel_strike_s"),
        ("ankle_foot_flat_deg", "ankle", "foot_flat_s"),
        ("shank_heel_strike_deg", "shank_angle", "heel_strike_s"),
        ("shank_foot_flat_deg", "shank_angle", "foot_flat_s"),
    ],
)
def test_angles_at_the_instants_found(name: str, side: Side, column: str, curve: str, event: str) -> None:
    walk = checked(name, side)
    truth = np.degrees(walk.at(getattr(walk.truth, curve), walk.strides[event].to_numpy()))
    error = walk.strides[column].to_numpy() - truth
    assert np.sqrt(np.mean(error**2)) < 2.0, say(error)


@pytest.mark.parametrize(("name", "side"), WALKS)
@pytest.mark.parametrize(
    ("column", "curve", "start", "end", "sign"),
    [
        ("slap_rate_deg_s", "ankle_rate", "heel_strike_s", "foot_flat_s", -1.0),
        ("foot_lowering_rate_deg_s", "foot_pitch_rate", "heel_strike_s", "foot_flat_s", -1.0),
        ("push_off_rate_deg_s", "ankle_rate", "heel_off_s", "toe_off_s", -1.0),
        ("shank_forward_rate_deg_s", "shank_rate", "heel_strike_s", "foot_flat_s", 1.0),
    ],
)
def test_peak_rates_between_the_instants_found(
    name: str, side: Side, column: str, curve: str, start: str, end: str, sign: float
) -> None:
    walk = checked(name, side)
    course = sign * np.degrees(getattr(walk.truth, curve))
    truth = np.array([course[inside].max() for inside in walk.within(start, end)])
    part = walk.strides[column].to_numpy() / truth - 1.0
    assert abs(part.mean()) < 0.10, f"{say(part)} of {truth.mean():.0f} deg/s"
