"""A first look at each stretch of walking: what it tells of the shank's clock, its seat, and how the person stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from firstrocker.errors import SignalError
from firstrocker.model import BoolArray, FloatArray, Log, Signal
from firstrocker.motion.remounted import LEAST_STRETCHES, OTHER_WAY, part_by_seat
from firstrocker.motion.rest import find_rest
from firstrocker.motion.shank import Stood
from firstrocker.motion.standing import STANDING_SE
from firstrocker.signals.checks import check_log
from firstrocker.signals.exchanged import same_segment, stillness
from firstrocker.signals.match import MATCH_RATE_HZ, Match, match_clocks
from firstrocker.signals.usable import side_by_side

FLANK_S = 1.0
"""Who walked until so shortly before a rest, or from so shortly after it, stood in it: to sit down or get up takes
longer. From memory, no source."""
LONGEST_STAND_S = 15.0
FEW, MANY, MANY_S = 2, 5, 3.0
"""Lags that are looked at where the clocks are known roughly, and where they may be off by so many s or more."""
BESIDE_S = 0.5
"""Foot and shank turn within so long of each other in walking; a foot that taps leaves the shank still."""
SAME_SEAT = np.radians(15.0)
"""rad between the shank's mean direction in two stretches up to which its sensor sat alike; common practice, no
source."""
LEAST_STANDS = 3


@dataclass(frozen=True, eq=False)
class Look:
    """What one stretch says of one side.

    piece: its number. time: s of the foot's clock for which lag holds. lag, lag_se: s by which the shank's clock is off
    what was thought; NaN where the stretch does not tell. tells: whether it is long enough to. one_segment: whether
    both turned as one. swapped: how many times as still the shank stands as the foot; NaN: too short. way: (3,) the
    shank's mean direction in walking, sensor axes. stands: (k, 3) m/s^2 specific force of each time the person stood.
    """

    piece: int
    time: float
    lag: float
    lag_se: float
    tells: bool
    swapped: float
    one_segment: bool
    way: FloatArray
    stands: FloatArray


def look_at(
    piece: int,
    foot: Log,
    shank: Log,
    *,
    turning: float,
    tells: bool,
    max_bridge_s: float,
    max_offset_s: float,
    rest_min_s: float,
    rest_gyro: float,
) -> Look | None:
    """Look at one side of one stretch.

    Args:
        piece: its number.
        foot: its foot log, s since that log's first sample.
        shank: its shank log, laid on the same clock as well as is known.
        turning: rad/s from which the foot moves.
        tells: whether it is long enough to tell of clocks.
        max_bridge_s: gaps up to this long are interpolated.
        max_offset_s: how far off the shank's clock may be.
        rest_min_s: least length of a quiet stretch.
        rest_gyro: rad/s, greatest spread of angular velocity at rest.

    Returns:
        None where one of the logs cannot be used.
    """
    try:
        checked = [(log, check_log(log, max_bridge_s=max_bridge_s)) for log in (foot, shank)]
    except SignalError:
        return None
    pair = side_by_side(checked[0], checked[1], max_bridge_s=max_bridge_s)
    same = float(foot.time[0] - shank.time[0])
    match = Match(why="too short")
    if tells:
        match = match_clocks(
            *pair, same_clock_lag_s=same, max_offset_s=max_offset_s, candidates=FEW if max_offset_s < MANY_S else MANY
        )
    lag = match.lag if not match.why else same
    moving = _walking(*pair, lag, turning)
    way, stands = _stood(pair[1], lag, moving, rest_min_s=rest_min_s, rest_gyro=rest_gyro)
    return Look(
        piece=piece,
        time=float(foot.time[0]) + match.middle,
        lag=float("nan") if match.why else match.lag - same,
        lag_se=match.lag_se,
        tells=tells,
        swapped=_swapped(*pair),
        one_segment=not match.why and same_segment(*pair, lag=match.at, rate_hz=MATCH_RATE_HZ),
        way=way,
        stands=stands,
    )


def _swapped(foot: Signal, shank: Signal) -> float:
    one, other = (stillness(signal.angular_velocity, rate_hz=MATCH_RATE_HZ) for signal in (foot, shank))
    return one / max(other, 1e-9)


def _walking(foot: Signal, shank: Signal, lag: float, turning: float) -> BoolArray:
    """(n,) of the foot's samples: whether it turns, and the shank about then."""
    from scipy.ndimage import binary_dilation

    both = [np.linalg.norm(signal.angular_velocity, axis=1) > turning for signal in (foot, shank)]
    wide = np.ones(2 * round(BESIDE_S * MATCH_RATE_HZ) + 1, dtype=np.bool_)
    beside = np.asarray(binary_dilation(both[1], wide))
    there = np.clip(np.arange(len(both[0])) + round(lag * MATCH_RATE_HZ), 0, len(beside) - 1)
    return np.asarray(both[0] & beside[there])


