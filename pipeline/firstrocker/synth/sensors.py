"""Sensors on a walker's foot and shank: what they would have logged, with their faults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray, Log, Segment, Side
from firstrocker.motion.integrate import at
from firstrocker.synth.chair import Table, on_table
from firstrocker.synth.rigid import Angles, segment_motion
from firstrocker.synth.smooth import slow_noise
from firstrocker.synth.walker import Leg, Walker, standing_weight

FOOT_SEAT = np.array([0.140, 0.0, 0.075])
"""m, on the laces: from the heel's lower edge forward, left, up."""
SHANK_SEAT = np.array([0.030, 0.020, 0.220])
"""m, outer front of the shank: from the ankle joint forward, away from the body, up."""


@dataclass(frozen=True)
class Mounting:
    """Where a sensor sits: ``offset`` (3,) m in segment axes of a left leg, ``seat`` (3, 3) segment-to-sensor rotation.

    A right leg's offset is the mirror image. Ringing: strap and soft tissue hold the sensor like a spring and a damper,
    so that it swings at ``ring_hz`` (0: it does not) with the damping ratio ``ring_damping`` after a shock. Rocking: it
    turns about its centre by some ``rock_deg`` (standard deviation per axis) as shoe and skin give in walking, a new
    course every ``rock_s``; in standing by a tenth of that.
    """

    offset: FloatArray
    seat: FloatArray = field(default_factory=lambda: np.eye(3))
    ring_hz: float = 0.0
    ring_damping: float = 0.15
    rock_deg: float = 0.0
    rock_s: float = 0.09


@dataclass(frozen=True)
class Quality:
    """How good a sensor is; every ``sd`` is drawn once per log but for the noise, which is drawn for every sample.

    Rates in deg/s, accelerations in m/s^2, scale and cross-axis as shares, ``g_sensitivity`` in deg/s per m/s^2,
    ranges as the greatest value, bandwidth as a share of the rate, clock in s and ppm, ``jitter_s`` of each time
    stamp, ``lost`` share of samples missing in bursts of some samples. ``delayed``: the part's low-pass filter is a
    causal one (second order), whose values come late by ``0.23 / bandwidth`` sample intervals and nobody makes up for
    it; else it delays nothing.
    """

    rate_hz: float = 100.0
    gyro_noise: float = 0.1
    gyro_bias: float = 0.5
    gyro_scale: float = 0.005
    gyro_range: float = 2000.0
    g_sensitivity: float = 0.005
    accel_noise: float = 0.03
    accel_bias: float = 0.05
    accel_scale: float = 0.005
    accel_range: float = 16.0 * STANDARD_GRAVITY
    cross_axis: float = 0.003
    bandwidth: float = 0.4
    delayed: bool = False
    clock_offset_s: float = 0.0
    clock_drift_ppm: float = 0.0
    jitter_s: float = 0.0
    lost: float = 0.0
    steps: int = 32768


PERFECT = Quality(
    gyro_noise=0.0,
    gyro_bias=0.0,
    gyro_scale=0.0,
    g_sensitivity=0.0,
    accel_noise=0.0,
    accel_bias=0.0,
    accel_scale=0.0,
    cross_axis=0.0,
    steps=0,
)
ORDINARY = Quality()
CHEAP = Quality(
    gyro_noise=0.3, gyro_bias=3.0, gyro_range=500.0, accel_noise=0.06, accel_bias=0.1, accel_range=8 * STANDARD_GRAVITY
)
QUALITIES: Mapping[str, Quality] = MappingProxyType({"perfect": PERFECT, "ordinary": ORDINARY, "cheap": CHEAP})


def random_seat(rng: np.random.Generator) -> FloatArray:
    """(3, 3) any rotation, all equally likely (from the QR decomposition of a Gaussian matrix)."""
    q, r = np.linalg.qr(rng.standard_normal((3, 3)))
    q = q * np.sign(np.diag(r))
    return q if np.linalg.det(q) > 0 else -q


