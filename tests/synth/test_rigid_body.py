"""The walkers' specific force and angular rate against an independent rigid-body engine, MuJoCo.

A free body is put into the walker's pose, velocity and acceleration at single instants; MuJoCo's inverse dynamics then
fill its accelerometer and gyro sensors at a site that sits off the body's origin and is turned against it. Nothing of
this project computes the reference.
"""

from collections.abc import Iterator

import mujoco
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from firstrocker.model import STANDARD_GRAVITY, FloatArray, Segment
from firstrocker.synth.gaits import GAITS
from firstrocker.synth.rigid import SegmentMotion
from firstrocker.synth.sensors import FOOT_SEAT, SHANK_SEAT, ideal
from firstrocker.synth.walker import walk

SEAT = Rotation.from_euler("xyz", [40.0, -25.0, 70.0], degrees=True)


def engine(offset: FloatArray) -> tuple[mujoco.MjModel, mujoco.MjData]:
    w, x, y, z = SEAT.as_quat(scalar_first=True)
    text = f"""
    <mujoco>
      <option gravity="0 0 -{STANDARD_GRAVITY}" timestep="0.001"/>
      <worldbody>
        <body name="segment">
          <freejoint/>
          <inertial pos="0.02 -0.01 0.03" mass="1.2" diaginertia="0.01 0.02 0.015"/>
          <site name="sensor" pos="{offset[0]} {offset[1]} {offset[2]}" quat="{w} {x} {y} {z}"/>
        </body>
      </worldbody>
      <sensor><accelerometer site="sensor"/><gyro site="sensor"/></sensor>
    </mujoco>"""
    model = mujoco.MjModel.from_xml_string(text)
    return model, mujoco.MjData(model)


def measured(motion: SegmentMotion, offset: FloatArray, samples: FloatArray) -> Iterator[tuple[FloatArray, FloatArray]]:
    """MuJoCo's accelerometer and gyro at the given samples."""
    model, data = engine(offset)
    for k in samples:
        data.qpos[:3] = motion.position[k]
        data.qpos[3:] = Rotation.from_matrix(motion.rotation[k]).as_quat(scalar_first=True)
        # A free joint's linear velocity is the world's, its angular velocity the body's own.
        data.qvel[:] = np.concatenate([motion.velocity[k], motion.angular_velocity[k]])
        data.qacc[:] = np.concatenate([motion.acceleration[k], motion.angular_acceleration[k]])
        mujoco.mj_inverse(model, data)
        yield data.sensordata[:3].copy(), data.sensordata[3:].copy()


@pytest.mark.parametrize("kind", ["normal", "slap", "forefoot", "hemiparetic"])
@pytest.mark.parametrize("segment", ["foot", "shank"])
def test_forces_and_rates_are_mujocos(kind: str, segment: Segment) -> None:
    walker = walk(GAITS[kind], seed=3, strides=3, bouts=1)
    leg = walker.leg()
    offset = FOOT_SEAT if segment == "foot" else SHANK_SEAT
    force, rate = ideal(leg, segment, offset)
    samples = np.linspace(0, len(walker.time) - 1, 400).astype(int)
    motion = leg.foot if segment == "foot" else leg.shank
    reference = list(measured(motion, offset, samples))
    # Both sides are algebra on the same pose and derivatives: they agree to rounding, relative to 100 m/s^2.
    found = SEAT.inv().apply(force[samples]), SEAT.inv().apply(rate[samples])
    assert np.abs(found[0] - np.array([f for f, _ in reference])).max() < 1e-9 * 100.0
    assert np.abs(found[1] - np.array([w for _, w in reference])).max() < 1e-9 * 10.0


@pytest.mark.parametrize("segment", ["foot", "shank"])
def test_derivatives_are_those_of_the_poses(segment: Segment) -> None:
    # The engine cannot tell whether velocity and acceleration belong to the poses; plain differences can.
    walker = walk(GAITS["slap"], seed=5, strides=3, bouts=1, fine_rate_hz=2000.0)
    motion = walker.leg().foot if segment == "foot" else walker.leg().shank
    step = walker.time[1] - walker.time[0]
    inner = slice(10, -10)
    velocity = np.gradient(motion.position, step, axis=0)
    acceleration = np.gradient(motion.velocity, step, axis=0)
    turning = Rotation.from_matrix(motion.rotation)
    spin = (turning[:-2].inv() * turning[2:]).as_rotvec() / (2 * step)
    # Central differences are wrong by a sixth of the third derivative times the step squared: some 1e4 m/s^4 and
    # 1e5 rad/s^4 at a contact of 10 ms, times 4e-8 s^2.
    assert np.abs(velocity - motion.velocity)[inner].max() < 1e-3
    assert np.abs(acceleration - motion.acceleration)[inner].max() < 0.02 * np.abs(motion.acceleration).max()
    assert np.abs(spin - motion.angular_velocity[1:-1])[inner].max() < 0.01
