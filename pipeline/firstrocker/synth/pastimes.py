"""What a leg does when it does not walk: sits, fidgets, pedals, is driven, sleeps; and a sensor that lies on a table.

All of it is invented, from how one imagines these to look; nobody was recorded. It is there to see what a screening for
walking lets through, and what it costs to ask whether a sensor was worn.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from firstrocker.model import STANDARD_GRAVITY, FloatArray, Segment
from firstrocker.synth.rigid import Angles, segment_motion
from firstrocker.synth.sensors import FOOT_SEAT, SHANK_SEAT
from firstrocker.synth.smooth import slow_noise, smooth_step

RATE_HZ = 100.0
DEGREE = np.pi / 180.0
Pair = tuple[FloatArray, FloatArray]
"""Specific force m/s^2 and angular velocity rad/s, (n, 3) each, segment axes."""


@dataclass(frozen=True)
class Pastime:
    """Some time without walking: what perfect sensors on foot and shank of one leg read, 100 times a second."""

    readings: Mapping[Segment, Pair]

    def __len__(self) -> int:
        return len(self.readings["foot"][0])


def _turned(pitch: FloatArray, roll: FloatArray, lever: FloatArray) -> Pair:
    """A segment that turns about a point at rest, read ``lever`` (3,) m away from it."""
    rates = [np.gradient(angle) * RATE_HZ for angle in (pitch, roll)]
    omega = np.column_stack([rates[1], -np.cos(roll) * rates[0], np.sin(roll) * rates[0]])
    alpha = np.gradient(omega, axis=0) * RATE_HZ
    up = np.column_stack([np.sin(pitch), np.cos(pitch) * np.sin(roll), np.cos(pitch) * np.cos(roll)])
    return STANDARD_GRAVITY * up + np.cross(alpha, lever) + np.cross(omega, np.cross(omega, lever)), omega


def _seated(time: FloatArray, lean: float) -> FloatArray:
    """1 while seated, 0 at both ends, where the person stands."""
    return lean * smooth_step(time, 1.0, 3.0) * (1.0 - smooth_step(time, time[-1] - 3.0, time[-1] - 1.0))


def sit(rng: np.random.Generator, seconds: float) -> Pastime:
    """Sitting with the feet on the floor; the shank leans back or forward by some 10 deg."""
    time = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    lean = _seated(time, float(rng.choice([-1.0, 1.0]) * rng.uniform(6.0, 18.0)) * DEGREE)
    sway = [DEGREE * slow_noise(rng, time, every_s=1.5, sd=sd) for sd in (0.15, 0.1, 0.05, 0.05)]
    return Pastime(
        {"foot": _turned(sway[2], sway[3], FOOT_SEAT), "shank": _turned(lean + sway[0], sway[1], SHANK_SEAT)}
    )


def fidget(rng: np.random.Generator, seconds: float) -> Pastime:
    """Sitting and tapping with the forefoot now and then."""
    time = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    lean = _seated(time, 10.0 * DEGREE)
    tapping = np.zeros_like(time)
    for start in np.arange(8.0, seconds - 16.0, 25.0) + rng.uniform(0.0, 5.0):
        tapping += smooth_step(time, start, start + 0.5) * (1.0 - smooth_step(time, start + 5.0, start + 5.5))
    beat = 2.0 * np.pi * rng.uniform(1.5, 3.0) * time
    pitch = tapping * 6.0 * DEGREE * (1.0 - np.cos(beat))
    still = DEGREE * slow_noise(rng, time, every_s=1.5, sd=0.05)
    return Pastime(
        {"foot": _turned(pitch + still, still, FOOT_SEAT), "shank": _turned(lean + 0.05 * pitch, still, SHANK_SEAT)}
    )


def pedal(rng: np.random.Generator, seconds: float) -> Pastime:
    """Pedalling: the foot goes round with the crank, 0.17 m, some 70 times a minute."""
    time = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    going = smooth_step(time, 2.0, 6.0) * (1.0 - smooth_step(time, seconds - 6.0, seconds - 2.0))
    phase = 2.0 * np.pi * rng.uniform(1.0, 1.3) * np.cumsum(going) / RATE_HZ + rng.uniform(0.0, 6.0)
    phase = phase + 0.3 * np.sin(phase) * going
    zero = np.zeros_like(time)
    place = np.column_stack([0.17 * np.cos(phase), zero, 0.17 * np.sin(phase)])
    angles = Angles(
        zero, going * 15.0 * DEGREE * np.sin(phase + 0.5), DEGREE * slow_noise(rng, time, every_s=1.0, sd=1)
    )
    foot, _, _ = segment_motion(time, angles, place)
    leg = Angles(zero, going * (20.0 * DEGREE * np.sin(phase + 1.2) + 10.0 * DEGREE), angles.roll)
    shank, _, _ = segment_motion(time, leg, foot.point(np.array([0.05, 0.0, 0.08]))[0])
    gravity = np.array([0.0, 0.0, STANDARD_GRAVITY])
    readings: dict[Segment, Pair] = {}
    for segment, body, seat in (("foot", foot, FOOT_SEAT), ("shank", shank, SHANK_SEAT)):
        force = body.to_segment(body.point(seat)[2] + gravity)
        readings["foot" if segment == "foot" else "shank"] = force, body.angular_velocity
    return Pastime(readings)


def ride(rng: np.random.Generator, seconds: float) -> Pastime:
    """Sitting in a car that shakes, and working a pedal now and then."""
    from scipy.signal import butter, sosfilt

    still = sit(rng, seconds)
    shaking = butter(2, [4.0, 20.0], btype="bandpass", fs=RATE_HZ, output="sos")
    count = len(still)
    time = np.arange(count) / RATE_HZ
    pitch = np.zeros(count)
    for start in np.arange(10.0, seconds - 10.0, 20.0) + rng.uniform(0.0, 5.0):
        press = smooth_step(time, start, start + 0.6) * (1.0 - smooth_step(time, start + 3.0, start + 3.6))
        pitch -= 12.0 * DEGREE * press
    foot = _turned(pitch, np.zeros(count), FOOT_SEAT)
    readings: dict[Segment, Pair] = {}
    for segment, (force, rate) in (("foot", foot), ("shank", still.readings["shank"])):
        road = 1.2 * np.asarray(sosfilt(shaking, rng.standard_normal((count, 3)), axis=0))
        wobble = 0.04 * np.asarray(sosfilt(shaking, rng.standard_normal((count, 3)), axis=0))
        readings["foot" if segment == "foot" else "shank"] = force + road, rate + wobble
    return Pastime(readings)


def sleep(rng: np.random.Generator, seconds: float, *, turns_per_hour: float = 3.0) -> Pastime:
    """Lying in bed, breathing, and turning over some times in an hour."""
    time = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    breath = 0.03 * DEGREE * np.sin(2.0 * np.pi * 0.25 * time + 0.5 * np.sin(0.03 * time))
    pitch, roll = 80.0 * DEGREE * _seated(time, 1.0), np.zeros_like(time)
    at = np.cumsum(rng.exponential(3600.0 / turns_per_hour, size=round(4 * turns_per_hour * seconds / 3600.0) + 4))
    for start in at[at < seconds - 20.0]:
        roll += rng.uniform(-40.0, 40.0) * DEGREE * smooth_step(time, start, start + rng.uniform(1.0, 4.0))
    roll *= _seated(time, 1.0)
    return Pastime(
        {"foot": _turned(pitch + breath, roll, FOOT_SEAT), "shank": _turned(pitch + breath, roll, SHANK_SEAT)}
    )


def lie(rng: np.random.Generator, seconds: float) -> Pastime:
    """Sensors taken off and laid on a table; handled for some seconds at both ends."""
    time = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    readings: dict[Segment, Pair] = {}
    for segment in ("foot", "shank"):
        pitch, roll = (_seated(time, float(rng.uniform(-1.5, 1.5))) for _ in range(2))
        readings["foot" if segment == "foot" else "shank"] = _turned(pitch, roll, 0.0 * FOOT_SEAT)
    return Pastime(readings)


PASTIMES: Mapping[str, Callable[[np.random.Generator, float], Pastime]] = MappingProxyType(
    {"sit": sit, "fidget": fidget, "pedal": pedal, "ride": ride, "sleep": sleep, "lie": lie}
)
