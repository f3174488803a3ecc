"""Heel strike, foot flat, heel off and toe off from the kinematics of contact.

No event is one peak of one axis. A point of the sole that touches the ground is stopped: its fall is arrested within
some hundredths of a second. A point that leaves the ground starts to rise. The points are the outsole's tip and the
heel's lower rear edge, carried by the foot's path; so a heel, a flat and a forefoot contact are found alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.contact import CONTACT_PITCH, heel_strikes
from firstrocker.gait.crossings import first_crossing, last_crossing
from firstrocker.model import FloatArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.integrate import at_one, derivative

RELEASE = 0.65
"""Share of the greatest downward turning that is left at toe off, and ..."""
THROWN = 0.5
"""... of the greatest forward acceleration that is reached; both set on simulated walkers and on annotated feet."""
LANDED = 0.05
"""Share of its greatest speed below which the foot has landed."""
SETTLING_S = 0.4
"""s after landing within which its height and level are read."""
FALL = (0.5, 0.15)
"""Shares of the fall in pitch still to go between which its later half is taken."""
LEAST_FALL = np.radians(5.0)
"""rad of fall in pitch below which it is not drawn on."""
SOLE_GIVES = 0.002
"""m over its rest at which the sole's other end touches; common practice, no source."""
RISE = (np.radians(1.0), np.radians(3.0))
"""rad of pitch lost after foot flat, from which the onset of heel rise is drawn back."""
PEELING = 0.95
"""Weight of the parabola among the two ways back."""


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


def _settled(pace: FloatArray, fastest: int, stop: int, rate_hz: float) -> int:
    """A sample soon after landing at which the foot stands: the anchor, or earlier where that is far off."""
    slow = np.flatnonzero(pace[fastest : stop + 1] < LANDED * pace[fastest])
    return min(stop, fastest + int(slow[0]) + round(SETTLING_S * rate_hz)) if len(slow) else stop


def _toe_off(motion: FootMotion, push: FloatArray, first: int, fastest: int, stop: int) -> float:
    """The mean of two signs that the toes have let go of the ground.

    Pushing off, the foot turns ever faster about its toes; when they let go, the turning breaks off and the foot is
    thrown forward.

    push: m/s^2 acceleration of the foot along its way, from sample ``first`` to beyond ``stop``.
    """
    if fastest - first < 3:
        return float("nan")
    fall = first + int(np.argmin(motion.pitch_rate[first : fastest + 1]))
    after = motion.pitch_rate[fall : stop + 1]
    if after[0] >= 0.0:
        return float("nan")
    broken = fall + first_crossing(after, RELEASE * float(after[0]), rising=True)
    lowest = fall + first_crossing(after, 0.0, rising=True)
    if np.isnan(lowest):
        return broken
    # Before the turning is fastest the foot is still being levered forward, not thrown.
    begin = max(fall - 1, first)
    thrown = push[begin - first : int(lowest) + 3 - first]
    top = int(np.argmax(thrown))
    launched = begin + last_crossing(thrown[: top + 1], THROWN * float(thrown[top]), rising=True)
    return float(np.nanmean([broken, launched]))


def _foot_flat(motion: FootMotion, heel_strike: float, stop: int) -> float:
    """The foot's fall in pitch after contact, drawn on from its later half to the level at which it ends.

    A sole gives and a foot creeps, so the last degree is no sign; the fall that leads to it is.
    """
    first = int(np.floor(heel_strike))
    away = motion.pitch[first : stop + 1] - motion.pitch[stop]
    start = float(at_one(motion.pitch, heel_strike) - motion.pitch[stop])
    left = away * np.sign(start)
    if abs(start) < LEAST_FALL:
        # Too small a fall to have a course: the other end's height tells.
        other = (motion.toe_height if start > 0.0 else motion.heel_height)[first : stop + 1]
        if other[0] - other[-1] < SOLE_GIVES:
            return heel_strike
        return max(first + first_crossing(other - other[-1], SOLE_GIVES, rising=False), heel_strike)
    early, late = (first_crossing(left, share * abs(start), rising=False) for share in FALL)
    if np.isnan(early) or np.isnan(late):
        return float("nan")
    drawn = late + (late - early) * FALL[1] / (FALL[0] - FALL[1])
    return max(first + min(drawn, float(stop - first)), heel_strike)


def _heel_off(motion: FootMotion, first: int, toe_off: float) -> float:
    """The pitch begins to fall: drawn back from where it has lost one degree and three.

    A heel that is torn off loses pitch along a straight line, one that peels off along a parabola. Heels do something
    between, so both ways back are weighed.
    """
    if np.isnan(toe_off):
        return float("nan")
    level = float(np.median(motion.pitch[max(first - 3, 0) : first + 4]))
    drop = level - motion.pitch[first : int(np.ceil(toe_off)) + 1]
    # The last time each, for many a foot rocks in stance before its heel leaves for good.
    late = last_crossing(drop, RISE[1], rising=True)
    early = float("nan") if np.isnan(late) else last_crossing(drop[: int(late) + 2], RISE[0], rising=True)
    if np.isnan(early) or np.isnan(late):
        return float("nan")
    straight = RISE[0] / (RISE[1] - RISE[0])
    root = 1.0 / (np.sqrt(RISE[1] / RISE[0]) - 1.0)
    back = (1.0 - PEELING) * straight + PEELING * root
    return float(first + max(early - (late - early) * back, 0.0))


def find_swings(motion: FootMotion) -> list[Swing]:
    """Every swing of one foot with its events.

    Args:
        motion: the foot's motion.

    Returns:
        One per step of the foot, in order.
    """
    pace = np.linalg.norm(motion.velocity, axis=1)
    acceleration = derivative(motion.velocity[:, :2], 1.0 / motion.rate_hz)
    spans = [(int(motion.anchors[k]), int(motion.anchors[k + 1])) for k in np.flatnonzero(motion.moved)]
    fastest = [first + int(np.argmax(pace[first : stop + 1])) for first, stop in spans]
    settled = [_settled(pace, f, stop, motion.rate_hz) for f, (_, stop) in zip(fastest, spans, strict=True)]
    strikes = heel_strikes(motion, pace, list(zip(fastest, settled, strict=True)))
    swings = []
    for (first, stop), quickest, rest, strike in zip(spans, fastest, settled, strikes, strict=True):
        way = motion.position[stop, :2] - motion.position[first, :2]
        push = acceleration[first : stop + 4] @ way / np.linalg.norm(way)
        toe_off = _toe_off(motion, push, first, quickest, stop)
        foot_flat = float("nan") if np.isnan(strike) else _foot_flat(motion, strike, rest)
        heel_off = _heel_off(motion, first, toe_off)
        swings.append(Swing(first, stop, heel_off, toe_off, float(quickest), strike, foot_flat))
    return swings


def contact_kind(motion: FootMotion, heel_strike: float, *, slope: float = 0.0) -> str:
    """``heel``, ``flat`` or ``forefoot``: by the foot's pitch against the ground (sloping by ``slope`` rad) at heel
    strike.
    """
    pitch = at_one(motion.pitch, heel_strike) - slope
    if pitch > CONTACT_PITCH:
        return "heel"
    return "forefoot" if pitch < -CONTACT_PITCH else "flat"
