"""How likely each ground is at every step: a hidden Markov model, summed over the errors that steps share.

Its states are level ground, ramps of every half degree up and down, and stairs up and down. Two errors are the same in
a whole walk: by how much its path rises, and how tilted its foot stands. They are tried in pairs, each on a grid, and
every pair counts as much as it explains what was seen (Rabiner 1989 for the sums).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from firstrocker.model import FloatArray, IntArray

STEEPNESS = np.radians(np.arange(2.0, 12.01, 0.5))
"""rad of the ramps that are told apart. Below half the first a ramp passes for level; 4.8 deg is the steepest that
building rules commonly allow (from memory, no source)."""
RISERS = ((0.17, 0.025, 0.5), (0.34, 0.045, 0.5))
"""m, give or take, and share: a step of stairs for one foot at a time, and two, foot over foot; common practice."""
SLOPES = np.concatenate([[0.0], STEEPNESS, -STEEPNESS, [0.0, 0.0]])
"""rad of every state, in order: level, up, down, stairs up, stairs down."""
BEGINS = (0, 1, 1 + len(STEEPNESS), 1 + 2 * len(STEEPNESS), 2 + 2 * len(STEEPNESS))
"""At which state each of these kinds begins."""
RAMPS, STAIRS = slice(1, len(SLOPES) - 2), slice(len(SLOPES) - 2, None)

SHARED_RISE = np.arange(-0.018, 0.0421, 0.004)
SHARED_RISE_MEAN, SHARED_RISE_SD = 0.007, 0.008
"""m per m that a walk's path rises by error."""
SHARED_TILT = np.radians(np.arange(-4.0, 4.1, 1.0))
SHARED_TILT_SD = np.radians(1.8)
"""rad by which a walk's standing foot is tilted against the foot in standing."""
PRIOR = np.add.outer(
    -0.5 * ((SHARED_RISE - SHARED_RISE_MEAN) / SHARED_RISE_SD) ** 2, -0.5 * (SHARED_TILT / SHARED_TILT_SD) ** 2
).ravel()
"""(pairs,) logarithm of how likely each pair of errors is before anything was seen, but for a constant."""
TILT_ON_STAIRS = np.radians(4.0)
"""rad of a foot's own tilt where it may stand on the edge of a tread."""
RAMP_GIVE = np.radians(0.2)
"""rad of a ramp's own: they are told apart by half degrees only."""
FREEDOM = 3.0
"""Degrees of freedom of Student's distribution, of which a step's own errors are."""
CHUNK = 300
"""Steps among which errors are shared; more would be many hours, and a sensor worn anew."""

_FIRST = {"level": 0.93, "ramp": 0.05, "stairs": 0.02}
_STAY = {"level": 0.975, "ramp": 0.93, "stairs": 0.72}
COMMON_STEEPNESS = np.radians(6.0)
"""rad by which ramps become rarer by the factor e, the steeper they are."""
_BESIDE, _ROUND = 0.03, 0.02  # of staying on a ramp: half a degree more, and less; down it, or up again

NEGLIGIBLE = 35.0
"""Pairs of errors that weigh less than another by more than the factor exp of this are left out: all 144 of them
together are less than 1e-13 of everything."""
AT_ONCE = 160
"""Pairs, of several parts of a walk, that are followed side by side; more would save no time and take memory."""


@dataclass(frozen=True)
class Seen:
    """What was seen of each step, (m,): m rise, its scale, m length, rad tilt along the way at both ends (m, 2)."""

    rise: FloatArray
    scale: FloatArray
    length: FloatArray
    tilt: FloatArray
    tilt_scale: FloatArray


@dataclass(frozen=True)
class Chances:
    """state: (m, states) probability of each state. rise: (m,) m per m, tilt: (m,) rad, by error that steps share."""

    state: FloatArray
    rise: FloatArray
    tilt: FloatArray


