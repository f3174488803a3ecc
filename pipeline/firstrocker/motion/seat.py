"""Whether a foot's sensor kept its seat, and whether its gyroscope turns as far as gravity says.

On a flat foot the sensor sees gravity from one direction, stance after stance; a sensor that slipped or fell sees it
from another. And a foot that went from rest to rest has no velocity left: a gyroscope that reads too much or too little
tilts the path in between, and velocity seems to be left.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from firstrocker.errors import SignalError
from firstrocker.model import STANDARD_GRAVITY, BoolArray, Finding, FloatArray, IntArray, Signal
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.ground import Ground
from firstrocker.motion.orientation import coning, mean_turns
from firstrocker.motion.quaternions import of_vector, rotated, times
from firstrocker.motion.stillness import around
from firstrocker.motion.walked import bouts_of

SLIPPED = np.radians(8.0)
"""rad between the flat foot's gravity before and after. Open recordings of feet: 58 of 59 up to 5.2 deg (a floor, a
shoe and a person who rolls the foot), one 12.2; simulated ones 0.3."""
FELL = np.radians(35.0)
"""rad from which a sensor does not sit on the foot any more; common practice, no source."""
SEATED = np.radians(4.0)
"""rad by which the seat that the motion was computed with may differ from that of strides that count."""
LEAST_PART = 3
QUIET_ENERGY = 0.5
GAIN_NOTICED, GAIN_REFUSED = 0.06, 0.12
"""Shares by which the gyroscope may be off: 59 open recordings of feet and 11 simulated ones stayed below the first."""
LEAST_SWINGS = 6
MOST_SWINGS = 200
"""Swings, spread over the walk, from which more would not move a median."""
_SCALES = np.linspace(0.8, 1.2, 9)
_LONGEST_SWING_S = 1.5


def check_seat(foot: FootMotion, signal: Signal, ground: Ground | None = None) -> FootMotion:
    """The foot's motion, not to be trusted where its sensor sat elsewhere, with findings of slip and gain.

    Args:
        foot: as tracked.
        signal: what it was tracked from.
        ground: under its steps, for on a ramp a flat foot is not level; level without it.

    Raises:
        SignalError: ``gyroscope-gain``: the gyroscope, or the rate, is off by more than can be used.
    """
    directions = _directions(foot, signal)
    if ground is not None and ground.slope.any():
        directions = _levelled(directions, foot, ground)
    # Before a walk the sensor may lie on a table, and in between the foot of who sits may rest on its heel. A sensor
    # that fell off walks no more: what follows the last step is looked at too.
    walked = np.zeros(len(foot.anchors), dtype=np.bool_)
    steps = bouts_of(foot.anchors, foot.moved, foot.rate_hz).steps
    for first, last in steps:
        walked[first : last + 2] = True
    walked[steps[-1][1] if steps else 0 :] = True
    quiet = np.flatnonzero((foot.energy < QUIET_ENERGY) & walked)
    found = _gain_findings(foot, signal)
    cut = best_cut(directions[quiet])
    if cut is None:
        return replace(foot, findings=foot.findings + found)
    parts = [_middle(part) for part in np.split(directions[quiet], [cut])]
    angle = _between(*parts)
    if angle < SLIPPED:
        return replace(foot, findings=foot.findings + found)
    places = foot.anchors[quiet]
    bad = _elsewhere(foot, parts, (int(places[cut - 1]), int(places[cut])), fell=angle >= FELL)
    told = _told(angle, foot.anchors[quiet][cut] / foot.rate_hz, foot)
    return replace(foot, trusted=foot.trusted & ~bad, findings=(*foot.findings, *found, told))


def best_cut(directions: FloatArray) -> int | None:
    """Where a sequence of unit vectors (k, 3) is best parted in two, None where it is too short."""
    count = len(directions)
    if count < 2 * LEAST_PART:
        return None
    sums = np.concatenate([np.zeros((1, 3)), np.cumsum(directions, axis=0)])
    k = np.arange(LEAST_PART, count - LEAST_PART + 1)
    kept = (sums[k] ** 2).sum(axis=1) / k + ((sums[-1] - sums[k]) ** 2).sum(axis=1) / (count - k)
    return int(k[np.argmax(kept)])


def turning_scale(foot: FootMotion, signal: Signal) -> float | None:
    """Factor by which the angular velocity must be multiplied for the foot to come to rest, None if it cannot be told.

    Each swing between two quiet anchors is integrated from gravity at its beginning, with the angular velocity scaled
    by several factors; the velocity left at its end is least at the right one, and its square a parabola around that.
    """
    quiet = foot.energy < QUIET_ENERGY
    length = np.diff(foot.anchors)
    use = np.flatnonzero(foot.moved & quiet[:-1] & quiet[1:] & (length < _LONGEST_SWING_S * foot.rate_hz))
    # A swing's last sample is the next one's first, which is quiet.
    trusted = np.logical_and.reduceat(foot.trusted[: foot.anchors[-1] + 1], foot.anchors)
    use = use[trusted[use] & foot.trusted[foot.anchors[use + 1]]]
    if len(use) < LEAST_SWINGS:
        return None
    use = use[:: -(-len(use) // MOST_SWINGS)]
    near = signal.acceleration[around(foot.anchors, foot.rate_hz, len(signal.acceleration))].mean(axis=1)
    gain = STANDARD_GRAVITY / float(np.median(np.linalg.norm(near[quiet], axis=1)))
    left = _left_over(foot, signal, gain, near[use], use)
    curve = np.polyfit(_SCALES, np.median(left, axis=1) ** 2, 2)
    return float(-0.5 * curve[1] / curve[0]) if curve[0] > 0 else None


def _left_over(foot: FootMotion, signal: Signal, gain: float, up: FloatArray, use: IntArray) -> FloatArray:
    """(scales, k) m/s left over at the end of the swings ``use`` (k,), all of them turned together step by step.

    gain: of the accelerometer. up: (k, 3) m/s^2 as it reads gravity at each swing's beginning, sensor axes.
    """
    first, length = foot.anchors[use], np.diff(foot.anchors)[use]
    # A step's mean takes a sample more than the step on either side, and its coning the step before.
    before = 3
    place = first + np.arange(-before, int(length.max()) + 2)[:, None]
    place = np.clip(place, 0, len(signal.valid) - 1)
    turn = mean_turns(signal.angular_velocity[place] - foot.bias, foot.rate_hz)
    turn, short = (np.moveaxis(part, -1, 0)[:, :, None] for part in (turn, coning(turn)))
    force = np.moveaxis(gain * signal.acceleration[place], -1, 1)[:, :, None]
    scale = _SCALES[:, None]
    attitude = np.zeros((4, len(_SCALES), len(use)))
    attitude[0] = 1.0
    total = np.repeat(force[before], len(_SCALES), axis=1)
    for step in range(1, int(length.max()) + 1):
        attitude = times(attitude, of_vector(scale * turn[before + step] + scale**2 * short[before + step]))
        total += rotated(attitude, force[before + step]) * (step <= length)
    missing = total - ((length + 1)[:, None] * gain * up).T[:, None, :]
    return np.asarray(np.sqrt((missing**2).sum(axis=0)) / foot.rate_hz)


def _gain_findings(foot: FootMotion, signal: Signal) -> tuple[Finding, ...]:
    scale = turning_scale(foot, signal)
    off = 0.0 if scale is None else 1.0 / scale - 1.0
    if abs(off) < GAIN_NOTICED:
        return ()
    what = (
        f"the gyroscope of the foot reads some {100 * abs(off):.0f} % {'more' if off > 0 else 'less'} than the foot "
        "turned, as far as the velocity left at the end of its swings tells, or the sampling rate is not what was said"
    )
    remedy = "Check the sampling rate and the scale in the logger profile; if they are right, calibrate the sensor."
    if abs(off) > GAIN_REFUSED:
        raise SignalError(f"{what}.", code="gyroscope-gain-unusable", where=signal.source, remedy=remedy)
    what = f"{what}. Angular rates may be off by as much, stride length and angles by less."
    return (Finding("gyroscope-gain", "warning", what, remedy, segment="foot", side=foot.side),)


def _elsewhere(foot: FootMotion, parts: list[FloatArray], cut: tuple[int, int], *, fell: bool) -> BoolArray:
    """(n,) True where the sensor did not sit as the motion was computed with, and between the two seats."""
    up = foot.mounting.matrix[2]
    off = [_between(part, up) for part in parts]
    keep = 0 if fell or off[0] <= off[1] else 1
    bad = np.ones(len(foot.trusted), dtype=np.bool_)
    if off[keep] <= SEATED:
        bad[slice(0, cut[0] + 1) if keep == 0 else slice(cut[1], None)] = False
    return bad


def _told(angle: float, at_s: float, foot: FootMotion) -> Finding:
    how = "fell off" if angle >= FELL else "slipped"
    finding = Finding(
        "sensor-slipped",
        "warning",
        f"The foot's sensor {how} at about {at_s:.0f} s: on the flat foot it is turned by {np.degrees(angle):.0f} deg "
        "from then on. Strides in which it did not sit as in the rest of the walk do not count.",
        "Fasten it anew, and measure its place on the shoe again.",
        segment="foot",
        side=foot.side,
        start_s=float(at_s),
    )
    return replace(finding, code="sensor-fell-off") if angle >= FELL else finding


def _directions(foot: FootMotion, signal: Signal) -> FloatArray:
    force = signal.acceleration[around(foot.anchors, foot.rate_hz, len(signal.acceleration))].mean(axis=1)
    return np.asarray(force / np.linalg.norm(force, axis=1, keepdims=True))


def _levelled(directions: FloatArray, foot: FootMotion, ground: Ground) -> FloatArray:
    """The directions (k, 3) as they would be if every ramp were level."""
    slope = np.zeros(len(directions))
    for k, value in zip(ground.node, ground.slope, strict=True):
        slope[k + 1 :] = value  # where the step ended, until the next
    cosine, sine = np.cos(slope), np.sin(slope)
    segment = directions @ foot.mounting.matrix.T
    # Toes-up by the slope, gravity's reaction leans forward in the foot.
    level = np.array(segment)
    level[:, 0] = cosine * segment[:, 0] - sine * segment[:, 2]
    level[:, 2] = sine * segment[:, 0] + cosine * segment[:, 2]
    return np.asarray(level @ foot.mounting.matrix)


def _middle(directions: FloatArray) -> FloatArray:
    return np.asarray(np.median(directions, axis=0))


def _between(one: FloatArray, other: FloatArray) -> float:
    cosine = one @ other / (np.linalg.norm(one) * np.linalg.norm(other))
    return float(np.arccos(np.clip(cosine, -1.0, 1.0)))
