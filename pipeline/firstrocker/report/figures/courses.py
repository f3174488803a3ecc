"""How each walk moves on average: the mean over its strides and their spread, by percent of stride and by time."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from firstrocker.model import FloatArray
from firstrocker.report.figures.looks import Look

ANGLES = ("foot_pitch_deg", "ankle_deg", "shank_deg")
COLUMNS = (*ANGLES, "toe_height_mm")
EVENTS = {"foot flat": "foot_flat_s", "heel off": "heel_off_s", "toe off": "toe_off_s"}
_LEAST = 2  # strides behind a mean and a spread


@dataclass(frozen=True)
class Courses:
    """The strides of one walk that count.

    percent: (p,) of the stride. curves: column -> (n, p), NaN where not measured. duration: (n,) s, heel strike to
    heel strike. events: event -> (n,) s after heel strike, NaN where it was not found.
    """

    walk: str
    look: Look
    percent: FloatArray
    curves: Mapping[str, FloatArray]
    duration: FloatArray
    events: Mapping[str, FloatArray]

    def has(self, column: str) -> bool:
        """Whether enough strides have it for a mean and a spread."""
        return int(np.isfinite(self.curves[column]).any(axis=1).sum()) >= _LEAST

    def event_percent(self, event: str) -> float | None:
        """The event's mean place, percent of stride."""
        return _mean(100 * self.events[event] / self.duration)

    def event_s(self, event: str) -> float | None:
        """The event's mean time, s after heel strike."""
        return _mean(self.events[event])

    def by_percent(self, column: str) -> tuple[FloatArray, FloatArray]:
        """Mean and standard deviation of the strides at each percent, NaN where fewer than two have it."""
        return _mean_and_spread(self.curves[column])

    def by_time(self, column: str, times: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Mean and standard deviation of the strides at times (s) after heel strike."""
        strides = [
            np.interp(times, self.percent / 100 * duration, values, right=np.nan)
            for values, duration in zip(self.curves[column], self.duration, strict=True)
        ]
        return _mean_and_spread(np.array(strides))


def courses(strides: pa.Table, curves: pa.Table, *, side: str, looks: Mapping[str, Look]) -> list[Courses]:
    """The walks that have curves of strides that count on this side, in the order of ``looks``.

    Args:
        strides: rows in the schema STRIDES.
        curves: rows in the schema CURVES.
        side: left or right.
        looks: walk -> its look.
    """
    of_side = curves.filter(pc.and_(pc.equal(curves["side"], side), curves["steady"]))
    wanted = strides.filter(pc.and_(pc.equal(strides["side"], side), strides["steady"]))
    rows = {(row["walk"], row["bout"], row["stride"]): row for row in wanted.select(_STRIDE_COLUMNS).to_pylist()}
    keys = list(zip(*(of_side[name].to_pylist() for name in ("walk", "bout", "stride")), strict=True))
    percent = of_side["percent"].to_numpy()
    values = {column: of_side[column].to_numpy(zero_copy_only=False).astype(np.float64) for column in COLUMNS}
    blocks = _blocks(keys)
    found = []
    for walk, look in looks.items():
        mine = [block for block in blocks if keys[block.start][0] == walk and keys[block.start] in rows]
        if mine:
            own = [rows[keys[block.start]] for block in mine]
            found.append(_courses(walk, look, percent[mine[0]].astype(np.float64), values, mine, own))
    return found


_STRIDE_COLUMNS = ["walk", "bout", "stride", "heel_strike_s", "next_heel_strike_s", *EVENTS.values()]


def _courses(
    walk: str,
    look: Look,
    percent: FloatArray,
    values: Mapping[str, FloatArray],
    blocks: Sequence[slice],
    rows: Sequence[Mapping[str, float | None]],
) -> Courses:
    def times(column: str) -> FloatArray:
        return np.array([row[column] for row in rows], dtype=np.float64)

    start = times("heel_strike_s")
    return Courses(
        walk=walk,
        look=look,
        percent=percent,
        curves={column: np.array([values[column][block] for block in blocks]) for column in COLUMNS},
        duration=times("next_heel_strike_s") - start,
        events={event: times(column) - start for event, column in EVENTS.items()},
    )


def _blocks(keys: Sequence[object]) -> list[slice]:
    """Where each stride's rows lie; strides that are not of the first one's length are passed over."""
    starts = [place for place, key in enumerate(keys) if place == 0 or key != keys[place - 1]]
    blocks = [slice(start, end) for start, end in pairwise([*starts, len(keys)])]
    return [block for block in blocks if block.stop - block.start == blocks[0].stop]


def _mean(values: FloatArray) -> float | None:
    finite = values[np.isfinite(values)]
    return float(finite.mean()) if len(finite) else None


def _mean_and_spread(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    enough = np.isfinite(values).sum(axis=0) >= _LEAST
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # a percent that no stride has
        mean, spread = np.nanmean(values, axis=0), np.nanstd(values, axis=0, ddof=1)
    return np.where(enough, mean, np.nan), np.where(enough, spread, np.nan)