def ideal(leg: Leg, segment: Segment, offset: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Specific force m/s^2 and angular velocity rad/s, (n, 3) in segment axes, at a point of the segment."""
    body = leg.foot if segment == "foot" else leg.shank
    mirrored = offset * np.array([1.0, 1.0 if leg.side == "left" else -1.0, 1.0])
    acceleration = body.point(mirrored)[2]
    return body.to_segment(acceleration + np.array([0.0, 0.0, STANDARD_GRAVITY])), body.angular_velocity


def record(
    walker: Walker,
    segment: Segment,
    side: Side,
    mounting: Mounting,
    quality: Quality = ORDINARY,
    *,
    seed: int,
    start_s: float = 0.0,
    table: Table | None = None,
) -> Log:
    """What a sensor logs of a walk.

    Args:
        walker: who walks.
        segment: foot or shank.
        side: of which leg.
        mounting: where and how the sensor sits.
        quality: how good it is.
        seed: of its faults.
        start_s: s of the walker's time at which the log begins.
        table: where it lies at first; None: it is worn throughout.

    Returns:
        The log on the sensor's own clock, in sensor axes. A sample taken at walker time t carries the time stamp
        ``(t - start_s) (1 + drift) + offset``.
    """
    from scipy.signal import butter, sosfiltfilt

    later = np.random.default_rng([seed, 1])  # apart, so that rocking leaves the other faults as they are
    rng = np.random.default_rng(seed)
    force, rate = ideal(walker.legs[side], segment, mounting.offset)
    fine_hz = 1.0 / (walker.time[1] - walker.time[0])
    if mounting.ring_hz:
        force = _ringing(force, mounting, fine_hz)
    if mounting.rock_deg:
        force, rate = _rocking(force, rate, walker, mounting, later)
    if table is not None:
        force, rate = on_table(force, rate, walker.time, table, later)
    if quality.bandwidth * quality.rate_hz < 0.45 * fine_hz:
        low = butter(2, quality.bandwidth * quality.rate_hz, fs=fine_hz, output="sos")
        if quality.delayed:
            force, rate = _causal(low, force), _causal(low, rate)
        else:
            force, rate = sosfiltfilt(low, force, axis=0), sosfiltfilt(low, rate, axis=0)
    count = int((walker.time[-1] - start_s) * quality.rate_hz)
    time = start_s + np.arange(count) / quality.rate_hz
    force, rate = at(force, time * fine_hz), at(rate, time * fine_hz)
    force, rate = force @ mounting.seat.T, rate @ mounting.seat.T
    degree = np.pi / 180.0
    rate = rate + force * (quality.g_sensitivity * degree * rng.standard_normal(3))
    force = _faulty(force, quality.accel_scale, quality.accel_bias, quality.accel_noise, quality, rng)
    rate = _faulty(rate, quality.gyro_scale, quality.gyro_bias * degree, quality.gyro_noise * degree, quality, rng)
    force = _limited(force, quality.accel_range, quality.steps)
    rate = _limited(rate, quality.gyro_range * degree, quality.steps)
    stamp = (time - start_s) * (1.0 + 1e-6 * quality.clock_drift_ppm) + quality.clock_offset_s
    if quality.jitter_s:
        stamp = stamp + np.clip(
            quality.jitter_s * rng.standard_normal(count), -0.4 / quality.rate_hz, 0.4 / quality.rate_hz
        )
    kept = _kept(count, quality.lost, rng)
    return Log(
        segment,
        side,
        stamp[kept],
        force[kept],
        rate[kept],
        declared_rate_hz=quality.rate_hz,
        source=f"{side} {segment} of a simulated walker",
    )


def _faulty(
    values: FloatArray, scale: float, bias: float, noise: float, quality: Quality, rng: np.random.Generator
) -> FloatArray:
    matrix = np.eye(3) + np.diag(scale * rng.standard_normal(3))
    matrix = matrix + quality.cross_axis * rng.standard_normal((3, 3)) * (1.0 - np.eye(3))
    return np.asarray(values @ matrix.T + bias * rng.standard_normal(3) + noise * rng.standard_normal(values.shape))


def _limited(values: FloatArray, greatest: float, steps: int) -> FloatArray:
    values = np.clip(values, -greatest, greatest)
    return values if not steps else np.asarray(np.round(values * (steps / greatest)) * (greatest / steps))


def _kept(count: int, lost: float, rng: np.random.Generator) -> BoolArray:
    """Mask of the samples that arrive: bursts of one to six are lost; first and last arrive."""
    kept = np.ones(count, dtype=np.bool_)
    while (~kept).mean() < lost:
        first = int(rng.integers(1, count - 8))
        kept[first : first + int(rng.integers(1, 7))] = False
    return kept


def _causal(low: FloatArray, values: FloatArray) -> FloatArray:
    """A low-pass filter that knows no future, from a steady beginning."""
    from scipy.signal import sosfilt, sosfilt_zi

    start = sosfilt_zi(low)[:, :, None] * values[0]
    return np.asarray(sosfilt(low, values, axis=0, zi=start)[0])


def _ringing(force: FloatArray, mounting: Mounting, fine_hz: float) -> FloatArray:
    """Specific force on a mass that a spring and a damper hold to the segment: the base's times their transmissibility.

    With base acceleration ``a`` the mass feels ``a (2 z w s + w^2) / (s^2 + 2 z w s + w^2)``; gravity passes as it is.
    """
    from scipy.signal import bilinear, lfilter, lfilter_zi

    w = 2.0 * fine_hz * np.tan(np.pi * mounting.ring_hz / fine_hz)  # so that the bilinear map keeps the resonance
    drag = 2.0 * mounting.ring_damping * w
    above, below = bilinear([drag, w * w], [1.0, drag, w * w], fs=fine_hz)
    start = lfilter_zi(above, below)[:, None] * force[0]
    return np.asarray(lfilter(above, below, force, axis=0, zi=start)[0])


def _rocking(
    force: FloatArray, rate: FloatArray, walker: Walker, mounting: Mounting, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Force and rate in a sensor that turns about its own centre against the segment."""
    time = walker.time
    loose = 1.0 - 0.9 * standing_weight(time, walker.standing)
    noise = [loose * np.deg2rad(slow_noise(rng, time, every_s=mounting.rock_s, sd=mounting.rock_deg)) for _ in range(3)]
    turned, _, _ = segment_motion(time, Angles(*noise), np.zeros((time.size, 3)))
    return turned.to_segment(force), turned.to_segment(rate) + turned.angular_velocity
