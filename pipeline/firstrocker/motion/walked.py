"""Where a foot walked, told from steps that are none of walking: a foot drawn back under a chair, a sensor handled."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass

import numpy as np

from firstrocker.model import BoolArray, IntArray

LEAST_STEPS = 3
"""Steps of one foot, one soon after the other, that nobody makes who only handles a sensor or pulls a foot back."""
PAUSE_TIMES, PAUSE_MORE_S, PAUSE_MOST_S = 1.6, 0.25, 4.0
"""Times the usual stride, s more, and at most so many s, from one step of a foot to its next beyond which it has
paused: a stance twice as long as usual, and a little more."""
NEAR_S, NEAR_TIMES, NEAR_MORE_S, NEAR_MOST_S = 1.2, 0.6, 0.5, 2.0
"""s between a rest and the nearest step within which nobody gets up or sits down, for that takes 1.5 to 3 s; of who
walks slowly so many strides and s more, up to the last. From memory, no source."""


@dataclass(frozen=True)
class Bouts:
    """Where a foot walked.

    steps: per bout its first and last anchor that a step followed, by number. spans: per bout first and one past last
    samples, from the last rest before the first step to the first after the last. stride_s: s from one step to the
    next, mostly.
    """

    steps: tuple[tuple[int, int], ...]
    spans: tuple[tuple[int, int], ...]
    stride_s: float

    @property
    def near_s(self) -> float:
        """S from a step within which this person neither gets up nor sits down."""
        return min(max(NEAR_S, NEAR_TIMES * self.stride_s + NEAR_MORE_S), NEAR_MOST_S)

    def before(self, stop: int) -> int | None:
        """Where the last bout ended that was over by sample ``stop``; None without one."""
        place = bisect_right(self.spans, stop, key=lambda span: span[1])
        return self.spans[place - 1][1] if place else None

    def after(self, first: int) -> int | None:
        """Where the first bout begins that begins from sample ``first`` on; None without one."""
        place = bisect_left(self.spans, first, key=lambda span: span[0])
        return self.spans[place][0] if place < len(self.spans) else None

    def holds(self, first: int, stop: int) -> bool:
        """Whether a bout begins before ``first`` and ends after ``stop``."""
        place = bisect_left(self.spans, first, key=lambda span: span[0])
        return bool(place) and stop < self.spans[place - 1][1]

    def stances(self, index: IntArray) -> IntArray:
        """The samples of the anchors ``index`` between two steps of a bout; of a bout of one step where that ended."""
        parts = [index[a + 1 : max(b, a + 1) + 1] for a, b in self.steps]
        return np.concatenate([np.empty(0, dtype=np.int64), *parts])

    def within(self, count: int) -> BoolArray:
        """(count,) True within bouts."""
        mask = np.zeros(count, dtype=np.bool_)
        for first, stop in self.spans:
            mask[first:stop] = True
        return mask


def bouts_of(index: IntArray, moved: BoolArray, rate_hz: float) -> Bouts:
    """Steps that follow each other as in walking.

    Args:
        index: (k,) samples of the foot's anchors.
        moved: (k - 1,) whether it stepped between two.
        rate_hz: samples per second.

    Returns:
        Bouts of :data:`LEAST_STEPS` or more; where there are none, the longest there are.
    """
    steps = np.flatnonzero(moved)
    if not len(steps):
        return Bouts((), (), 0.0)
    # From the middle of one step to that of the next: where a foot rolls on there is but one anchor in a stance.
    apart = np.diff(0.5 * (index[steps] + index[steps + 1])) / rate_hz
    usual = float(np.median(apart)) if len(apart) else 0.0
    parts = np.split(steps, np.flatnonzero(apart > min(PAUSE_TIMES * usual + PAUSE_MORE_S, PAUSE_MOST_S)) + 1)
    least = min(LEAST_STEPS, max(map(len, parts)))
    kept = tuple((int(part[0]), int(part[-1])) for part in parts if len(part) >= least)
    return Bouts(kept, tuple((int(index[a]), int(index[b + 1]) + 1) for a, b in kept), usual)
