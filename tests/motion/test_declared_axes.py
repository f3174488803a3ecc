"""A declared mounting gives what the found one gives, and is levelled by gravity."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from firstrocker.synth.gaits import GAITS
from firstrocker.synth.sensors import ORDINARY, PERFECT, Mounting, record
from firstrocker.synth.walker import walk
from motion.walked import SEATED, follow, signal_of


@pytest.mark.parametrize("seat", [(0.0, 0.0, 0.0), (0.0, 0.0, 180.0), (90.0, 0.0, 90.0)])
def test_declared_and_found_axes_agree(seat: tuple[float, float, float]) -> None:
    walker = walk(GAITS["slap"], seed=6, strides=6, bouts=1)
    turn = Rotation.from_euler("xyz", seat, degrees=True).as_matrix()
    # The wearer declares the axes only as well as the sensor is strapped on: 8 deg off in pitch.
    slack = Rotation.from_euler("y", 8.0, degrees=True).as_matrix()
    logs = [
        record(walker, segment, "left", Mounting(offset, turn @ slack), ORDINARY, seed=3) for segment, offset in SEATED
    ]
    found = follow(walker, signal_of(logs[0]), signal_of(logs[1]), 100.0)
    signals = [replace(signal_of(log), mounting=turn.T) for log in logs]
    declared = follow(walker, signals[0], signals[1], 100.0)
    for a, b in zip(found.rows, declared.rows, strict=True):
        for name, tolerance in (
            ("foot_pitch_heel_strike_deg", 1.0),
            ("ankle_heel_strike_deg", 1.0),
            ("shank_foot_flat_deg", 1.0),
            ("slap_rate_deg_s", 15.0),
            ("toe_clearance_min_mm", 2.0),
        ):
            assert a[name] == pytest.approx(b[name], abs=tolerance), name


def test_a_shank_that_stood_inclined_is_measured_from_there() -> None:
    # A goniometer read 6 deg in standing: told so, the angles are right; untold, they are 6 deg too small throughout.
    walker = walk(GAITS["normal"], seed=7, strides=6, bouts=1, standing_shank_deg=6.0)
    logs = [record(walker, segment, "left", Mounting(offset), PERFECT, seed=3) for segment, offset in SEATED]
    signals = [signal_of(log) for log in logs]
    leg = walker.leg()
    for told, off in ((float(np.radians(6.0)), 0.0), (None, -6.0)):
        made = follow(walker, signals[0], signals[1], 100.0, standing_angle=told)
        inside = slice(made.foot.anchors[0], made.foot.anchors[-1])
        fine = slice(made.foot.anchors[0] * 10, made.foot.anchors[-1] * 10, 10)
        error = np.degrees(made.shank.angle[inside] - leg.shank_angle[fine])
        assert error.mean() == pytest.approx(off, abs=0.8)
