"""Heel strike, foot flat, heel off and toe off from the kinematics of contact.

No event is one peak of one axis. A point of the sole that touches the ground is stopped: its fall is arrested within
some hundredths of a second. A point that leaves the ground starts to rise. The points are the outsole's tip and the
heel's lower rear edge, carried by the foot's path; so a heel, a flat and a forefoot contact are found alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.crossings import first_crossing
from firstrocker.model import FloatArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.integrate import at, derivative

ONSET = 0.5
"""Share of the greatest jolt that counts as its onset."""
BRAKING, LANDED = 0.65, 0.08
"""Shares of the foot's greatest speed between which it lands."""
LEVEL_STEP = np.radians(1.0)
"""rad from its resting pitch at which the foot counts as down."""
RISE = (np.radians(1.5), np.radians(6.0))
"""rad of pitch lost after foot flat: from two thresholds the onset of heel rise is drawn back."""
CONTACT_PITCH = np.radians(3.0)


@dataclass(frozen=True)
class Swing:
    """One swing with the contacts around it; sample numbers, fractions included, NaN where an event cannot be had.

    heel_off and toe_off end the stance before; heel_strike and foot_flat begin the stance after. start, stop: the
    anchors it lies between.
    """

    start: int
    stop: int
    heel_off: float
    toe_off: float
    fastest: float
    heel_strike: float
    foot_flat: float


def _toe_off(motion: FootMotion, toe_speed: FloatArray, first: int, fastest: int) -> float:
    """The outsole's tip begins to rise for good: its upward speed passes zero, after the foot's lowest pitch rate."""
    pitch_rate = motion.pitch_rate[first : fastest + 1]
    if len(pitch_rate) < 3:
        return float("nan")
    fall = int(np.argmin(pitch_rate))
    start = first + max(fall - 1, 0)
    speed = toe_speed[start : fastest + 2]
    crossing = first_crossing(speed, 0.05, rising=True)
    if np.isnan(crossing):
        return float("nan")
    return start + crossing


def _heel_strike(motion: FootMotion, jolt: FloatArray, pace: FloatArray, fastest: int, stop: int) -> float:
    """Onset of the jolt that ends the foot's flight.

    It is looked for while the foot slows down, and, where the foot lands on its heel, before half of its fall in pitch
    is over: the slap that may follow is the harder jolt.

    jolt: (n,) m/s^3 of :func:`_jolts`. pace: (n,) m/s speed of the foot.
    """
    slowing = pace[fastest : stop + 1] / pace[fastest]
    begin = fastest + int(np.argmax(slowing < BRAKING))
    end = fastest + int(np.argmax(slowing < LANDED)) if (slowing < LANDED).any() else stop
    away = motion.pitch[begin : stop + 1] - motion.pitch[stop]
    if away[: max(end - begin, 1)].max() > 2.0 * CONTACT_PITCH:
        top = int(np.argmax(away[: max(end - begin, 1)]))
        half = first_crossing(away[top:], 0.5 * float(away[top]), rising=False)
        if not np.isnan(half):
            end = min(end, begin + top + int(np.ceil(half)))
    if end - begin < 2:
        return float("nan")
    part = jolt[begin : end + 1]
    return begin + first_crossing(np.concatenate([[0.0], part]), ONSET * float(part.max()), rising=True) - 1.0


def _jolts(motion: FootMotion) -> FloatArray:
    """(n,) m/s^3, how much the acceleration (a vector in the world) changed since the sample before."""
    step = 1.0 / motion.rate_hz
    acceleration = derivative(motion.velocity, step)
    change = np.diff(acceleration, axis=0, prepend=acceleration[:1])
    return np.asarray(np.linalg.norm(change, axis=1) / step)


def _foot_flat(motion: FootMotion, heel_strike: float, stop: int) -> float:
    """The pitch first comes within a degree of the level at which it stays."""
    first = int(np.floor(heel_strike))
    away = motion.pitch[first : stop + 1] - motion.pitch[stop]
    outside = np.flatnonzero(np.abs(away) > LEVEL_STEP)
    start = away[0]
    if not len(outside) or outside[0] > 0.6 * len(away):
        return heel_strike
    inside = first_crossing(away, np.sign(start) * LEVEL_STEP, rising=start < 0.0)
    return max(first + inside, heel_strike) if not np.isnan(inside) else float(first + outside[-1] + 1)


def _heel_off(motion: FootMotion, first: int, toe_off: float) -> float:
    """The pitch begins to fall: drawn back by the square root from two thresholds."""
    last = int(np.ceil(toe_off)) if not np.isnan(toe_off) else first + 2
    drop = motion.pitch[first] - motion.pitch[first : last + 1]
    early, late = (first_crossing(drop, limit, rising=True) for limit in RISE)
    if np.isnan(early) or np.isnan(late):
        return float("nan")
    root_early, root_late = np.sqrt(RISE)
    onset = early - (late - early) * root_early / (root_late - root_early)
    return float(first + max(onset, 0.0))


def find_swings(motion: FootMotion) -> list[Swing]:
    """Every swing of one foot with its events.

    Args:
        motion: the foot's motion.

    Returns:
        One per step of the foot, in order.
    """
    toe_speed = derivative(motion.toe[:, 2], 1.0 / motion.rate_hz)
    jolt = _jolts(motion)
    pace = np.linalg.norm(motion.velocity, axis=1)
    swings = []
    for k in np.flatnonzero(motion.moved):
        first, stop = int(motion.anchors[k]), int(motion.anchors[k + 1])
        fastest = first + int(np.argmax(pace[first : stop + 1]))
        toe_off = _toe_off(motion, toe_speed, first, fastest)
        heel_strike = _heel_strike(motion, jolt, pace, fastest, stop)
        foot_flat = _foot_flat(motion, heel_strike, stop) if not np.isnan(heel_strike) else float("nan")
        heel_off = _heel_off(motion, first, toe_off)
        swings.append(Swing(first, stop, heel_off, toe_off, float(fastest), heel_strike, foot_flat))
    return swings


def contact_kind(motion: FootMotion, heel_strike: float) -> str:
    """``heel``, ``flat`` or ``forefoot``: by the foot's pitch at heel strike."""
    pitch = float(at(motion.pitch, np.array([heel_strike]))[0])
    if pitch > CONTACT_PITCH:
        return "heel"
    return "forefoot" if pitch < -CONTACT_PITCH else "flat"