def chances(seen: Seen) -> Chances:
    """How likely each state is at each step, and which errors the steps share.

    Only pairs of errors that matter are followed all the way. What a pair weighs is a product over the steps, each
    factor a mean over the states and so at most the likeliest one's; where that bound is far below what another pair is
    known to weigh, the pair is left out.
    """
    change = _change()
    parts = [
        _part(Seen(*(values[first : first + CHUNK] for values in vars(seen).values())))
        for first in range(0, len(seen.rise), CHUNK)
    ]
    likeliest = [np.array([part.bound.argmax()]) for part in parts]
    known, _ = _forward(_of_pairs(parts, likeliest), change)
    pairs = [
        np.flatnonzero(part.bound >= PRIOR[one] + weight - NEGLIGIBLE)
        for part, one, weight in zip(parts, likeliest, known, strict=True)
    ]
    found = [
        one
        for batch in _batches([len(one) for one in pairs], AT_ONCE)
        for one in _summed(parts[batch], pairs[batch], change)
    ]
    return Chances(*(np.concatenate([getattr(one, name) for one in found]) for name in ("state", "rise", "tilt")))


@dataclass(frozen=True)
class _Part:
    """Steps that share their errors. bound: (pairs,) logarithm of the most that each pair of errors may weigh."""

    seen: Seen
    bound: FloatArray


def _part(seen: Seen) -> _Part:
    # A bound need not be exact: half as long numbers take half the time.
    rise, tilt = (likely.astype(np.float32) for likely in (_rises(seen, SHARED_RISE), _tilts(seen, SHARED_TILT)))
    most = np.zeros((rise.shape[1], *tilt.shape[1:]), dtype=np.float32)
    for one, other in zip(rise, tilt, strict=True):
        np.maximum(most, one[:, None] * other, out=most)
    return _Part(seen, PRIOR + np.log(most).sum(axis=-1, dtype=np.float64).ravel())


def _student(away: FloatArray, scale: FloatArray) -> FloatArray:
    """Student's density but for a constant."""
    return np.asarray(1.0 / ((1.0 + (away / scale) ** 2 / FREEDOM) ** (0.5 * (FREEDOM + 1.0)) * scale))


def _rises(seen: Seen, shared: FloatArray) -> FloatArray:
    """(states, r, m) how likely each rise is, with each of the errors ``shared`` (r,)."""
    rise = seen.rise - shared[:, None] * seen.length
    level = _student(rise, seen.scale)
    wide = np.hypot(seen.scale, RAMP_GIVE * seen.length)
    ramps = _student(rise - np.tan(SLOPES[RAMPS])[:, None, None] * seen.length, wide)
    stairs = [
        sum(share * _student(sign * rise - middle, np.hypot(give, seen.scale)) for middle, give, share in RISERS)
        for sign in (1.0, -1.0)
    ]
    return np.concatenate([level[None], ramps, stairs])


def _tilts(seen: Seen, shared: FloatArray) -> FloatArray:
    """(states, t, m) how likely the tilts at both ends are, with each of the errors ``shared`` (t,)."""
    # Most sums of a slope and a shared tilt come several times.
    expected = SLOPES[:, None] + shared
    _, first, place = np.unique(np.round(expected, 9), return_index=True, return_inverse=True)
    tilts = _both_ends(seen, expected.ravel()[first], seen.tilt_scale)[place]
    tilts[STAIRS] = _both_ends(seen, shared, np.maximum(seen.tilt_scale, TILT_ON_STAIRS))
    return tilts


def _both_ends(seen: Seen, expected: FloatArray, scale: FloatArray) -> FloatArray:
    """(e, m) of each of the tilts ``expected`` (e,), each foot flat counted half."""
    one, other = (1.0 + ((seen.tilt[:, end] - expected[:, None]) / scale) ** 2 / FREEDOM for end in (0, 1))
    return np.asarray(1.0 / ((one * other) ** (0.25 * (FREEDOM + 1.0)) * scale))


def _of_pairs(parts: Sequence[_Part], pairs: Sequence[IntArray]) -> FloatArray:
    """(steps, states, all pairs) how likely what was seen is; 1 past the end of a part that is shorter than another."""
    out = np.ones((max(len(part.seen.rise) for part in parts), len(SLOPES), sum(map(len, pairs))))
    begin = 0
    for part, own in zip(parts, pairs, strict=True):
        (rise, of_rise), (tilt, of_tilt) = (np.unique(of, return_inverse=True) for of in _errors(own))
        likely = _rises(part.seen, SHARED_RISE[rise])[:, of_rise] * _tilts(part.seen, SHARED_TILT[tilt])[:, of_tilt]
        out[: likely.shape[2], :, begin : begin + len(own)] = np.moveaxis(likely, 2, 0)
        begin += len(own)
    return out


