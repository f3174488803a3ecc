"""Whether sensors kept their seats from one walking to the next: taken off and put on otherwise, they did not.

A foot's sensor that is tilted otherwise is found by :mod:`firstrocker.motion.seat`; one that is turned about the
upright sees the same gravity, but the foot goes elsewhere than where it seems to point. A shank's is found by gravity's
mean over each step and by the axis about which it turns while the foot turns.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from firstrocker.model import BoolArray, Finding, FloatArray, IntArray, Segment, Side, Signal
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.shank import ShankMotion

LEAST: dict[Segment, float] = {"foot": np.radians(30.0), "shank": np.radians(10.0)}
"""rad between the seats before and after, from which on within a walk they are two. Best parted in two, 25 simulated
walks of all kinds and qualities, with turns, gave up to 8 deg for feet and 5 deg for shanks."""
BETWEEN_STRETCHES: dict[Segment, float] = {"foot": np.radians(15.0), "shank": np.radians(10.0)}
"""The same between the stretches of a day, each of which has its own seat."""
OTHER_WAY = np.radians(4.0)
"""rad by which the shank's mean direction in walking, sensor axes, differs from stretch to stretch of a day if its
sensor was put on anew between them."""
LEAST_STRETCHES = 3
"""Stretches before and after."""
OF_SPREAD = 4.0
"""How many times as far apart as their own seats lie from each other two parts must be."""
LEAST_STEPS = 3
PUT_ON_S = 3.0
"""s without a step that nobody needs less of to take a sensor off and put it on again; common sense, no source."""
STRAIGHT = np.radians(20.0)
"""rad by which a foot's heading may change over a step that tells where its sensor sits."""
SEATED: dict[Segment, float] = {"foot": np.radians(20.0), "shank": np.radians(6.0)}
"""rad by which the seat that the motion was computed with may differ from what the steps say where it sat so: feet
point aside of their way by up to 13 deg; shanks of simulated walks were within 5 deg of ``LEANING``."""
LEANING = np.radians(8.7)
"""rad by which a shank's mean direction over steps leans away from that of standing; 7 to 11 in simulated walks."""


def part_by_seat(
    seats: FloatArray, *, least: float, least_part: int, of_spread: float = OF_SPREAD, places: IntArray | None = None
) -> list[tuple[int, float]]:
    """Where a sequence of seats changes for good.

    Args:
        seats: (k, 3, 3) rotations sensor to segment, or (k, 1, 3) one direction of each in sensor axes; in order.
        least: rad between the parts before and after, at least.
        least_part: seats of a part, at least.
        of_spread: how many times the greater spread of both parts they must differ by.
        places: seats with which a new part may begin; None: any.

    Returns:
        The first seat of each new part, and the angle (rad) from the part before; in order.
    """
    cuts = _cuts(seats, np.arange(len(seats)) if places is None else places, 0, least, least_part, of_spread)
    if not cuts:
        return []
    ends = [0, *cuts, len(seats)]
    middles = [middle(seats[a:b]) for a, b in pairwise(ends)]
    return [(cut, angle_between(middles[n], middles[n + 1])) for n, cut in enumerate(cuts)]


def _cuts(
    seats: FloatArray, places: IntArray, first: int, least: float, least_part: int, of_spread: float
) -> list[int]:
    count = len(seats)
    k = places[(places >= first + least_part) & (places <= first + count - least_part)] - first
    if not len(k):
        return []
    flat = seats.reshape(count, -1)
    sums = np.concatenate([np.zeros((1, flat.shape[1])), np.cumsum(flat, axis=0)])
    kept = (sums[k] ** 2).sum(axis=1) / k + ((sums[-1] - sums[k]) ** 2).sum(axis=1) / (count - k)
    cut = int(k[np.argmax(kept)])
    parts = seats[:cut], seats[cut:]
    middles = [middle(part) for part in parts]
    spread = max(_spread(part, mean) for part, mean in zip(parts, middles, strict=True))
    if angle_between(*middles) < max(least, of_spread * spread):
        return []
    return [
        *_cuts(parts[0], places, first, least, least_part, of_spread),
        first + cut,
        *_cuts(parts[1], places, first + cut, least, least_part, of_spread),
    ]


