"""Stretches of many lengths worked on at once give what a plain loop over each gives."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstrocker.gait.windows import Windows, how_many, last_rise, spanning, whole, within
from firstrocker.model import FloatArray, IntArray

NAN = float("nan")


@dataclass(frozen=True)
class Case:
    """A curve and some windows on it, empty ones and overlapping ones among them."""

    curve: FloatArray
    windows: Windows

    @property
    def values(self) -> FloatArray:
        return self.windows.of(self.curve)

    def parts(self) -> list[FloatArray]:
        return [self.curve[a : a + n] for a, n in zip(self.windows.first, self.windows.count, strict=True)]

    def each(self, tell: Callable[[FloatArray], float]) -> list[float]:
        """What the loop tells; NaN of an empty window."""
        return [tell(part) if len(part) else NAN for part in self.parts()]


# Few different values, so that ties and touched levels come up as often as crossings do.
LEVELS = st.sampled_from([-2.0, -1.0, -0.3, 0.0, 0.5, 1.0, 1.7])


@st.composite
def cases(draw: st.DrawFn, least: int = 0) -> Case:
    curve = draw(arrays(np.float64, st.integers(1 + least, 30), elements=LEVELS))
    first = draw(st.lists(st.integers(0, len(curve) - max(least, 1)), max_size=6))
    count = [draw(st.integers(least, len(curve) - a)) for a in first]
    return Case(curve, Windows(np.array(first, dtype=np.int64), np.array(count, dtype=np.int64)))


def same(found: FloatArray | IntArray, wanted: list[float]) -> None:
    assert found.shape == (len(wanted),)
    assert np.array_equal(found, np.array(wanted), equal_nan=True), (found, wanted)


def crossings(part: FloatArray, level: float, rising: bool) -> list[float]:
    over = part - level if rising else level - part
    found = []
    for k in range(len(part) - 1):
        if over[k] < 0.0 <= over[k + 1]:
            found.append(k - over[k] / (over[k + 1] - over[k]))
    return found


def peak(part: FloatArray) -> tuple[float, float]:
    top = max(range(len(part)), key=lambda k: part[k])
    if 0 < top < len(part) - 1:
        bend = part[top - 1] - 2.0 * part[top] + part[top + 1]
        lean = part[top - 1] - part[top + 1]
        if bend < 0.0:
            return top + 0.5 * lean / bend, part[top] - 0.25 * lean * (0.5 * lean / bend)
    return float(top), part[top]


@given(case=cases())
def test_greatest_means_and_medians_are_those_of_each_window(case: Case) -> None:
    windows, values = case.windows, case.values
    same(windows.greatest(values), case.each(lambda part: float(part.max())))
    same(windows.median(values), case.each(lambda part: float(np.median(part))))
    assert np.allclose(windows.mean(values)[windows.count > 0], [part.mean() for part in case.parts() if len(part)])
    same(windows.place_of_greatest(values), [int(part.argmax()) if len(part) else -1 for part in case.parts()])


@given(case=cases(), level=LEVELS)
def test_first_and_last_samples_of_a_kind_are_found_in_each_window(case: Case, level: float) -> None:
    mask = case.values > level
    hits = [np.flatnonzero(part > level) for part in case.parts()]
    same(case.windows.first_true(mask), [int(hit[0]) if len(hit) else -1 for hit in hits])
    same(case.windows.last_true(mask), [int(hit[-1]) if len(hit) else -1 for hit in hits])


@given(case=cases(), data=st.data(), rising=st.booleans())
def test_crossings_are_those_of_each_window_at_its_own_level(case: Case, data: st.DataObject, rising: bool) -> None:
    levels = np.array([data.draw(LEVELS) for _ in case.windows.first], dtype=np.float64)
    found = [crossings(part, level, rising) for part, level in zip(case.parts(), levels, strict=True)]
    first, last = case.windows.first_crossing, case.windows.last_crossing
    same(first(case.values, levels, rising=rising), [one[0] if one else NAN for one in found])
    same(last(case.values, levels, rising=rising), [one[-1] if one else NAN for one in found])
    at_zero = [crossings(part, 0.0, rising) for part in case.parts()]
    same(first(case.values, 0.0, rising=rising), [one[0] if one else NAN for one in at_zero])


@given(case=cases())
def test_peaks_are_those_of_each_window(case: Case) -> None:
    place, height = case.windows.peak(case.values)
    same(place, case.each(lambda part: peak(part)[0]))
    same(height, case.each(lambda part: peak(part)[1]))


@given(case=cases())
def test_running_extremes_begin_anew_in_each_window(case: Case) -> None:
    so_far = [np.maximum.accumulate(part) for part in case.parts()]
    to_come = [np.maximum.accumulate(part[::-1])[::-1] for part in case.parts()]
    same(case.windows.greatest_so_far(case.values), np.concatenate([*so_far, []]).tolist())
    same(case.windows.greatest_to_come(case.values), np.concatenate([*to_come, []]).tolist())


@given(case=cases(least=2), data=st.data())
def test_shares_and_parts_of_windows(case: Case, data: st.DataObject) -> None:
    windows = case.windows
    same(windows.share, np.concatenate([*[np.arange(n) / (n - 1) for n in windows.count], []]).tolist())
    skipped = np.array([data.draw(st.integers(0, n - 1)) for n in windows.count], dtype=np.int64)
    narrower = Windows(windows.first + skipped, windows.count - skipped)
    same(case.values[windows.part(narrower)], narrower.of(case.curve).tolist())
    assert windows.each(np.stack([skipped, -skipped], axis=1)).shape == (len(windows.number), 2)


@given(case=cases(least=2), data=st.data(), level=LEVELS)
def test_the_last_rise_before_a_top_is_the_last_crossing_up_to_it(
    case: Case, data: st.DataObject, level: float
) -> None:
    first = case.windows.first
    top = first + np.array([data.draw(st.integers(0, n - 1)) for n in case.windows.count], dtype=np.int64)
    above = case.curve[top] > level
    first, top = first[above], top[above]
    levels = np.full(len(top), level)
    found = [crossings(case.curve[a : b + 1], level, rising=True) for a, b in zip(first, top, strict=True)]
    same(last_rise(case.curve, first, top, levels), [one[-1] if one else NAN for one in found])


@given(
    ends=st.lists(st.tuples(st.floats(0.0, 20.0) | st.just(NAN), st.floats(0.0, 20.0) | st.just(NAN)), max_size=5),
    n=st.integers(21, 25),
)
def test_whole_samples_within_an_interval_are_two_or_more(ends: list[tuple[float, float]], n: int) -> None:
    first, last = np.array(ends, dtype=np.float64).reshape(-1, 2).T
    windows = within(first, last, n)
    for (a, b), begin, count in zip(ends, windows.first, windows.count, strict=True):
        inside = [k for k in range(n) if a <= k <= b]
        if np.isnan(a + b) or b < a:
            assert count == 0
        elif len(inside) > 1:
            assert list(range(begin, begin + count)) == inside
        else:
            assert (begin, begin + count - 1) == (np.floor(a), np.ceil(b))


@given(marked=st.sets(st.integers(0, 30)), ends=st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), max_size=5))
def test_marked_samples_are_counted(marked: set[int], ends: list[tuple[int, int]]) -> None:
    pairs = [(min(pair), max(pair)) for pair in ends]
    first, stop = np.array(pairs, dtype=np.int64).reshape(-1, 2).T
    found = how_many(np.array(sorted(marked), dtype=np.int64), first, stop)
    same(found, [sum(a <= k < b for k in marked) for a, b in pairs])


def test_a_window_that_ends_before_it_begins_or_is_not_wanted_is_empty() -> None:
    first, last = np.array([3, 3, 3]), np.array([2, 3, 4])
    assert spanning(first, last).count.tolist() == [0, 1, 2]
    assert spanning(first, last, only=np.array([True, True, False])).count.tolist() == [0, 1, 0]
    assert whole(np.array([2.9, NAN])).tolist() == [2, 0]


@given(place=st.floats(0.01, 8.9))
def test_a_straight_line_is_crossed_where_it_is(place: float) -> None:
    line, windows = np.arange(10.0) - place, Windows(np.array([0]), np.array([10]))
    assert windows.first_crossing(line, 0.0, rising=True) == pytest.approx(place)
    assert windows.first_crossing(-line, 0.0, rising=False) == pytest.approx(place)


@given(place=st.floats(1.0, 7.0), height=st.floats(-100.0, 100.0), bend=st.floats(0.1, 50.0))
def test_a_parabolas_peak_is_found_exactly(place: float, height: float, bend: float) -> None:
    k = np.arange(9.0)
    found, top = Windows(np.array([0]), np.array([9])).peak(height - bend * (k - place) ** 2)
    assert found == pytest.approx(place, abs=1e-6)
    assert top == pytest.approx(height, abs=1e-6)
