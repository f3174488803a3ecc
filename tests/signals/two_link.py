"""Foot and shank as two rigid bodies that share the ankle: signals with a known truth for the tests of `signals`.

An invented walk, built from piecewise smooth curves; it resembles walking only as far as clocks and readers need it to.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator
from scipy.ndimage import gaussian_filter1d
from scipy.spatial.transform import Rotation

from firstrocker.model import FloatArray, Log, Segment, Side

DENSE_HZ = 1000.0
GRAVITY = np.array([0.0, 0.0, 9.80665])

# Percent of stride from heel strike, degrees.
FOOT_PITCH = [(0, 20), (9, 0), (36, 0), (50, -18), (62, -60), (72, -35), (85, 5), (95, 22), (100, 20)]
SHANK_ANGLE = [(0, -20), (9, -8), (20, 3), (36, 13), (50, 28), (62, 45), (70, 50), (82, 18), (93, -20), (100, -20)]
HEEL_BEHIND, TOE_AHEAD, ANKLE_HEIGHT = 0.06, 0.19, 0.08


@dataclass(frozen=True)
class Sensor:
    """What one sensor feels, dense, on true time: splines of specific force and angular velocity in sensor axes."""

    specific_force: CubicSpline
    angular_velocity: CubicSpline
    end_s: float


@dataclass(frozen=True)
class Body:
    """Dense motion of one segment: world position of its origin (the ankle) and segment-to-world rotation."""

    time: FloatArray
    ankle: FloatArray
    rotation: Rotation

    def sensor(self, lever: FloatArray, mounting: Rotation) -> Sensor:
        """A sensor fixed at ``lever`` from the ankle, segment axes; ``mounting`` takes sensor axes to segment axes."""
        position = CubicSpline(self.time, self.ankle + self.rotation.apply(lever))
        acceleration = position(self.time, 2)
        to_sensor = (self.rotation * mounting).inv()
        force = to_sensor.apply(acceleration + GRAVITY)
        turn = (self.rotation[:-1].inv() * self.rotation[1:]).as_rotvec() * DENSE_HZ
        middle = 0.5 * (self.time[1:] + self.time[:-1])
        rate = mounting.inv().apply(CubicSpline(middle, turn)(self.time))
        return Sensor(CubicSpline(self.time, force), CubicSpline(self.time, rate), float(self.time[-1]))


def walk(*, strides: int = 30, seed: int = 0, stand_s: float = 3.0, stride_s: float = 1.15) -> tuple[Body, Body]:
    """Foot and shank of one leg: standing, ``strides`` strides with a turn half-way, standing."""
    rng = np.random.default_rng(seed)
    durations = stride_s * (1 + 0.03 * rng.standard_normal(strides))
    starts = stand_s + np.concatenate([[0.0], np.cumsum(durations)])
    end = starts[-1] + stand_s
    time = np.arange(0.0, end, 1.0 / DENSE_HZ)
    pitch_t, pitch, shank_t, shank = [0.0], [0.0], [0.0], [0.0]
    step_t, step_x, lift_t, lift = [0.0], [0.0], [0.0], [0.0]
    for start, duration in zip(starts[:-1], durations, strict=True):
        size = 1 + 0.05 * rng.standard_normal(3)

        # A stride runs here from mid-stance to mid-stance, so that it starts and ends at rest.
        def at(percent: float, start: float = float(start), duration: float = float(duration)) -> float:
            return start + duration * ((percent - 20.0) % 100.0) / 100.0

        order = sorted((at(p), v) for p, v in FOOT_PITCH[:-1])
        pitch_t += [t for t, _ in order]
        pitch += [v * size[0] for _, v in order]
        order = sorted((at(p), v) for p, v in SHANK_ANGLE[:-1])
        shank_t += [t for t, _ in order]
        shank += [(v - 3) * size[1] for _, v in order]
        step_t += [at(60), at(72), at(88), at(100 - 1e-6)]
        step_x += [step_x[-1] + size[2] * s for s in (0.0, 0.3, 1.15, 1.3)]
        lift_t += [at(60), at(72), at(82), at(90), at(100 - 1e-6)]
        lift += [0.0, 0.05, 0.01, 0.03, 0.0]
    hold = [end - stand_s, end + 1.0]

    def curve(times: list[float], values: list[float], last: float, smooth_s: float = 0.012) -> FloatArray:
        raw = PchipInterpolator([*times, *hold], [*values, last, last])(time)
        return np.asarray(gaussian_filter1d(raw, smooth_s * DENSE_HZ, mode="nearest"))

    foot_pitch = np.deg2rad(curve(pitch_t, pitch, 0.0))
    shank_angle = np.deg2rad(curve(shank_t, shank, 0.0))
    forward = curve(step_t, step_x, step_x[-1])
    lifted = curve(lift_t, lift, 0.0)
    heading = np.deg2rad(180.0) * 0.5 * (1 + np.tanh((time - 0.5 * end) / 0.8))
    wobble = gaussian_filter1d(rng.standard_normal((len(time), 3)), 0.12 * DENSE_HZ, axis=0)
    moving = curve([starts[0]], [1.0], 0.0, 0.1) * (time > starts[0])
    wobble *= np.deg2rad(2.0) / wobble.std() * gaussian_filter1d(moving, 0.2 * DENSE_HZ)[:, None]
    foot_turn = Rotation.from_euler("ZYX", np.column_stack([heading, -foot_pitch, wobble[:, 0]]))
    shank_turn = Rotation.from_euler("ZYX", np.column_stack([heading + wobble[:, 2], shank_angle, wobble[:, 1]]))
    # The foot rolls over its heel with toes up and over its toe with toes down.
    share = 0.5 * (1 + np.tanh(foot_pitch / 0.05))
    pivot = TOE_AHEAD - share * (TOE_AHEAD + HEEL_BEHIND)
    flat = np.zeros((len(time), 3))
    flat[:, 0] = pivot
    flat[:, 2] = -ANKLE_HEIGHT
    place = np.zeros((len(time), 3))
    place[:, 0] = np.cumsum(np.gradient(forward) * np.cos(heading)) + pivot * np.cos(heading)
    place[:, 1] = np.cumsum(np.gradient(forward) * np.sin(heading)) + pivot * np.sin(heading)
    place[:, 2] = lifted
    ankle = gaussian_filter1d(place - foot_turn.apply(flat), 0.006 * DENSE_HZ, axis=0, mode="nearest")
    return Body(time, ankle, foot_turn), Body(time, ankle, shank_turn)


def record(
    sensor: Sensor,
    *,
    rate_hz: float,
    segment: Segment = "foot",
    side: Side = "left",
    start_s: float = 0.0,
    stop_s: float | None = None,
    clock_offset_s: float = 0.0,
    clock_drift_ppm: float = 0.0,
    lost_share: float = 0.0,
    noise: tuple[float, float] = (0.05, 0.003),
    bias: tuple[float, float] = (0.05, 0.01),
    gain: float = 1.0,
    seed: int = 1,
) -> Log:
    """A log of it: samples at ``rate_hz`` of the sensor's own clock: offset + (1 + drift) * true time."""
    rng = np.random.default_rng(seed)
    stop = sensor.end_s if stop_s is None else stop_s
    scale = 1 + clock_drift_ppm * 1e-6
    own = np.arange(np.ceil((stop - start_s) * scale * rate_hz)) / rate_hz + start_s * scale
    true = own / scale
    own, true = own[true <= sensor.end_s], true[true <= sensor.end_s]
    keep = rng.random(len(true)) >= lost_share
    keep[[0, -1]] = True
    n = len(true)
    acceleration = gain * sensor.specific_force(true) + noise[0] * rng.standard_normal((n, 3))
    rate = sensor.angular_velocity(true) + noise[1] * rng.standard_normal((n, 3))
    acceleration += bias[0] * rng.standard_normal(3)
    rate += bias[1] * rng.standard_normal(3)
    return Log(segment, side, own[keep] + clock_offset_s, acceleration[keep], rate[keep], source=f"{side} {segment}")


def leg(*, strides: int = 30, seed: int = 0) -> tuple[Sensor, Sensor]:
    """A foot sensor on the laces and a shank sensor on the side of the calf, each at its own odd angle."""
    rng = np.random.default_rng(seed + 100)
    foot, shank = walk(strides=strides, seed=seed)
    return (
        foot.sensor(np.array([0.09, 0.01, -0.01]), Rotation.random(rng=rng)),
        shank.sensor(np.array([0.01, 0.05, 0.22]), Rotation.random(rng=rng)),
    )
