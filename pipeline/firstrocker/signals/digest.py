"""What is kept of a log too long to be held: how it moved in each tenth of a second, how it lay in each second.

Magnitudes alone tell of movement, so that no seat of the sensor matters. A day of one sensor comes to some 10 MB.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstrocker.errors import LogError
from firstrocker.model import STANDARD_GRAVITY, BoolArray, FloatArray, IntArray
from firstrocker.signals.restarts import Rows

SmallArray = NDArray[np.float32]

TENTHS = 10
RATE_SCALE = 0.35  # rad/s that counts as much as ...
FORCE_SCALE = 1.0  # ... this many m/s^2 off gravity
MOST_HOURS = 49.0
"""Two days and the hour by which a clock may be put back."""
_MOST = 1e4


@dataclass(frozen=True)
class Digest:
    """A log by tenths of a second (t of them) and by seconds (s), counted from ``start``, its first sample's time.

    samples: (t,) how many a tenth holds. turning: (t,) rad/s, root mean square. energy: (t,) how much the sensor moved,
    0 at rest. gravity: (s, 3) m/s^2, mean; spread: (s,) m/s^2, standard deviation of the acceleration, all axes;
    turn: (s, 3) rad/s, mean; all NaN where a second holds no sample. restarts: times at which the logger began anew.
    dropped: rows without a number in every column.
    """

    start: float
    samples: IntArray
    turning: SmallArray
    energy: SmallArray
    gravity: SmallArray
    spread: SmallArray
    turn: SmallArray
    restarts: tuple[float, ...] = ()
    dropped: int = 0

    @property
    def end(self) -> float:
        """The end of its last tenth, s."""
        return self.start + len(self.samples) / TENTHS

    @property
    def recorded(self) -> BoolArray:
        """(s,) the seconds that hold samples."""
        return np.asarray(np.isfinite(self.spread))


def digest(parts: Iterable[Rows], *, acceleration_scale: float, angular_velocity_scale: float, where: str) -> Digest:
    """A log in brief; the same whatever the parts it comes in.

    Args:
        parts: of :func:`firstrocker.signals.restarts.unrolled`.
        acceleration_scale: factor from the values to m/s^2.
        angular_velocity_scale: factor from the values to rad/s.
        where: how to name the log in errors.

    Raises:
        LogError: no row can be used, or the log spans more than two days.
    """
    factors = np.repeat([acceleration_scale, angular_velocity_scale], 3)
    held = np.empty((0, 7))
    found: list[tuple[IntArray, FloatArray, IntArray, FloatArray]] = []
    restarts: list[float] = []
    start, latest, dropped = np.nan, -np.inf, 0
    for rows in parts:
        restarts += rows.restarts
        fine = np.asarray(np.isfinite(rows.values).all(axis=1))
        dropped += int(len(fine) - fine.sum())
        if not fine.any():
            continue
        time = np.maximum.accumulate(np.concatenate([[latest], rows.time[fine]]))[1:]
        latest = float(time[-1])
        start = float(time[0]) if np.isnan(start) else start
        if latest - start > MOST_HOURS * 3600.0:
            raise LogError(
                f"The log spans more than {MOST_HOURS - 1:.0f} hours.",
                where=where,
                remedy="Hand in a log per day; check which column holds the time.",
            )
        held = np.concatenate([held, np.column_stack([time - start, rows.values[fine] * factors])])
        # A second is summed at once and whole, so that it comes out the same however the log was parted.
        whole = int(np.searchsorted(held[:, 0], np.floor(held[-1, 0])))
        if whole:
            found.append(_summed(held[:whole]))
            held = held[whole:]
    if not len(held):
        raise LogError("The file has not one usable row.", where=where, remedy="Check that the recording was saved.")
    found.append(_summed(held))
    tenth, moved, second, lay = (np.concatenate(columns) for columns in zip(*found, strict=True))
    tenths, seconds = int(tenth[-1]) + 1, int(second[-1]) + 1
    by_tenth, by_second = np.zeros((tenths, 3), dtype=np.float32), np.full((seconds, 7), np.nan, dtype=np.float32)
    by_tenth[tenth], by_second[second] = moved, lay
    return Digest(
        start=start,
        samples=by_tenth[:, 0].astype(np.int64),
        turning=by_tenth[:, 1],
        energy=by_tenth[:, 2],
        gravity=by_second[:, :3],
        spread=by_second[:, 3],
        turn=by_second[:, 4:],
        restarts=tuple(restarts),
        dropped=dropped,
    )


def _summed(rows: FloatArray) -> tuple[IntArray, FloatArray, IntArray, FloatArray]:
    """Tenths and seconds that the rows (n, 7) fill, and what each holds."""
    time, force, turn = rows[:, 0], rows[:, 1:4], rows[:, 4:]
    turning = np.einsum("ij,ij->i", turn, turn)
    size = np.einsum("ij,ij->i", force, force)
    off = (np.sqrt(size) - STANDARD_GRAVITY) / FORCE_SCALE
    tenth, begin = _groups(np.floor(time * TENTHS))
    count = np.diff(np.append(begin, len(rows)))
    square = np.add.reduceat(turning, begin) / count
    energy = square / RATE_SCALE**2 + np.add.reduceat(off * off, begin) / count
    moved = np.column_stack([count, np.sqrt(square), np.minimum(energy, _MOST)])
    second, begin = _groups(np.floor(time))
    count = np.diff(np.append(begin, len(rows)))[:, None]
    mean = np.add.reduceat(rows[:, 1:], begin, axis=0) / count
    variance = np.add.reduceat(size, begin) / count[:, 0] - np.einsum("ij,ij->i", mean[:, :3], mean[:, :3])
    lay = np.column_stack([mean[:, :3], np.sqrt(np.maximum(variance, 0.0)), mean[:, 3:]])
    return tenth, moved.astype(np.float32), second, lay.astype(np.float32)


def _groups(numbers: FloatArray) -> tuple[IntArray, IntArray]:
    """The numbers that a rising sequence runs through, and where each begins."""
    begin = np.flatnonzero(np.diff(numbers, prepend=-1.0))
    return numbers[begin].astype(np.int64), begin
