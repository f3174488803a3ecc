"""Columns as read to a log: SI units, empty rows out, times strictly rising; what cannot be mended is refused."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from firstrocker.errors import LogError, SignalError
from firstrocker.model import BoolArray, Finding, FloatArray, Log, Segment, Side
from firstrocker.signals.cells import within
from firstrocker.signals.held import release
from firstrocker.signals.noticed import counted as number_of
from firstrocker.signals.units import METRES_PER_SECOND_SQUARED, RADIANS_PER_SECOND, SECONDS

MIN_DURATION_S = 2.0
"""Less than two strides."""
MAX_DURATION_S = 86_400.0
PLAUSIBLE_RATE_HZ = (20.0, 10_000.0)
"""Below, contact and foot flat cannot be told apart; above are no sensors of body movement."""
MAX_STEP_BACK_S = 1.0
"""Rows that only changed places on the way (radio packets) are closer than this; farther back is another recording."""
MAX_DISORDER = 0.01
MAX_SHARED_TIMES = 0.02
MAX_JUMP_S = 3600.0
BEYOND_ALL = 1e9
"""m/s^2 or rad/s: no measurement in any unit, but a damaged number; counts read in a wrong unit stay below."""


def make_log(
    time: FloatArray | None,
    acceleration: Sequence[FloatArray],
    angular_velocity: Sequence[FloatArray],
    *,
    time_unit: str,
    acceleration_unit: str,
    angular_velocity_unit: str,
    sampling_rate_hz: float | None,
    segment: Segment,
    side: Side,
    mounting: FloatArray | None,
    where: str,
    counted: bool = False,
) -> tuple[Log, tuple[Finding, ...]]:
    """A log in SI units from its columns.

    Args:
        time: (n,) in ``time_unit``; None where the unit is ``none``: then samples are 1 / sampling_rate_hz apart.
        acceleration: three of (n,), x, y, z of the sensor; NaN where a cell was empty.
        angular_velocity: the same.
        time_unit: a key of :data:`~firstrocker.signals.units.SECONDS`, or none.
        acceleration_unit: a key of :data:`~firstrocker.signals.units.METRES_PER_SECOND_SQUARED`.
        angular_velocity_unit: a key of :data:`~firstrocker.signals.units.RADIANS_PER_SECOND`.
        sampling_rate_hz: as the logger was set, None where nobody said.
        segment: what the sensor sat on.
        side: of the body.
        mounting: (3, 3) rotation from sensor to segment coordinates, None where it is to be found.
        where: how to name the log in errors and findings.
        counted: the times are those of a counter.

    Raises:
        LogError: times run back or are too coarse, or the log is too short or too long.
        SignalError: ``wrong-unit``: the samples follow each other at an impossible rate.
    """
    n = len(acceleration[0])
    findings: list[Finding] = []
    if time is None:
        if sampling_rate_hz is None:
            raise LogError("The log has neither times nor a sampling rate.", where=where, remedy="Give either.")
        seconds = np.arange(n) / sampling_rate_hz
    else:
        seconds = np.asarray(time, dtype=float) * SECONDS[time_unit]
    # A column in one piece each: what is done to a column, and nearly all is, then reads no others.
    values = np.array([*acceleration, *angular_velocity], dtype=float).T
    del time, acceleration, angular_velocity
    for part, factor in (
        (values[:, :3], METRES_PER_SECOND_SQUARED[acceleration_unit]),
        (values[:, 3:], RADIANS_PER_SECOND[angular_velocity_unit]),
    ):
        if factor != 1.0:
            part *= factor
    if not (np.isfinite(seconds).all() and within(values, BEYOND_ALL)):
        whole = np.isfinite(seconds) & (np.abs(values) < BEYOND_ALL).all(axis=1)
        findings.append(_empty_rows(int(n - whole.sum()), n, where))
        seconds, values = seconds[whole], values[whole]
    if len(seconds) < 2:
        raise LogError(
            "There are no rows in which every column holds a number.",
            where=where,
            remedy="Check the recording, and the column names in the logger profile.",
        )
    if not (np.diff(seconds) > 0).all():
        order = _in_order(seconds, findings, where)
        if order is not None:
            seconds, values = seconds[order], values[order]
        keep = _distinct(seconds, values, findings, where)
        if not keep.all():
            seconds, values = seconds[keep], values[keep]
    _check_span(seconds, "counter" if counted else time_unit, where)
    seconds, values, held = release(seconds, values, where=where)
    findings += held
    log = Log(
        segment=segment,
        side=side,
        time=seconds,
        acceleration=values[:, :3],
        angular_velocity=values[:, 3:],
        mounting=mounting,
        declared_rate_hz=sampling_rate_hz,
        source=where,
    )
    return log, tuple(findings)


def _empty_rows(count: int, n: int, where: str) -> Finding:
    return Finding(
        "rows-empty",
        "warning" if count > 0.01 * n else "info",
        f"{where}: {number_of(count, 'row')} of {n} without a number in every column; taken for lost samples.",
        "If the logger writes its sensors in separate rows, export them joined.",
    )


def _in_order(seconds: FloatArray, findings: list[Finding], where: str) -> np.ndarray | None:
    """The order that sorts rows which only changed places; None where they are in order."""
    back = np.diff(seconds) < 0
    if not back.any():
        return None
    row = int(np.flatnonzero(back)[0]) + 1
    depth = float(np.max(np.maximum.accumulate(seconds) - seconds))
    if depth > MAX_STEP_BACK_S or back.sum() > MAX_DISORDER * len(seconds) + 1:
        raise LogError(
            f"Time runs back ({number_of(int(back.sum()), 'time')}), by up to {_seconds(depth)}, "
            f"first at sample {row + 1}.",
            code="time-runs-back",
            where=where,
            remedy="If two recordings stand in one file, part them; if the clock was set meanwhile, record again.",
        )
    message = f"{where}: {number_of(int(back.sum()), 'sample')} out of order, put back in the order of their times."
    findings.append(Finding("time-out-of-order", "warning", message, "Check how the logger's files are joined."))
    return np.argsort(seconds, kind="stable")


def _distinct(seconds: FloatArray, values: FloatArray, findings: list[Finding], where: str) -> BoolArray:
    """Which rows to keep so that each time stands there once."""
    keep = np.ones(len(seconds), dtype=bool)
    keep[1:] = np.diff(seconds) > 0
    twice = np.flatnonzero(~keep)
    same = (values[twice] == values[twice - 1]).all(axis=1)
    different = int(np.count_nonzero(~same))
    if different > MAX_SHARED_TIMES * len(seconds):
        raise LogError(
            f"The times are too coarse: {different} of {len(seconds)} samples share their time with the one before.",
            where=where,
            remedy="Export finer times; or, if no samples were lost, write 'time: none' and give 'sampling_rate_hz'.",
        )
    if same.any():
        message = f"{where}: {number_of(int(same.sum()), 'row')} given twice, counted once."
        findings.append(Finding("rows-repeated", "info", message))
    if different:
        message = f"{where}: {number_of(different, 'sample')} with the same time as the one before, left out."
        findings.append(Finding("times-repeated", "warning", message, "Check the logger's clock."))
    return keep


def _clock(time_unit: str) -> str:
    return "the rate of the counter" if time_unit == "counter" else "which column holds the time"


def _check_span(seconds: FloatArray, time_unit: str, where: str) -> None:
    span = float(seconds[-1] - seconds[0])
    if len(seconds) < 2 or span <= 0:
        raise LogError("All samples have the same time.", where=where, remedy="Check which column holds the time.")
    steps = np.diff(seconds)
    rate = 1.0 / float(np.median(steps))
    low, high = PLAUSIBLE_RATE_HZ
    if not low <= rate <= high:
        typical = np.array([25.0, 2000.0])
        fits = [
            unit
            for unit in ("s", "ms", "us", "ns")
            if time_unit in ("s", "ms", "us", "ns")
            and unit != time_unit
            and typical[0] <= rate * SECONDS[time_unit] / SECONDS[unit] <= typical[1]
        ]
        if fits:
            raise SignalError(
                f"The samples would follow each other at {rate:.3g} per second: the times look like {fits[0]}, "
                f"the logger profile says {time_unit}.",
                code="wrong-unit",
                where=where,
                remedy=f"Write 'time: {fits[0]}' under 'units' in the logger profile.",
            )
        raise LogError(
            f"The samples follow each other at {rate:.3g} per second; {low:.0f} to {high:.0f} can be used.",
            where=where,
            remedy=f"Set the logger to 100 or 200 samples per second, or check {_clock(time_unit)}.",
        )
    if span < MIN_DURATION_S:
        raise LogError(
            f"The log is {span:.2g} s long, less than two strides.", where=where, remedy="Record a longer walk."
        )
    jump = int(np.argmax(steps))
    if span > MAX_DURATION_S or steps[jump] > MAX_JUMP_S:
        raise LogError(
            f"The log spans {span / 3600:,.0f} hours, with a jump of {_seconds(steps[jump])} after sample {jump + 1}.",
            where=where,
            remedy="Cut the log to the walk alone; a clock that was set meanwhile parts it into two recordings.",
        )


def _seconds(amount: float) -> str:
    """A time to three digits, and never with a power of ten.

    >>> _seconds(0.04021), _seconds(3600.0)
    ('0.0402 s', '3,600 s')
    """
    return f"{amount:.3g} s" if amount < 999.5 else f"{amount:,.0f} s"
