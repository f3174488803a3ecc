"""Walks over ramps and stairs: rigid bodies on the ground they are said to be on."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import FOOT_SEAT, ideal
from firstrocker.synth.terrain import Ground, Lift, Section, ground_of
from firstrocker.synth.truth import truth_of
from firstrocker.synth.walker import Walker, walk
from synth.test_rigid_body import SEAT, measured

ROUTE = (
    Section("level", 2),
    Section("ramp", 3, slope_deg=6.0),
    Section("level", 2),
    Section("stairs", 3, riser_m=-0.17),
    Section("level", 2),
    Section("stairs", 3, riser_m=0.16, together=True),
    Section("level", 2),
)


@pytest.fixture(scope="module")
def walker() -> Walker:
    return walk(GAITS["slap"], seed=4, bouts=1, turns=(), terrain=ROUTE)


def test_forces_and_rates_are_mujocos(walker: Walker) -> None:
    force, rate = ideal(walker.leg(), "foot", FOOT_SEAT)
    samples = np.linspace(0, len(walker.time) - 1, 200).astype(int)
    reference = list(measured(walker.leg().foot, FOOT_SEAT, samples))
    found = SEAT.inv().apply(force[samples]), SEAT.inv().apply(rate[samples])
    assert np.abs(found[0] - np.array([f for f, _ in reference])).max() < 1e-9 * 100.0
    assert np.abs(found[1] - np.array([w for _, w in reference])).max() < 1e-9 * 10.0


def test_a_foot_stands_on_its_ground_and_goes_nowhere_through_it(walker: Walker) -> None:
    leg = walker.leg()
    assert leg.heel_low.min() > -0.010
    assert min(leg.toe_height.min(), leg.ball_height.min()) > -0.012
    slope = np.radians(6.0)
    for before, after in zip(leg.swings, leg.swings[1:], strict=False):
        inside = (leg.time > before.resting) & (leg.time < after.heel_off - 0.01)
        tilted = slope if any(before.goal.lift.tilt) else 0.0
        # Feet creep by fractions of a degree, and point some 7 deg outwards of the ramp's way.
        assert np.degrees(np.abs(leg.pitch[inside] - tilted)).max() < 0.5
        assert np.linalg.norm(leg.foot.velocity[inside], axis=1).max() < 0.02


def test_strides_rise_as_their_ground_does(walker: Walker) -> None:
    rows = truth_of(walker).strides
    kinds = {str(row["ground"]) for row in rows}
    assert kinds == {"level", "up", "mixed", "stairs_up", "stairs_down"}
    for before, row in zip((None, *rows), rows, strict=False):
        rise, length = float(row["rise_m"]), float(row["stride_length_m"])
        if row["ground"] == "level":
            assert abs(rise) < 0.001
            # A stride's loading is that of the landing before: off a ramp or stairs it does not count either.
            uneven = before is not None and before["ground"] != "level"
            assert (row["left_out"] in ("", "first", "last")) != uneven
        elif row["ground"] == "up":
            assert rise / length == pytest.approx(np.tan(np.radians(6.0)), abs=0.003)
            assert row["left_out"] == "slope"
            assert float(row["toe_clearance_min_mm"]) > 0.0
        elif row["ground"] == "stairs_down":
            assert min(abs(rise + 0.17), abs(rise + 0.34)) < 0.001
            assert np.isnan(float(row["toe_clearance_min_mm"]))
        elif row["ground"] == "stairs_up":
            assert abs(rise - 0.16) < 0.001


def test_level_sections_are_a_level_walk() -> None:
    plain = walk(GAITS["normal"], seed=8, strides=3, bouts=1, turns=())
    said = walk(GAITS["normal"], seed=8, bouts=1, turns=(), terrain=(Section("level", 3),))
    assert np.allclose(plain.leg().foot.position, said.leg().foot.position, atol=1e-12)
    assert np.allclose(plain.leg().foot.acceleration, said.leg().foot.acceleration, atol=1e-6)


@settings(max_examples=40, deadline=None)
@given(slope=st.floats(-10, 10), heading=st.floats(-3, 3), steps=st.lists(st.floats(0.1, 1.0), min_size=1, max_size=6))
def test_a_ramp_rises_by_its_slope_and_keeps_lengths(slope: float, heading: float, steps: list[float]) -> None:
    ground = Ground((Section("ramp", 9, slope_deg=slope),))
    lifts = [Lift(), *(ground.go(0, heading, advance) for advance in steps)]
    gained = np.array(lifts[-1].real)
    assert np.linalg.norm(gained) == pytest.approx(sum(steps))
    assert gained[2] == pytest.approx(sum(steps) * np.sin(np.radians(slope)), abs=1e-9)
    if len(lifts) > 2 and abs(slope) > 0.5:
        assert ground_of(lifts[-2], lifts[-1]) == ("up" if slope > 0.0 else "down")
