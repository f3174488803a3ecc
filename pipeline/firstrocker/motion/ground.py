"""What ground a foot went over: level, a ramp or stairs, step by step, and how sure that is.

Two things tell. The foot's path, integrated with its height left free, rises or falls from one foot flat to the next;
and on a ramp the foot lies tilted when it is flat. The path errs by millimetres per metre that a whole walk shares
(what a sensor misses of every push and landing) and by some more from step to step; a foot that stands is tilted
against the foot in standing by a degree or two, the same in a whole walk, and by another from step to step. So a hidden
Markov model runs over the steps, with states level, ramps of every half degree, and stairs either way, and is summed
over what a walk shares (Rabiner 1989 for the sums). The sizes of these errors, and how long their tails are, were taken
from the open recordings of feet on a level floor that the tests read, those for choosing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.model import BoolArray, FloatArray, IntArray
from firstrocker.motion.foot import FootMotion

LEVEL, UP, DOWN, STAIRS_UP, STAIRS_DOWN, UNKNOWN = "level", "up", "down", "stairs_up", "stairs_down", "unknown"
GROUNDS = (LEVEL, UP, DOWN, STAIRS_UP, STAIRS_DOWN)
"""The kinds of ground, in the order of probabilities; ``unknown`` where none is likely enough."""

SURE = 0.8
"""Probability from which a ground that is not level is named."""
COUNTS_AS_LEVEL = 0.7
"""Probability from which ground is level: far the most common at home and in a clinic."""
LEVEL_BESIDE = 0.95
"""The same for a step beside one that is not level."""
STEEPNESS = np.radians(np.arange(2.0, 12.01, 0.5))
"""rad of the ramps that are told apart. Below half the first a ramp passes for level; 4.8 deg is the steepest that
building rules commonly allow (from memory, no source)."""
RISERS = ((0.17, 0.025, 0.5), (0.34, 0.045, 0.5))
"""m, give or take, and share: a step of stairs for one foot at a time, and two, foot over foot; common practice."""

SHARED_RISE = np.arange(-0.018, 0.0421, 0.004)
SHARED_RISE_MEAN, SHARED_RISE_SD = 0.007, 0.008
"""m per m that a walk's path rises by error."""
SHARED_TILT = np.radians(np.arange(-4.0, 4.1, 1.0))
SHARED_TILT_SD = np.radians(1.8)
"""rad by which a walk's standing foot is tilted against the foot in standing."""
RISE_SD, RISE_PER_M, RISE_PER_MISSED, MUCH_MISSED = 0.003, 0.003, 0.06, 4.0
"""m, m per m of length, m per m/s of velocity left over and its growth per m/s: the scale of a step's own error, which
is of Student's distribution with :data:`FREEDOM` degrees of freedom."""
LOST_M_S = 0.25
"""m/s left over from which the sensor did not see all of a step."""
TILT_SD, TILT_ON_STAIRS, TILT_TURNING, TILT_UNSURE = np.radians(0.9), np.radians(4.0), 2.0, 4.0
"""rad of a foot's own tilt from stance to stance; where it may stand on the edge of a tread; how many times more in a
turn, and where the sensor did not see all of a step."""
FREEDOM = 3.0
LEAST_CHANGES, NORMAL_CHANGE = 5, 0.954
"""Steps from which a walk's own scatter is told; by how much two normal values differ (median), by their deviation."""
RISE_UNSURE = 0.06
"""m, the scale where samples or a shock are missing."""
CHUNK = 300
"""Steps among which errors are shared; more would be many hours, and a sensor worn anew."""

EDGE = np.radians(1.5)
"""rad by which a foot must lie otherwise than its ramp, to be on the edge of it."""

_FIRST = {"level": 0.93, "ramp": 0.05, "stairs": 0.02}
_STAY = {"level": 0.975, "ramp": 0.93, "stairs": 0.72}
COMMON_STEEPNESS = np.radians(6.0)
"""rad by which ramps become rarer by the factor e, the steeper they are."""
_NEXT_STEEPNESS, _TURNED_ROUND = 0.06, 0.02  # of staying on a ramp: half a degree more or less; down it, or up again