def _stood(
    shank: Signal, lag: float, moving: BoolArray, *, rest_min_s: float, rest_gyro: float
) -> tuple[FloatArray, FloatArray]:
    """The shank's mean direction while the foot walks, and its specific force each time the person stood in between."""
    rate = MATCH_RATE_HZ
    busy = np.flatnonzero(moving)
    count = len(shank.acceleration)
    if not len(busy):
        return np.full(3, np.nan), np.empty((0, 3))
    low, high = (int(np.clip(place + lag * rate, 0, count - 1)) for place in (busy[0], busy[-1]))
    mean = shank.acceleration[low : high + 1].mean(axis=0)
    rest = find_rest(
        shank.acceleration, shank.angular_velocity, shank.valid, rate, rest_min_s=rest_min_s, rest_gyro=rest_gyro
    )
    stands = []
    reach = round(FLANK_S * rate)
    for (first, stop), gravity in zip(rest.spans, rest.gravity, strict=True):
        a, b = (int(np.clip(place - lag * rate, 0, len(moving))) for place in (first, stop))
        flanked = moving[max(a - reach, 0) : a].any() or moving[b : b + reach].any()
        # A rest that the stretch cuts off may be a long one, in a chair.
        ended = first > 0 and stop < count and stop - first <= LONGEST_STAND_S * rate
        if b > a and ended and flanked and not moving[a:b].any():
            stands.append(gravity)
    return mean / max(float(np.linalg.norm(mean)), 1e-9), np.array(stands).reshape(-1, 3)


def stood_at(looks: Sequence[Look], piece: int) -> Stood:
    """How a shank's sensor lies in standing in one stretch: by all stretches in which it sat alike.

    Those from another time of putting it on do not count, however little the sensor has moved by it.
    """
    mine = next((look for look in looks if look.piece == piece), None)
    if mine is None or not np.isfinite(mine.way).all():
        return Stood(None)
    told = [look for look in looks if np.isfinite(look.way).all()]
    ends = [0, *(cut for cut, _ in changed_ways(told)), len(told)]
    place = told.index(mine)
    worn = next(told[a:b] for a, b in pairwise(ends) if a <= place < b)
    alike = [look for look in worn if np.arccos(np.clip(look.way @ mine.way, -1.0, 1.0)) < SAME_SEAT]
    stands = np.concatenate([np.empty((0, 3)), *(look.stands for look in alike)])
    if len(stands) < LEAST_STANDS:
        return Stood(None)
    up = np.median(stands, axis=0)
    off = [np.arccos(np.clip(s @ up / np.linalg.norm(s) / np.linalg.norm(up), -1.0, 1.0)) for s in stands]
    always, _ = STANDING_SE
    return Stood(up, float(np.hypot(always, np.median(off) / np.sqrt(len(stands)))))


def changed_ways(looks: Sequence[Look]) -> list[tuple[int, float]]:
    """Where the shank's mean direction changes for good, and by how much (rad); see :func:`part_by_seat`."""
    ways = np.array([look.way for look in looks]).reshape(-1, 1, 3)
    return part_by_seat(ways, least=OTHER_WAY, least_part=LEAST_STRETCHES)