def middle(seats: FloatArray) -> FloatArray:
    """The seat (m, 3) in the middle of several (k, m, 3): few that are odd do not move it."""
    if seats.shape[1] == 1:
        mean = np.median(seats, axis=0)
        return np.asarray(mean / max(float(np.linalg.norm(mean)), 1e-9))
    left, _, right = np.linalg.svd(np.median(seats, axis=0))
    sign = np.diag([1.0, 1.0, np.sign(np.linalg.det(left @ right))])
    return np.asarray(left @ sign @ right)


def angle_between(one: FloatArray, other: FloatArray) -> float:
    """Angle (rad) of the rotation from one seat (3, 3) to another, or between two directions (1, 3)."""
    return float(_angles(one[None], other)[0])


def _spread(seats: FloatArray, mean: FloatArray) -> float:
    return float(np.median(_angles(seats, mean)))


def _angles(seats: FloatArray, mean: FloatArray) -> FloatArray:
    """(k,) rad from each of several seats (k, m, 3) to another (m, 3)."""
    cosine = np.einsum("kij,ij->k", seats, mean)
    return np.asarray(np.arccos(np.clip(cosine if len(mean) == 1 else 0.5 * (cosine - 1.0), -1.0, 1.0)))


def check_remounted(
    foot: FootMotion, shank: ShankMotion | None, shank_signal: Signal | None
) -> tuple[FootMotion, ShankMotion | None]:
    """The motions, with findings, where sensors kept their seats or not.

    Args:
        foot: as tracked; comes back not to be trusted where its sensor sat otherwise than it was computed with.
        shank: the same side's; the same.
        shank_signal: what it was tracked from.
    """
    steps = np.flatnonzero(foot.moved)
    if len(steps) < 2 * LEAST_STEPS:
        return foot, shank
    # Within a turn a foot goes far aside of where it points.
    ends = foot.heading[foot.anchors[steps + 1]], foot.heading[foot.anchors[steps]]
    straight = steps[np.abs(ends[0] - ends[1]) < STRAIGHT]
    bad, found = _elsewhere(_foot_seats(foot, straight), np.eye(3), foot, straight, "foot")
    foot = replace(foot, trusted=foot.trusted & ~bad, findings=(*foot.findings, *found))
    if shank is not None and shank_signal is not None:
        seats, telling = _shank_seats(foot, shank, shank_signal, steps)
        bad, found = _elsewhere(seats, _leaning(shank.mounting.matrix), foot, telling, "shank")
        if found:
            shank = replace(shank, trusted=shank.trusted & ~bad, findings=(*shank.findings, *found))
    return foot, shank


def _foot_seats(foot: FootMotion, steps: IntArray) -> FloatArray:
    """(k, 3, 3) foot axes as found to foot axes as each step says, turned about the upright."""
    off = foot.aside(foot.anchors[steps], foot.anchors[steps + 1])
    seats = np.zeros((len(steps), 3, 3))
    seats[:, 0, 0], seats[:, 0, 1] = np.cos(off), np.sin(off)
    seats[:, 1, 0], seats[:, 1, 1] = -np.sin(off), np.cos(off)
    seats[:, 2, 2] = 1.0
    return seats