def _errors(pairs: IntArray) -> tuple[IntArray, IntArray]:
    """Which of the shared rises and which of the shared tilts each pair is of."""
    return np.divmod(pairs, len(SHARED_TILT))


def _batches(sizes: Sequence[int], most: int) -> Iterator[slice]:
    """Neighbours that together are no more than ``most``, or one that is more by itself."""
    begin = total = 0
    for end, size in enumerate(sizes):
        if end > begin and total + size > most:
            yield slice(begin, end)
            begin, total = end, 0
        total += size
    if begin < len(sizes):
        yield slice(begin, len(sizes))


def _forward(likely: FloatArray, change: _Change) -> tuple[FloatArray, FloatArray]:
    """(pairs,) logarithm of how likely all of it is; (steps, states, pairs) of each state given what came before it."""
    forward, total = np.empty_like(likely), np.empty((len(likely), likely.shape[2]))
    now = change.first
    for k in range(len(likely)):
        now = np.multiply(change.onward(now) if k else now, likely[k], out=forward[k])
        now.sum(axis=0, out=total[k])
        now /= total[k]
    return np.log(total).sum(axis=0), forward


def _summed(parts: Sequence[_Part], pairs: Sequence[IntArray], change: _Change) -> list[Chances]:
    """The chances in each part, over its pairs."""
    likely = _of_pairs(parts, pairs)
    known, both = _forward(likely, change)
    back = np.ones(likely.shape[1:])
    for k in range(len(likely) - 1, -1, -1):
        both[k] *= back
        back = change.backward(likely[k] * back)
        back /= back.sum(axis=0)
    found = []
    begin = 0
    for part, own in zip(parts, pairs, strict=True):
        steps, mine = len(part.seen.rise), slice(begin, begin + len(own))
        begin = mine.stop
        weight = PRIOR[own] + known[mine]
        weight = np.exp(weight - weight.max())
        weight /= weight.sum()
        here = both[:steps, :, mine]
        state = np.einsum("ksp,kp->ks", here, weight / here.sum(axis=1))
        rise, tilt = _errors(own)
        shared = [np.full(steps, weight @ of) for of in (SHARED_RISE[rise], SHARED_TILT[tilt])]
        found.append(Chances(state, *shared))
    return found


@dataclass(frozen=True)
class _Change:
    """How the state of one step leads to the next one's; all (states, 1).

    first: probability of the first step's state. away: of leaving, over that of all other states together. stay: of
    staying, less what ``away`` gives to the same state. The few other ways, from a ramp to those beside it and round,
    are as likely forth as back. Kept apart rather than as a matrix, for the sums are then linear in the number of
    states.
    """

    first: FloatArray
    away: FloatArray
    stay: FloatArray

    def onward(self, now: FloatArray) -> FloatArray:
        """(states, ...) probabilities one step on."""
        return self._moved(now, now * self.stay + self.first * (now * self.away).sum(axis=0))

    def backward(self, then: FloatArray) -> FloatArray:
        """(states, ...) how likely what follows is, seen one step earlier."""
        return self._moved(then, then * self.stay + self.away * (then * self.first).sum(axis=0))

    def _moved(self, states: FloatArray, out: FloatArray) -> FloatArray:
        """With what goes from ramp to ramp, up and down (2, ramps, ...)."""
        ramps, onto = (one[RAMPS].reshape(2, len(STEEPNESS), -1) for one in (states, out))
        onto += _ROUND * ramps[::-1]
        beside = _BESIDE * ramps
        onto[:, 1:] += beside[:, :-1]
        onto[:, :-1] += beside[:, 1:]
        return out


def _change() -> _Change:
    """Mostly the same ground as before; else any other, as often as it is the first."""
    common = np.exp(-STEEPNESS / COMMON_STEEPNESS)
    each = np.array([1.0, *np.tile(0.5 * common / common.sum(), 2), 0.5, 0.5])
    kind = np.repeat(["level", "ramp", "stairs"], [1, 2 * len(STEEPNESS), 2])
    first = each * [_FIRST[one] for one in kind]
    stay = np.array([_STAY[one] for one in kind])
    away = (1.0 - stay) / (1.0 - first)
    ways = np.zeros(len(SLOPES))
    ways[RAMPS] = _ROUND + _BESIDE * np.tile([1.0, *[2.0] * (len(STEEPNESS) - 2), 1.0], 2)
    return _Change(*(one[:, None] for one in (first, away, stay - ways - away * first)))