@dataclass(frozen=True)
class Ground:
    """The ground of every step of one foot.

    node: (m,) number of the first of the two anchors it lies between. kind: (m,) of :data:`GROUNDS`, or ``unknown``.
    chance: (m, 5) probability of each. rise: (m,) m height gained, what the walk gains by error taken off. rise_se:
    (m,) m its standard error. slope: (m,) rad on a ramp in the direction walked, else 0. edge: (m,) whether a ramp
    began or ended under the step.
    """

    node: IntArray
    kind: tuple[str, ...]
    chance: FloatArray
    rise: FloatArray
    rise_se: FloatArray
    slope: FloatArray
    edge: BoolArray

    @property
    def level(self) -> bool:
        """Whether it is all level."""
        return all(kind == LEVEL for kind in self.kind)


@dataclass(frozen=True)
class _Seen:
    """What was seen of each step, (m,): m rise, its scale, m length, rad tilt along the way at both ends (m, 2)."""

    rise: FloatArray
    scale: FloatArray
    length: FloatArray
    tilt: FloatArray
    tilt_scale: FloatArray


def find_ground(foot: FootMotion) -> Ground:
    """Which ground the foot went over.

    Args:
        foot: its motion, as tracked: height taken as level, ``climb`` what that took away.

    Returns:
        One entry per step.
    """
    node = np.flatnonzero(foot.moved)
    seen = _seen(foot, node)
    slopes = np.concatenate([[0.0], STEEPNESS, -STEEPNESS, [0.0, 0.0]])
    parts = [
        _chances(_Seen(*(values[first : first + CHUNK] for values in vars(seen).values())), slopes)
        for first in range(0, len(node), CHUNK)
    ]
    state = np.concatenate([part[0] for part in parts])
    shared = np.concatenate([np.tile(part[1], (len(part[0]), 1)) for part in parts])
    ramps = len(STEEPNESS)
    groups = np.split(state, [1, 1 + ramps, 1 + 2 * ramps, 2 + 2 * ramps], axis=1)
    chance = np.stack([group.sum(axis=1) for group in groups], axis=1)
    named = _named(chance)
    mean = (state @ slopes) / np.maximum(chance[:, 1] + chance[:, 2], 1e-9)
    slope = np.where(np.isin(named, (UP, DOWN)), mean, 0.0)
    lies = seen.tilt - shared[:, 1:]
    edge = (np.abs(lies - slope[:, None]) > np.maximum(0.5 * np.abs(slope), EDGE)[:, None]).any(axis=1) & (slope != 0.0)
    kind = _ends_level(named, slope, lies)
    return Ground(node, kind, chance, seen.rise - shared[:, 0] * seen.length, seen.scale, slope, edge)


def _named(chance: FloatArray) -> tuple[str, ...]:
    kind = [GROUNDS[k] for k in chance.argmax(axis=1)]
    least = [COUNTS_AS_LEVEL if one == LEVEL else SURE for one in kind]
    for k in range(len(kind)):
        beside = {*kind[max(k - 1, 0) : k], *kind[k + 1 : k + 2]} - {LEVEL}
        # A step onto a ramp or off it is half of either, and easily taken for level.
        if kind[k] == LEVEL and beside:
            least[k] = LEVEL_BESIDE
    return tuple(one if row.max() >= need else UNKNOWN for one, row, need in zip(kind, chance, least, strict=True))


def _ends_level(kind: tuple[str, ...], slope: FloatArray, tilt: FloatArray) -> tuple[str, ...]:
    """The kinds; a step that begins or ends with the foot lying as on the ramp beside it is not level."""
    out = list(kind)
    for k in np.flatnonzero(slope):
        for beside, end in ((k - 1, 1), (k + 1, 0)):
            if 0 <= beside < len(out) and out[beside] == LEVEL and tilt[beside, end] / slope[k] > 0.5:
                out[beside] = UNKNOWN
    return tuple(out)


