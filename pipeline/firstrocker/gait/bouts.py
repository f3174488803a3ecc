"""Swings joined to strides, strides to bouts; which of them count."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.gait.events import Swings
from firstrocker.gait.windows import how_many
from firstrocker.model import BoolArray, FloatArray, IntArray, TextArray
from firstrocker.motion.foot import FootMotion
from firstrocker.motion.ground import DOWN, GROUNDS, LEVEL, STAIRS_DOWN, STAIRS_UP, UNKNOWN, UP, Ground

LOST_M_S = 0.25
"""m/s missing at the end of a swing that say that the accelerometer did not see all of it: a shock between two samples,
a range too small, a sensor without a low-pass filter. Ordinary sensors miss some hundredths.
"""


PAUSE_TIMES, PAUSE_MORE_S = 2.0, 0.25
"""Times the stance that is usual in a walk, and s more, beyond which a foot has paused."""


@dataclass(frozen=True)
class Strides:
    """Strides of one foot in order, each from one heel strike to the next; all (k,).

    bout, number: from 0, the number within the bout. before: swings that end with the strides' first heel strike.
    swing: their own. left_out: why a stride does not count, of :data:`firstrocker.tables.LEFT_OUT_REASONS`. ground: of
    :mod:`firstrocker.motion.ground`, of its swing. slope: rad on a ramp in the direction walked, where the foot stood
    at its beginning. floor_known: False where edges may lie under the swing, of stairs, a ramp or what could not be
    made out.
    """

    bout: IntArray
    number: IntArray
    before: Swings
    swing: Swings
    left_out: TextArray
    ground: TextArray
    slope: FloatArray
    floor_known: BoolArray

    def __len__(self) -> int:
        return len(self.bout)

    @property
    def steady(self) -> BoolArray:
        """Whether each counts."""
        return np.asarray(self.left_out == "")


def bout_numbers(swings: Swings, rate_hz: float, *, pause_s: float) -> IntArray:
    """The bout of each swing: a new one wherever the foot stood longer than ``pause_s`` between two, or than twice as
    long as it mostly does and a little more.

    Args:
        swings: in order.
        rate_hz: samples per second.
        pause_s: s from heel strike to the next toe off that end a bout.

    Returns:
        (k,) from 0.
    """
    lands = np.where(np.isnan(swings.heel_strike), swings.stop, swings.heel_strike)
    leaves = np.where(np.isnan(swings.toe_off), swings.start, swings.toe_off)
    stood = (leaves[1:] - lands[:-1]) / rate_hz
    if not len(stood):
        return np.zeros(len(swings), dtype=np.int64)
    longest = min(pause_s, PAUSE_TIMES * float(np.median(stood)) + PAUSE_MORE_S)
    return np.concatenate([[0], np.cumsum(stood > longest)]).astype(np.int64)


def find_strides(
    motion: FootMotion,
    swings: Swings,
    *,
    ground: Ground | None = None,
    pause_s: float,
    turn: float,
    stairs_m: float,
    min_bout_strides: int,
) -> Strides:
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
        The strides; ``left_out`` empty where one counts.
    """
    bouts = bout_numbers(swings, motion.rate_hz, pause_s=pause_s)
    first = np.flatnonzero(bouts[1:] == bouts[:-1])
    before, swing = swings.those(first), swings.those(first + 1)
    # Bouts are numbered as they hold strides: a single step between two rests holds none.
    _, begins, bout, lengths = np.unique(bouts[first], return_index=True, return_inverse=True, return_counts=True)
    number, length = np.arange(len(first)) - begins[bout], lengths[bout]

    kinds, slopes, edges = _by_node(motion, ground)
    node, last = (np.searchsorted(motion.anchors, one.start) for one in (swing, before))
    high = np.abs(motion.climb[node]) > stairs_m
    kind = np.where((kinds[node] == LEVEL) & high, UNKNOWN, kinds[node])
    stairs, slope = _uneven(kind, high)
    # The loading is that of the landing before: whoever comes down off a step loads otherwise.
    stairs_before, slope_before = _uneven(kinds[last], np.zeros(len(last), dtype=np.bool_))
    lost = np.linalg.norm(motion.misclosure[node], axis=1) > LOST_M_S
    reasons = (
        (_not_seen(motion, before, swing), "quality"),
        (np.abs(motion.heading[swing.stop] - motion.heading[before.stop]) > turn, "turn"),
        (lost, "quality"),
        (stairs, "stairs"),
        (slope, "slope"),
        (stairs_before, "stairs"),
        (slope_before, "slope"),
        (length < min_bout_strides, "short_bout"),
        (number == 0, "first"),
        (number == length - 1, "last"),
    )
    left_out = np.select([given for given, _ in reasons], [np.array(reason) for _, reason in reasons], np.array(""))
    floor_known = np.isin(kind, (LEVEL, UP, DOWN)) & ~edges[node]
    return Strides(bout, number, before, swing, left_out, kind, slopes[last], floor_known)


def _by_node(motion: FootMotion, ground: Ground | None) -> tuple[TextArray, FloatArray, BoolArray]:
    """Kind of ground, rad of its slope and whether it has an edge, between every two anchors."""
    count = len(motion.anchors) - 1
    kinds = np.full(count, LEVEL, dtype=np.dtype(f"<U{max(len(kind) for kind in (*GROUNDS, UNKNOWN))}"))
    slopes, edges = np.zeros(count), np.zeros(count, dtype=np.bool_)
    if ground is not None:
        kinds[ground.node], slopes[ground.node], edges[ground.node] = ground.kind, ground.slope, ground.edge
    return kinds, slopes, edges


def _not_seen(motion: FootMotion, before: Swings, swing: Swings) -> BoolArray:
    """Whether an event was not found, or the signal not to be trusted, within a stride."""
    events = (before.heel_strike, before.foot_flat, swing.toe_off, swing.heel_strike)
    spoilt = how_many(np.flatnonzero(~motion.trusted), before.start, swing.stop + 1) > 0
    return np.isnan(events).any(axis=0) | spoilt


def _uneven(kind: TextArray, high: BoolArray) -> tuple[BoolArray, BoolArray]:
    """Whether ground counts as stairs, and as a slope; what could not be made out by whether it climbs ``high``."""
    unknown = kind == UNKNOWN
    stairs = np.isin(kind, (STAIRS_UP, STAIRS_DOWN)) | (unknown & high)
    return stairs, np.isin(kind, (UP, DOWN)) | (unknown & ~high)
