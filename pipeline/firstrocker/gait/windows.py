"""Stretches of a curve, one per stride and each as long as it is, worked on all at once.

The samples of all stretches lie end to end in flat arrays, so that one operation on such an array is one on every
stride, whatever their lengths, and nothing is padded.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from firstrocker.model import BoolArray, FloatArray, IntArray

Kind = TypeVar("Kind", bound=np.generic)


@dataclass(frozen=True)
class Windows:
    """k windows of whole samples of a curve (n,); they may overlap or be empty.

    first: (k,) sample number at which each begins. count: (k,) samples in each.

    Methods take ``values`` (m,), one for every sample of every window, end to end. What they tell of each window is
    (k,), places counted in samples from the window's own first; NaN where there is nothing to tell.
    """

    first: IntArray
    count: IntArray

    @cached_property
    def begin(self) -> IntArray:
        """(k,) where each window begins among the m."""
        return np.asarray(np.cumsum(self.count) - self.count)

    @cached_property
    def number(self) -> IntArray:
        """(m,) the window that each sample belongs to."""
        return np.repeat(np.arange(len(self.count)), self.count)

    @cached_property
    def sample(self) -> IntArray:
        """(m,) sample numbers."""
        return np.asarray(np.arange(len(self.number)) + self.each(self.first - self.begin))

    @cached_property
    def share(self) -> FloatArray:
        """(m,) how far along its window each sample is, from 0 to 1; of windows of two samples or more."""
        return np.asarray((self.sample - self.each(self.first)) / self.each(np.maximum(self.count - 1, 1)))

    def of(self, curve: FloatArray) -> FloatArray:
        """(m,) or (m, ...) values of a curve (n,) or (n, ...)."""
        return np.asarray(curve[self.sample])

    def each(self, values: NDArray[Kind]) -> NDArray[Kind]:
        """(m,) or (m, ...) what there is of each window, (k,) or (k, ...), at every one of its samples."""
        return np.repeat(values, self.count, axis=0)

    def part(self, narrower: Windows) -> IntArray:
        """Where among the m the samples of narrower windows lie, one within each of these."""
        return np.asarray(narrower.sample - narrower.each(self.first - self.begin))

    def greatest(self, values: FloatArray) -> FloatArray:
        """(k,) greatest value."""
        return self._reduced(np.maximum, values)

    def mean(self, values: FloatArray) -> FloatArray:
        """(k,) mean."""
        return self._reduced(np.add, values) / np.maximum(self.count, 1)

    def place_of_greatest(self, values: FloatArray) -> IntArray:
        """(k,) place of the greatest value, the first of several; -1 in an empty window."""
        return self.first_true(values == self.each(self.greatest(values)))

    def first_true(self, mask: BoolArray) -> IntArray:
        """(k,) place of the first sample where ``mask`` (m,) holds, -1 where none does."""
        hits = np.flatnonzero(mask)
        # Of several values put to one place the last one stays.
        return self._told(hits[::-1])

    def last_true(self, mask: BoolArray) -> IntArray:
        """(k,) place of the last sample where ``mask`` (m,) holds, -1 where none does."""
        return self._told(np.flatnonzero(mask))

    def first_crossing(self, values: FloatArray, level: FloatArray | float, *, rising: bool) -> FloatArray:
        """(k,) place, fractions included, at which the curve first crosses a level upwards, or downwards.

        Args:
            values: (m,).
            level: in the same unit, (k,) or the same for all.
            rising: whether upwards counts, or downwards.
        """
        signed = self._over(values, level, rising)
        return self._between(signed, self.first_true(self._crossed(signed)))

    def last_crossing(self, values: FloatArray, level: FloatArray | float, *, rising: bool) -> FloatArray:
        """Like :meth:`first_crossing`, the last instead."""
        signed = self._over(values, level, rising)
        return self._between(signed, self.last_true(self._crossed(signed)))

    def peak(self, values: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(k,) each: place, fractions included, and height of the greatest value, by the parabola through three."""
        top = self.place_of_greatest(values)
        place, height = np.where(top < 0, np.nan, top), self.greatest(values)
        inner = np.flatnonzero((top > 0) & (top < self.count - 1))
        at = self.begin[inner] + top[inner]
        before, here, after = values[at - 1], values[at], values[at + 1]
        bend = before - 2.0 * here + after
        curved = bend < 0.0
        shift = 0.5 * (before - after)[curved] / bend[curved]
        place[inner[curved]] += shift
        height[inner[curved]] -= 0.25 * (before - after)[curved] * shift
        return place, height

    def greatest_so_far(self, values: FloatArray) -> FloatArray:
        """(m,) greatest value from the window's first sample up to each."""
        out, reach = np.array(values), 1
        longest = int(self.count.max(initial=0))
        while reach < longest:
            # What covers ``reach`` samples covers twice as many once it is joined to what lies ``reach`` before.
            same = self.number[reach:] == self.number[:-reach]
            out[reach:] = np.where(same, np.maximum(out[reach:], out[:-reach]), out[reach:])
            reach *= 2
        return out

    def greatest_to_come(self, values: FloatArray) -> FloatArray:
        """(m,) greatest value from each sample to the window's last."""
        back = Windows(self.first[::-1], self.count[::-1])
        return back.greatest_so_far(values[::-1])[::-1]

    def median(self, values: FloatArray) -> FloatArray:
        """(k,) median."""
        rank = values[np.lexsort((values, self.number))]
        out, full = np.full(len(self.count), np.nan), np.flatnonzero(self.count)
        begin, count = self.begin[full], self.count[full]
        out[full] = 0.5 * (rank[begin + (count - 1) // 2] + rank[begin + count // 2])
        return out

    def _reduced(self, by: np.ufunc, values: FloatArray) -> FloatArray:
        out, full = np.full(len(self.count), np.nan), np.flatnonzero(self.count)
        if len(full):
            out[full] = by.reduceat(values, self.begin[full])
        return out

    def _told(self, hits: IntArray) -> IntArray:
        place = np.full(len(self.count), -1, dtype=np.int64)
        number = self.number[hits]
        place[number] = hits - self.begin[number]
        return place

    def _over(self, values: FloatArray, level: FloatArray | float, rising: bool) -> FloatArray:
        high = self.each(level) if isinstance(level, np.ndarray) else level
        return np.asarray(values - high if rising else high - values)

    def _crossed(self, signed: FloatArray) -> BoolArray:
        """(m,) whether the step from each sample to the next of its window crosses from below zero."""
        out = np.zeros(len(signed), dtype=np.bool_)
        out[:-1] = (signed[:-1] < 0.0) & (signed[1:] >= 0.0) & (self.number[:-1] == self.number[1:])
        return out

    def _between(self, signed: FloatArray, place: IntArray) -> FloatArray:
        out, found = np.full(len(place), np.nan), np.flatnonzero(place >= 0)
        at = self.begin[found] + place[found]
        out[found] = place[found] - signed[at] / (signed[at + 1] - signed[at])
        return out


def spanning(first: IntArray, last: IntArray, *, only: BoolArray | None = None) -> Windows:
    """Windows (k,) from one sample to another, both included.

    Args:
        first: (k,) samples they begin with.
        last: (k,) samples they end with; before the first where they are empty.
        only: (k,) False where they are empty all the same.
    """
    count = np.maximum(last - first + 1, 0)
    return Windows(first, count if only is None else np.where(only, count, 0))


def within(first: FloatArray, last: FloatArray, n: int) -> Windows:
    """Windows of the whole samples within intervals.

    Args:
        first: (k,) where the intervals begin, in samples, fractions included; NaN allowed.
        last: (k,) where they end.
        n: samples there are.

    Returns:
        Of at least two samples each, ends beyond the interval taken in for that; empty where an interval has no ends
        or ends before it begins.

    >>> two = within(np.array([0.5, 2.2]), np.array([3.5, 2.4]), 9)
    >>> two.first.tolist(), two.count.tolist()
    ([1, 2], [3, 2])
    """
    inner_first, inner_last = np.ceil(first), np.floor(last)
    wide = inner_last <= inner_first
    begin = whole(np.where(wide, np.floor(first), inner_first))
    end = whole(np.where(wide, np.ceil(last), inner_last))
    return spanning(np.maximum(begin, 0), np.minimum(end, n - 1), only=last >= first)


def whole(places: FloatArray) -> IntArray:
    """(k,) sample numbers without their fractions; 0 for NaN."""
    return np.where(np.isnan(places), 0.0, places).astype(np.int64)


def how_many(marked: IntArray, first: IntArray, stop: IntArray) -> IntArray:
    """How many of some samples lie in each window.

    Args:
        marked: sample numbers, rising.
        first: (k,) sample numbers at which the windows begin.
        stop: (k,) and before which they end.

    Returns:
        (k,).

    >>> how_many(np.array([3, 4, 9]), np.array([0, 4]), np.array([4, 20])).tolist()
    [1, 2]
    """
    return np.asarray(np.searchsorted(marked, stop) - np.searchsorted(marked, first))


def last_rise(values: FloatArray, first: IntArray, top: IntArray, level: FloatArray) -> FloatArray:
    """Where a curve last rose through a level on its way to a top.

    Args:
        values: (n,).
        first: (k,) samples from which on to look.
        top: (k,) samples, not before ``first``, at which the curve is above the level.
        level: (k,) in the curve's unit.

    Returns:
        (k,) samples from ``first``, fractions included; NaN where the curve is not below the level before its top.

    >>> last_rise(np.array([0.0, 2.0, 0.0, 1.0, 4.0]), np.array([0]), np.array([4]), np.array([2.0])).round(3).tolist()
    [3.333]
    """
    # All go back a sample at a time until each is below its level: few steps, for a rise is short, and none of the room
    # that every way from ``first`` to a top would take.
    below = top - 1
    seeking = np.flatnonzero(below >= first)
    while len(seeking):
        seeking = seeking[values[below[seeking]] >= level[seeking]]
        below[seeking] -= 1
        seeking = seeking[below[seeking] >= first[seeking]]
    out, found = np.full(len(top), np.nan), np.flatnonzero(below >= first)
    at = below[found]
    signed = values[at] - level[found]
    out[found] = at - first[found] - signed / (values[at + 1] - level[found] - signed)
    return out