def _seen(foot: FootMotion, node: IntArray) -> _Seen:
    places = foot.position[foot.anchors]
    way = (places[node + 1] - places[node])[:, :2]
    length = np.linalg.norm(way, axis=1)
    normal = foot.rotation(foot.anchors)[:, :2, 2]
    along = way / np.maximum(length, 1e-9)[:, None]
    tilt = np.stack([-(normal[node + end] * along).sum(axis=1) for end in (0, 1)], axis=1)
    missed = np.linalg.norm(foot.misclosure[node], axis=1)
    heading = foot.heading[foot.anchors]
    turned = np.abs(heading[node + 1] - heading[node])
    scale = np.hypot(RISE_SD + RISE_PER_M * length, RISE_PER_MISSED * missed * (1.0 + MUCH_MISSED * missed))
    whole = np.array([foot.trusted[foot.anchors[k] : foot.anchors[k + 1]].all() for k in node], dtype=np.bool_)
    whole &= missed < LOST_M_S
    scale = np.where(whole, np.maximum(scale, _scatter(foot.climb[node] / length, whole) * length), RISE_UNSURE)
    tilt_scale = TILT_SD * np.where(turned > 0.35, TILT_TURNING, 1.0) * np.where(whole, 1.0, TILT_UNSURE)
    return _Seen(foot.climb[node], scale, length, tilt, tilt_scale)


def _scatter(rise: FloatArray, whole: BoolArray) -> float:
    """M per m by which the rises (m,) of steps differ from each next one, ground that changes now and then left aside.

    A sensor that reads shocks badly, be it too seldom or late, makes them scatter more than most sensors do.
    """
    change = np.abs(np.diff(rise[whole]))
    return float(np.median(change)) / NORMAL_CHANGE if len(change) >= LEAST_CHANGES else 0.0


def _student(away: FloatArray, scale: FloatArray) -> FloatArray:
    """Logarithm of Student's density but for a constant."""
    return np.asarray(-0.5 * (FREEDOM + 1.0) * np.log1p((away / scale) ** 2 / FREEDOM) - np.log(scale))


def _rises(seen: _Seen, slopes: FloatArray) -> FloatArray:
    """(m, shared rises, states) logarithm of how likely each rise is."""
    rise = seen.rise[:, None] - SHARED_RISE * seen.length[:, None]
    scale = seen.scale[:, None, None]
    # Ramps are told apart by half degrees only.
    wide = np.hypot(scale, np.where(slopes != 0.0, np.radians(0.2), 0.0) * seen.length[:, None, None])
    out = _student(rise[:, :, None] - np.tan(slopes) * seen.length[:, None, None], wide)
    for state, sign in ((-2, 1.0), (-1, -1.0)):
        parts = [
            np.log(share) + _student(sign * rise - middle, np.hypot(give, seen.scale[:, None]))
            for middle, give, share in RISERS
        ]
        out[:, :, state] = np.logaddexp(*parts)
    return out


def _tilts(seen: _Seen, slopes: FloatArray) -> FloatArray:
    """(m, shared tilts, states) logarithm of how likely the tilts at both ends are, each foot flat counted half."""
    scale = np.broadcast_to(seen.tilt_scale[:, None, None], (len(seen.rise), 1, len(slopes))).copy()
    scale[:, :, -2:] = np.maximum(scale[:, :, -2:], TILT_ON_STAIRS)
    ends = [0.5 * _student(seen.tilt[:, end, None, None] - SHARED_TILT[:, None] - slopes, scale) for end in (0, 1)]
    return np.asarray(ends[0] + ends[1])