def _shank_seats(foot: FootMotion, shank: ShankMotion, signal: Signal, steps: IntArray) -> tuple[FloatArray, IntArray]:
    """(k, 3, 3) sensor to shank by single steps, but for a lean that is the same in all; and those that tell."""
    # A foot that was turned round seems to turn the other way, and the shank with it.
    told = shank.trusted & foot.trusted
    first, stop = foot.anchors[steps], foot.anchors[steps + 1] + 1
    steps = steps[_sums(~told, first, stop) == 0]
    first, stop = foot.anchors[steps], foot.anchors[steps + 1] + 1
    up = _sums(signal.acceleration, first, stop)
    up /= np.maximum(np.linalg.norm(up, axis=1, keepdims=True), 1e-9)
    rate = foot.sensor.turning_about(1, slice(None))
    mean = _sums(signal.angular_velocity, first, stop) / (stop - first)[:, None]
    # Axis by axis, for the products of many hours take much room.
    with_foot = np.stack([_sums(axis * rate, first, stop) for axis in signal.angular_velocity.T], axis=1)
    left = with_foot - mean * _sums(rate, first, stop)[:, None]
    left -= np.einsum("ki,ki->k", left, up)[:, None] * up
    left /= np.maximum(np.linalg.norm(left, axis=1, keepdims=True), 1e-9)
    return np.stack([np.cross(left, up), left, up], axis=1), steps


def _sums(values: FloatArray | BoolArray, first: IntArray, stop: IntArray) -> FloatArray:
    """Sums (k, ...) of values (n, ...) from ``first`` (k,) to before ``stop`` (k,), rising, of two samples or more."""
    ends = np.stack([first, stop], axis=1).ravel()
    # The last sum goes to the end by itself, and no place beyond the last sample may be named.
    ends = ends[: len(ends) - int((stop[-1:] == len(values)).sum())]
    return np.asarray(np.add.reduceat(values, ends, axis=0, dtype=np.float64)[::2])


def _leaning(mounting: FloatArray) -> FloatArray:
    """What steps are to say of a shank's seat (3, 3) that standing gave."""
    cosine, sine = np.cos(LEANING), np.sin(LEANING)
    return np.asarray(np.array([[cosine, 0.0, sine], [0.0, 1.0, 0.0], [-sine, 0.0, cosine]]) @ mounting)


def _elsewhere(
    seats: FloatArray, used: FloatArray, foot: FootMotion, steps: IntArray, segment: Segment
) -> tuple[BoolArray, tuple[Finding, ...]]:
    """(n,) True where the sensor did not sit as the motion was computed with, and from one seat to the next."""
    bad = np.zeros(len(foot.trusted), dtype=np.bool_)
    begin, end = foot.anchors[steps], foot.anchors[steps + 1]
    rested = 1 + np.flatnonzero(begin[1:] - end[:-1] > PUT_ON_S * foot.rate_hz)
    changes = part_by_seat(seats, least=LEAST[segment], least_part=LEAST_STEPS, places=rested)
    if not changes:
        return bad, ()
    ends = [0, *(cut for cut, _ in changes), len(seats)]
    parts = list(pairwise(ends))
    off = [angle_between(middle(seats[first:stop]), used) for first, stop in parts]
    bad[:] = True
    if min(off) <= SEATED[segment]:
        first, stop = parts[int(np.argmin(off))]
        bad[0 if first == 0 else begin[first] : len(bad) if stop == len(seats) else end[stop - 1] + 1] = False
    cut, angle = changes[0]
    at_s = float(foot.anchors[steps[cut]] / foot.rate_hz)
    return bad, (remounted(segment, foot.side, at_s, angle),)


def remounted(segment: Segment, side: Side, at_s: float, angle: float) -> Finding:
    """The finding of a sensor that sat otherwise from ``at_s`` on."""
    return Finding(
        "sensor-remounted",
        "warning",
        f"The {segment}'s sensor sits otherwise from about {at_s:.0f} s on, turned by {np.degrees(angle):.0f} deg, as "
        "if it had been taken off and put on again. Strides in which it did not sit as the motion was computed with do "
        "not count.",
        "Cut the logs there and describe the parts as two walks in session.yaml; measure the sensor's place on the "
        "shoe again if it was the foot's.",
        segment=segment,
        side=side,
        start_s=at_s,
    )
