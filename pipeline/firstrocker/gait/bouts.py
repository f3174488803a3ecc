"""Swings joined to strides, strides to bouts; which of them count."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby, pairwise
from operator import itemgetter

import numpy as np

from firstrocker.gait.events import Swing
from firstrocker.model import IntArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.ground import DOWN, LEVEL, STAIRS_DOWN, STAIRS_UP, UNKNOWN, UP, Ground

LOST_M_S = 0.25
"""m/s missing at the end of a swing that say that the accelerometer did not see all of it: a shock between two samples,
a range too small, a sensor without a low-pass filter. Ordinary sensors miss some hundredths.
"""


@dataclass(frozen=True)
class Stride:
    """A stride from one heel strike to the next: ``before`` ends with its first heel strike, ``swing`` is its own.

    ground: of :mod:`firstrocker.motion.ground`, of its swing. slope: rad on a ramp in the direction walked, where the
    foot stood at its beginning. floor_known: False where edges may lie under the swing, of stairs, a ramp or what could
    not be made out.
    """

    bout: int
    number: int
    before: Swing
    swing: Swing
    left_out: str
    ground: str = LEVEL
    slope: float = 0.0
    floor_known: bool = True


PAUSE_TIMES, PAUSE_MORE_S = 2.0, 0.25
"""Times the stance that is usual in a walk, and s more, beyond which a foot has paused."""


def bout_numbers(swings: list[Swing], rate_hz: float, *, pause_s: float) -> IntArray:
    """The bout of each swing: a new one wherever the foot stood longer than ``pause_s`` between two, or than twice as
    long as it mostly does and a little more.

    Args:
        swings: in order.
        rate_hz: samples per second.
        pause_s: s from heel strike to the next toe off that end a bout.

    Returns:
        (k,) from 0.
    """
    stood = np.array([_leaves(swing) - _lands(before) for before, swing in pairwise(swings)]) / rate_hz
    if not len(stood):
        return np.zeros(len(swings), dtype=np.int64)
    longest = min(pause_s, PAUSE_TIMES * float(np.median(stood)) + PAUSE_MORE_S)
    return np.concatenate([[0], np.cumsum(stood > longest)]).astype(np.int64)


def _lands(swing: Swing) -> float:
    return swing.stop if np.isnan(swing.heel_strike) else swing.heel_strike


def _leaves(swing: Swing) -> float:
    return swing.start if np.isnan(swing.toe_off) else swing.toe_off


def find_strides(
    motion: FootMotion,
    swings: list[Swing],
    *,
    ground: Ground | None = None,
    pause_s: float,
    turn: float,
    stairs_m: float,
    min_bout_strides: int,
) -> list[Stride]:
    """Strides of one foot with the reason why one does not count.

    Args:
        motion: the foot's motion.
        swings: its swings.
        ground: under its steps; level without it.
        pause_s: see :func:`bout_numbers`.
        turn: rad by which the heading may change within a stride that counts.
        stairs_m: m by which the foot may climb within a stride that counts.
        min_bout_strides: bouts with fewer strides do not count.

    Returns:
        In order; ``left_out`` empty where the stride counts.
    """
    bouts = bout_numbers(swings, motion.rate_hz, pause_s=pause_s)
    # Bouts are numbered as they hold strides: a single step between two rests holds none.
    strides: list[Stride] = []
    kinds = {} if ground is None else dict(zip(ground.node.tolist(), ground.kind, strict=True))
    edges = set() if ground is None else set(ground.node[ground.edge].tolist())
    slopes = {} if ground is None else dict(zip(ground.node.tolist(), ground.slope.tolist(), strict=True))
    bout = 0
    for _, members in groupby(zip(bouts, swings, strict=True), key=itemgetter(0)):
        pairs = list(pairwise(swing for _, swing in members))
        for number, (before, swing) in enumerate(pairs):
            node, last = (int(np.searchsorted(motion.anchors, one.start)) for one in (swing, before))
            kind, high = kinds.get(node, LEVEL), abs(float(motion.climb[node])) > stairs_m
            if kind == LEVEL and high:
                kind = UNKNOWN
            floor_known = kind in (LEVEL, UP, DOWN) and node not in edges
            reason = _reason(motion, before, swing, node, turn=turn)
            reason = reason or _uneven(kind, high)
            # The loading is that of the landing before: whoever comes down off a step loads otherwise.
            reason = reason or _uneven(kinds.get(last, LEVEL), False)
            if not reason and len(pairs) < min_bout_strides:
                reason = "short_bout"
            if not reason and number in (0, len(pairs) - 1):
                reason = "first" if number == 0 else "last"
            strides.append(Stride(bout, number, before, swing, reason, kind, slopes.get(last, 0.0), floor_known))
        bout += bool(pairs)
    return strides


def _reason(motion: FootMotion, before: Swing, swing: Swing, node: int, *, turn: float) -> str:
    events = (before.heel_strike, before.foot_flat, swing.toe_off, swing.heel_strike)
    span = slice(before.start, swing.stop + 1)
    if np.isnan(events).any() or not motion.trusted[span].all():
        return "quality"
    if abs(motion.heading[swing.stop] - motion.heading[before.stop]) > turn:
        return "turn"
    return "quality" if np.linalg.norm(motion.misclosure[node]) > LOST_M_S else ""


def _uneven(kind: str, high: bool) -> str:
    if kind in (UP, DOWN):
        return "slope"
    if kind in (STAIRS_UP, STAIRS_DOWN):
        return "stairs"
    return ("stairs" if high else "slope") if kind == UNKNOWN else ""
