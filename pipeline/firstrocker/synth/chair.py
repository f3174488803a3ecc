"""Sitting before, between and after the bouts of a walk, and sensors that lie on a table before they are strapped on.

All of it is invented, from how one imagines these to look; nobody was recorded. To rise, the trunk goes forward over
the feet and the knees with it, so that the shank inclines before it comes upright; to sit down is the same backwards.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray
from firstrocker.synth.rigid import Angles, segment_motion
from firstrocker.synth.smooth import Key, keyed, rounded, slow_noise, smooth_step

_ROUND_S = 0.2


@dataclass(frozen=True)
class Sit:
    """Somebody who sits in one pause of a walk.

    pause: 0 before the first bout, k after the k-th. seconds: seated. tilt_deg, roll_deg: shank-to-vertical angle and
    sideways lean while seated. peak_deg: how far the shank inclines on the way up and down; as much as tilt_deg, and
    somebody stands with a bent knee for a while. foot_pitch_deg: of a foot on its heel (positive) or its forefoot, put
    down before the rise. ahead_m: how far in front the foot is until it is drawn back, just before the rise. rise_s: s
    of getting up, and of sitting down. before_s, after_s: s of standing in between.
    """

    pause: int = 0
    seconds: float = 15.0
    tilt_deg: float = 10.0
    roll_deg: float = 0.0
    peak_deg: float = 18.0
    foot_pitch_deg: float = 0.0
    ahead_m: float = 0.0
    rise_s: float = 1.8
    before_s: float = 1.0
    after_s: float = 1.0

    def length(self, bouts: int) -> float:
        """S of the whole pause in a walk of so many bouts: the first begins seated, the last ends so."""
        ways = (self.pause > 0) + (self.pause < bouts)
        standing = self.before_s * (self.pause > 0) + self.after_s * (self.pause < bouts)
        return self.seconds + ways * self.rise_s + standing


@dataclass(frozen=True)
class SeatedCourse:
    """What sitting adds to one leg, (n,) each.

    inclination, roll: rad, of the shank. foot_pitch: rad. ahead, lift: m, of the foot. seated: 1 in the chair, 0 out.
    """

    inclination: FloatArray
    roll: FloatArray
    foot_pitch: FloatArray
    ahead: FloatArray
    lift: FloatArray
    seated: FloatArray


def lengths(sits: Sequence[Sit], bouts: int) -> Mapping[int, float]:
    """S of the pauses in which somebody sits."""
    return {sit.pause: sit.length(bouts) for sit in sits}


def seated_course(time: FloatArray, pauses: Sequence[tuple[float, float]], sits: Sequence[Sit]) -> SeatedCourse:
    """What sitting adds.

    Args:
        time: (n,) uniform grid, s.
        pauses: first and last s of each.
        sits: at most one of each pause.
    """
    out = [np.zeros(time.size) for _ in range(6)]
    for sit in sits:
        first, last = pauses[sit.pause]
        down = first + sit.before_s if sit.pause else -np.inf
        seated = down + sit.rise_s if sit.pause else first - 10.0
        up = seated + sit.seconds if sit.pause else first + sit.seconds
        if sit.pause == len(pauses) - 1:
            up = last + 10.0
        peak, rise = sit.peak_deg, sit.rise_s
        shank: list[Key] = [] if not sit.pause else [(down, 0.0, 0.0), (down + 0.55 * rise, peak, 0.0)]
        shank += [(seated, sit.tilt_deg, 0.0), (up, sit.tilt_deg, 0.0)]
        shank += [(up + 0.45 * rise, peak, 0.0), (up + rise, 0.0, 0.0)]
        out[0] += rounded(keyed(shank), time, _ROUND_S)
        there = (smooth_step(time, down, seated) if sit.pause else 1.0) * (1.0 - smooth_step(time, up, up + rise))
        out[1] += sit.roll_deg * there
        settled = smooth_step(time, seated, seated + 1.0) if sit.pause else 1.0
        out[2] += sit.foot_pitch_deg * settled * (1.0 - smooth_step(time, up - 1.0, up - 0.2))
        back = smooth_step(time, up - 0.9, up - 0.3)
        put = smooth_step(time, seated - 0.6, seated) if sit.pause else 1.0
        out[4] += sit.ahead_m * put * (1.0 - back)
        out[5] += np.sign(sit.ahead_m) * 0.03 * 4.0 * (back * (1.0 - back) + put * (1.0 - put))
        out[3] += there
    tilt, roll, pitch = (np.deg2rad(part) for part in out[:3])
    return SeatedCourse(tilt, roll, pitch, out[4], out[5], out[3])


@dataclass(frozen=True)
class Table:
    """A sensor that lies still for ``seconds`` and is then handled for ``strap_s`` until it sits where it is worn."""

    seconds: float
    strap_s: float = 4.0


def on_table(
    force: FloatArray, rate: FloatArray, time: FloatArray, table: Table, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Force and rate (n, 3), segment axes, as a sensor reads them that is strapped on only after a while.

    Args:
        force: m/s^2, of the sensor as it is worn throughout.
        rate: rad/s.
        time: (n,) s.
        table: for how long.
        rng: of how it lies and is handled.
    """
    off = 1.0 - smooth_step(time, table.seconds, table.seconds + table.strap_s)
    sign = rng.choice([-1.0, 1.0], size=2)
    lies = np.deg2rad([rng.uniform(-180, 180), sign[0] * rng.uniform(20, 75), sign[1] * rng.uniform(30, 150)])
    handled = 4.0 * off * (1.0 - off)
    turned, _, _ = segment_motion(time, Angles(*(angle * off for angle in lies)), np.zeros((time.size, 3)))
    shaken = np.column_stack([slow_noise(rng, time, every_s=0.3, sd=1.5) for _ in range(3)]) * handled[:, None]
    return turned.to_segment(force) + shaken, turned.to_segment(rate) + turned.angular_velocity