def _chances(seen: _Seen, slopes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(m, states) probability of each state at each step; rise (m per m) and tilt (rad) by error that all share."""
    rises, tilts = _rises(seen, slopes), _tilts(seen, slopes)
    count, states = len(seen.rise), len(slopes)
    seen_log = (rises[:, :, None, :] + tilts[:, None, :, :]).reshape(count, -1, states)
    highest = seen_log.max(axis=2, keepdims=True)
    likely = np.exp(seen_log - highest)
    change = _change()
    forward = np.empty_like(likely)
    weight = np.add.outer(
        -0.5 * ((SHARED_RISE - SHARED_RISE_MEAN) / SHARED_RISE_SD) ** 2, -0.5 * (SHARED_TILT / SHARED_TILT_SD) ** 2
    ).ravel()
    now = np.broadcast_to(change.first, likely.shape[1:])
    for k in range(count):
        now = (now if k == 0 else change.onward(now)) * likely[k]
        total = now.sum(axis=1, keepdims=True)
        now = forward[k] = now / total
        weight = weight + np.log(total[:, 0]) + highest[k, :, 0]
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    back = np.ones(likely.shape[1:])
    out = np.empty((count, states))
    for k in range(count - 1, -1, -1):
        both = forward[k] * back
        out[k] = (both * (weight / both.sum(axis=1))[:, None]).sum(axis=0)
        back = change.backward(likely[k] * back)
        back /= back.sum(axis=1, keepdims=True)
    both = weight.reshape(len(SHARED_RISE), -1)
    return out, np.array([both.sum(axis=1) @ SHARED_RISE, both.sum(axis=0) @ SHARED_TILT])


@dataclass(frozen=True)
class _Change:
    """How the state of one step leads to the next one's; all (states,).

    first: probability of the first step's state. away: of leaving, over that of all other states together. keep: of
    staying. right, left: of going on one state further or back, half a degree of the same ramp. round: of the same
    ramp the other way, whose state is ``other``. Kept apart rather than as a matrix, for the sums are then linear in
    the number of states.
    """

    first: FloatArray
    away: FloatArray
    keep: FloatArray
    right: FloatArray
    left: FloatArray
    round: FloatArray
    other: IntArray

    def onward(self, now: FloatArray) -> FloatArray:
        """(..., states) probabilities one step on."""
        leaving = now * self.away
        out = leaving.sum(axis=-1, keepdims=True) * self.first - leaving * self.first + now * self.keep
        out += (now * self.round)[..., self.other]
        out[..., 1:] += now[..., :-1] * self.right[:-1]
        out[..., :-1] += now[..., 1:] * self.left[1:]
        return np.asarray(out)

    def backward(self, then: FloatArray) -> FloatArray:
        """(..., states) how likely what follows is, seen one step earlier."""
        weighed = then * self.first
        out = self.away * (weighed.sum(axis=-1, keepdims=True) - weighed) + then * self.keep
        out += then[..., self.other] * self.round
        out[..., :-1] += then[..., 1:] * self.right[:-1]
        out[..., 1:] += then[..., :-1] * self.left[1:]
        return np.asarray(out)


def _change() -> _Change:
    """Mostly the same ground as before; else any other, as often as it is the first."""
    ramps = len(STEEPNESS)

    def each(level: float, ramp: FloatArray | float, stairs: float) -> FloatArray:
        return np.concatenate([[level], np.tile(np.broadcast_to(ramp, ramps), 2), np.full(2, stairs)])

    common = np.exp(-STEEPNESS / COMMON_STEEPNESS)
    first = each(_FIRST["level"], 0.5 * _FIRST["ramp"] * common / common.sum(), _FIRST["stairs"] / 2)
    stay = each(_STAY["level"], _STAY["ramp"], _STAY["stairs"])
    right, left = (each(0.0, 0.5 * _NEXT_STEEPNESS, 0.0) for _ in range(2))
    right[[ramps, 2 * ramps]] = left[[1, 1 + ramps]] = 0.0
    back = each(0.0, _TURNED_ROUND, 0.0)
    other = np.concatenate([[0], np.arange(ramps) + 1 + ramps, np.arange(ramps) + 1, [2 * ramps + 1, 2 * ramps + 2]])
    return _Change(first, (1.0 - stay) / (1.0 - first), stay - right - left - back, right, left, back, other)
