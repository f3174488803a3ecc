"""Heel strike, foot flat, heel off and toe off from the kinematics of contact.

No event is one peak of one axis. A point of the sole that touches the ground is stopped: its fall is arrested within
some hundredths of a second. A point that leaves the ground starts to rise. The points are the outsole's tip and the
heel's lower rear edge, carried by the foot's path; so a heel, a flat and a forefoot contact are found alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.contact import SOLE_GIVES, heel_strikes
from firstrocker.gait.flights import Flights
from firstrocker.gait.windows import spanning, whole
from firstrocker.model import BoolArray, FloatArray, IntArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.integrate import at, derivative_at
from firstrocker.signals.sizes import magnitude

RELEASE = 0.65
"""Share of the greatest downward turning that is left at toe off, and ..."""
THROWN = 0.5
"""... of the greatest forward acceleration that is reached; both set on simulated walkers and on annotated feet."""
SET_OFF, EARLY_S = 0.1, 0.1
"""Share of its greatest speed below which the foot has not set off, and s before that in which no foot pushes off: who
walks slowly may raise the heel faster than the foot then turns on its toes."""
LANDED = 0.05
"""Share of its greatest speed below which the foot has landed."""
SETTLING_S = 0.4
"""s after landing within which its height and level are read."""
FALL = (0.5, 0.15)
"""Shares of the fall in pitch still to go between which its later half is taken."""
LEAST_FALL = np.radians(5.0)
"""rad of fall in pitch below which it is not drawn on."""
RISE = (np.radians(1.0), np.radians(3.0))
"""rad of pitch lost after foot flat, from which the onset of heel rise is drawn back."""
PEELING = 0.95
"""Weight of the parabola among the two ways back."""


@dataclass(frozen=True)
class Swings:
    """The swings of one foot with the contacts around them, in order.

    All (k,), in samples. heel_off and toe_off end the stance before; heel_strike and foot_flat begin the stance after;
    fractions included, NaN where an event cannot be had. start, stop: the anchors a swing lies between. fastest: where
    the foot has its greatest speed.
    """

    start: IntArray
    stop: IntArray
    heel_off: FloatArray
    toe_off: FloatArray
    fastest: IntArray
    heel_strike: FloatArray
    foot_flat: FloatArray

    def __len__(self) -> int:
        return len(self.start)

    def those(self, which: IntArray | BoolArray) -> Swings:
        """Some of them."""
        return Swings(*(values[which] for values in vars(self).values()))


def find_swings(motion: FootMotion) -> Swings:
    """Every swing of one foot with its events.

    Args:
        motion: the foot's motion.

    Returns:
        One per step of the foot.
    """
    pace = magnitude(motion.velocity)
    moved = np.flatnonzero(motion.moved)
    start, stop = motion.anchors[moved], motion.anchors[moved + 1]
    flights = spanning(start, stop)
    fastest = start + flights.place_of_greatest(flights.of(pace))
    settled = _settled(pace, fastest, stop, motion.rate_hz)
    heel_strike = heel_strikes(Flights(motion, pace, fastest, settled))
    toe_off = _toe_off(motion, pace, start, fastest, stop)
    foot_flat = _foot_flat(motion, heel_strike, settled)
    return Swings(start, stop, _heel_off(motion, start, toe_off), toe_off, fastest, heel_strike, foot_flat)


def _settled(pace: FloatArray, fastest: IntArray, stop: IntArray, rate_hz: float) -> IntArray:
    """A sample soon after landing at which the foot stands: the anchor, or earlier where that is far off."""
    windows = spanning(fastest, stop)
    slow = windows.first_true(windows.of(pace) < windows.each(LANDED * pace[fastest]))
    return np.where(slow < 0, stop, np.minimum(stop, fastest + slow + round(SETTLING_S * rate_hz)))


def _toe_off(motion: FootMotion, pace: FloatArray, first: IntArray, fastest: IntArray, stop: IntArray) -> FloatArray:
    """The mean of two signs that the toes have let go of the ground.

    Pushing off, the foot turns ever faster about its toes; when they let go, the turning breaks off and the foot is
    thrown forward.
    """
    levering = spanning(first, fastest)
    fall = first + levering.place_of_greatest(-levering.of(motion.pitch_rate))
    set_off = first + np.maximum(levering.last_true(levering.of(pace) < levering.each(SET_OFF * pace[fastest])), 0)
    later = spanning(set_off, fastest)
    early = fall < set_off - EARLY_S * motion.rate_hz
    fall = np.where(early, set_off + later.place_of_greatest(-later.of(motion.pitch_rate)), fall)
    turning = motion.pitch_rate[fall]
    there = (fastest - first >= 3) & (turning < 0.0)
    windows = spanning(fall, stop)
    after = windows.of(motion.pitch_rate)
    broken = fall + windows.first_crossing(after, RELEASE * turning, rising=True)
    lowest = fall + windows.first_crossing(after, 0.0, rising=True)
    launched = _launched(motion, (first, stop), fall, lowest)
    both = np.where(np.isnan(launched), broken, 0.5 * (broken + launched))
    return np.where(there, both, np.nan)


def _launched(motion: FootMotion, step: tuple[IntArray, IntArray], fall: IntArray, lowest: FloatArray) -> FloatArray:
    """When the foot is thrown forward.

    step: the anchors the swing lies between. fall: where the foot turns fastest. lowest: where it turns no more.
    """
    first, stop = step
    way = (motion.position[stop] - motion.position[first])[:, :2]
    along = way / np.linalg.norm(way, axis=1)[:, None]
    # Before the turning is fastest the foot is still being levered forward, not thrown.
    begin = np.maximum(fall - 1, first)
    end = np.minimum(whole(lowest) + 2, len(motion.pitch) - 1)
    windows = spanning(begin, end, only=~np.isnan(lowest))
    acceleration = derivative_at(motion.velocity[:, :2], windows.sample, 1.0 / motion.rate_hz)
    thrown = (acceleration * windows.each(along)).sum(axis=1)
    top, most = windows.place_of_greatest(thrown), windows.greatest(thrown)
    rise = spanning(begin, begin + top)
    return begin + rise.last_crossing(thrown[windows.part(rise)], THROWN * most, rising=True)


def _foot_flat(motion: FootMotion, heel_strike: FloatArray, stop: IntArray) -> FloatArray:
    """The foot's fall in pitch after contact, drawn on from its later half to the level at which it ends.

    A sole gives and a foot creeps, so the last degree is no sign; the fall that leads to it is.
    """
    first = whole(heel_strike)
    fall = at(motion.pitch, heel_strike) - motion.pitch[stop]
    windows = spanning(first, stop, only=~np.isnan(heel_strike))
    left = (windows.of(motion.pitch) - windows.each(motion.pitch[stop])) * windows.each(np.sign(fall))
    early, late = (windows.first_crossing(left, share * np.abs(fall), rising=False) for share in FALL)
    drawn = late + (late - early) * FALL[1] / (FALL[0] - FALL[1])
    flat = np.maximum(first + np.minimum(drawn, stop - first), heel_strike)
    # Too small a fall to have a course: the other end's height tells.
    small = np.abs(fall) < LEAST_FALL
    return np.where(small, _touched(motion, fall, heel_strike, stop), flat)


def _touched(motion: FootMotion, fall: FloatArray, heel_strike: FloatArray, stop: IntArray) -> FloatArray:
    """When the end of the sole that did not strike comes down; at once where it was down."""
    first = whole(heel_strike)
    windows = spanning(first, stop, only=~np.isnan(heel_strike))
    toe_last = fall > 0.0
    height = np.where(windows.each(toe_last), windows.of(motion.toe_height), windows.of(motion.heel_height))
    rest = np.where(toe_last, motion.toe_height[stop], motion.heel_height[stop])
    begun = np.where(toe_last, motion.toe_height[first], motion.heel_height[first])
    down = first + windows.first_crossing(height - windows.each(rest), SOLE_GIVES, rising=False)
    return np.where(begun - rest < SOLE_GIVES, heel_strike, np.maximum(down, heel_strike))


def _heel_off(motion: FootMotion, first: IntArray, toe_off: FloatArray) -> FloatArray:
    """The pitch begins to fall: drawn back from where it has lost one degree and three.

    A heel that is torn off loses pitch along a straight line, one that peels off along a parabola. Heels do something
    between, so both ways back are weighed.
    """
    last = len(motion.pitch) - 1
    around = spanning(np.maximum(first - 3, 0), np.minimum(first + 3, last))
    level = around.median(around.of(motion.pitch))
    end = np.minimum(whole(np.ceil(toe_off)), last)
    windows = spanning(first, end, only=~np.isnan(toe_off))
    drop = windows.each(level) - windows.of(motion.pitch)
    # The last time each, for many a foot rocks in stance before its heel leaves for good.
    late = windows.last_crossing(drop, RISE[1], rising=True)
    until = spanning(first, first + whole(late) + 1, only=~np.isnan(late))
    early = until.last_crossing(drop[windows.part(until)], RISE[0], rising=True)
    straight = RISE[0] / (RISE[1] - RISE[0])
    root = 1.0 / (np.sqrt(RISE[1] / RISE[0]) - 1.0)
    back = (1.0 - PEELING) * straight + PEELING * root
    return np.asarray(first + np.maximum(early - (late - early) * back, 0.0))
