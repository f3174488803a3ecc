"""Foot and shank against the exact movement, per kind of gait."""

import numpy as np
import pytest

from firstrocker.model import FloatArray, Segment
from firstrocker.motion.orientation import FILTERS
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import FOOT_SEAT, ORDINARY, SHANK_SEAT, random_seat
from motion.walked import analysed

pytestmark = pytest.mark.untraced


@pytest.mark.parametrize("kind", sorted(GAITS))
def test_angles_and_heights_through_the_whole_walk(kind: str) -> None:
    made = analysed(kind, seed=31, quality=ORDINARY, strides=8)
    leg, foot, shank = made.walker.leg(), made.foot, made.shank
    inside = slice(foot.anchors[0], foot.anchors[-1])
    fine = slice(foot.anchors[0] * 10, foot.anchors[-1] * 10, 10)
    pitch = np.degrees(foot.pitch[inside] - leg.pitch[fine])
    angle = np.degrees(shank.angle[inside] - leg.shank_angle[fine])
    rate = np.degrees(foot.pitch_rate[inside] - leg.pitch_rate[fine])
    assert np.sqrt(np.mean(pitch**2)) < 0.6
    # The shank's zero is how the person happened to stand.
    assert angle.std() < 0.5
    assert np.abs(angle.mean()) < 1.5
    assert rate.std() < 12.0
    height = foot.position[inside, 2] - (leg.foot.point(FOOT_SEAT)[0][fine, 2] + leg.shape.rest_depth)
    assert 1000.0 * np.sqrt(np.mean(height**2)) < 3.0


def test_the_ankle_is_found_from_the_shank_sensor() -> None:
    # The seat of the shank's sensor over the ankle joint is not told to the analysis.
    arm = analysed("normal", seed=8, quality=ORDINARY).shank.arm
    assert np.abs(arm - SHANK_SEAT)[[0, 2]].max() < 0.04


def test_axes_are_found_for_any_seat() -> None:
    rng = np.random.default_rng(5)
    for seed in range(3):
        seats: dict[Segment, FloatArray] = {"foot": random_seat(rng), "shank": random_seat(rng)}
        made = analysed("slap", seed=seed, quality=ORDINARY, seats=seats)
        for motion, seat in ((made.foot, seats["foot"]), (made.shank, seats["shank"])):
            off = motion.mounting.matrix @ seat
            assert np.degrees(np.arccos(np.clip((np.trace(off) - 1.0) / 2.0, -1.0, 1.0))) < 12.0


def test_anchoring_makes_the_choice_of_filter_matter_little() -> None:
    spread = {}
    for name in FILTERS:
        made = analysed("normal", seed=31, quality=ORDINARY, strides=8, filter_name=name)
        leg, foot = made.walker.leg(), made.foot
        inside = slice(foot.anchors[0], foot.anchors[-1])
        fine = slice(foot.anchors[0] * 10, foot.anchors[-1] * 10, 10)
        spread[name] = float(np.sqrt(np.mean(np.degrees(foot.pitch[inside] - leg.pitch[fine]) ** 2)))
    assert spread["vqf"] < 0.4, spread
    assert max(spread.values()) < 2.0, spread
