"""What can be wrong with one log's signals, told from the signals alone.

Every check takes a log and returns findings, their times in seconds since the log's first sample; what makes the log
useless is a :class:`~firstrocker.errors.SignalError`. The thresholds stand here, each with its reason.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstrocker.errors import SignalError
from firstrocker.model import STANDARD_GRAVITY, BoolArray, Finding, FloatArray, IntArray, Log
from firstrocker.signals.noticed import counted, finding
from firstrocker.signals.quiet import quiet_magnitude, turning_ratio
from firstrocker.signals.sizes import window_variances
from firstrocker.signals.timing import SPOILS, check_times
from firstrocker.signals.uniform import sampling_rate
from firstrocker.signals.units import METRES_PER_SECOND_SQUARED, RADIANS_PER_SECOND, confusion

GAIN_NOTICED = 0.03
"""Share by which gravity at rest may be off unremarked. Sensors in good use read up to 7 % high: in an open recording
of eight people every left foot's read 10.0 to 10.5 m/s^2."""
GAIN_REFUSED = 0.15
"""Beyond, the sensor is broken or the unit wrong."""
GAIN_REFUSED_MOVING = 0.4
"""The same where the sensor was never still: its own acceleration then hides gravity."""
TURNING_BOUNDS = (0.15, 10.0)
"""Of :func:`turning_ratio`: feet and shanks of ten people in open recordings gave 0.9 to 2.1, and degrees mistaken for
radians move that by 57 either way."""
LIMIT_SAMPLES = 3
LIMIT_WIDTH = 1e-5
LIMIT_BAND = 0.003
LIMIT_STEPS = 10.5
PILED_UP = 1.5
"""So many samples within LIMIT_WIDTH, as a share, of the same extreme value are a limit if no less than PILED_UP times
as many lie below it, within LIMIT_BAND of it or LIMIT_STEPS of the sensor's own steps: a rounded peak has more just
below its top than on it, a limit gathers all that was beyond. Pieces of 5 s of logs below their limits: 0 of 2180
(simulated) and 0 of 656 (open recordings of feet), 6 of 2180 where a sensor reads in steps of 1 deg/s and 1/64 g; logs
cut off at 40 to 90 % of their peaks: all of 2063 ends of axes found, at the coarsest steps 1540 of 2084."""
PLATEAU_BAND = 0.007
PLATEAU_FALL = 5.0
PLATEAUS = 2
"""A calibrated sensor's plateau wanders by some 0.3 %: three samples in a row within this share of the extreme value
are one if on both sides the signal then falls by more than so many bands; a rounded peak falls by some four. Pieces of
5 s of logs below their limits held one such plateau by chance in 3 of 536 (open recordings of feet) and in 10 of 2848
(simulated), never two; of 34 simulated logs that were cut off, 31 held two or more."""
LOWEST_LIMITS = (15.0, 3.4)
"""m/s^2, rad/s: sensors reach 2 g and 200 deg/s at least, so that a steady value below is rest and no limit."""
NOISE_NOTICED = (0.5, 0.05)
"""m/s^2, rad/s per sample: ten times what common sensors have; from memory, no source."""

FEW = 4096
"""Samples that show the steps of a sensor that reads finely."""

_AXES = ("x", "y", "z")
_SENSORS = ("accelerometer", "gyroscope")


@dataclass(frozen=True)
class Checked:
    """What was noticed of a log, and which of its samples (n,) stood at a sensor's limit."""

    findings: tuple[Finding, ...]
    saturated: BoolArray


def check_log(log: Log, *, max_bridge_s: float) -> Checked:
    """Everything that one log's signals tell of themselves.

    Args:
        log: as read.
        max_bridge_s: gaps longer than this are told with their place.

    Raises:
        SignalError: ``stuck-axis``, ``wrong-unit``, ``no-gravity`` or ``accelerometer-unusable``: it is of no use.
    """
    rate_hz = sampling_rate(log.time)
    _check_stuck(log)
    gain = _check_acceleration(log, rate_hz)
    _check_turning(log, rate_hz)
    saturated = at_limit(log)
    times = check_times(log, rate_hz, max_bridge_s=max_bridge_s)
    findings = (*gain, *times, *_limits(log, saturated), *_noise(log, rate_hz))
    return Checked(findings, saturated[:, 0] | saturated[:, 1])


def at_limit(log: Log) -> BoolArray:
    """(n, 2) which samples stand at the limit of the accelerometer, of the gyroscope.

    A limit is an extreme value of an axis that three samples or more share to a part in 100,000 with few just below it,
    or at which the signal stays for three samples or more between steep flanks.
    """
    reached = np.zeros((2, len(log.time)), dtype=bool)
    for sensor, signal in enumerate((log.acceleration, log.angular_velocity)):
        for axis in signal.T:
            for sign, extreme in ((1, float(axis.max())), (-1, -float(axis.min()))):
                if extreme >= LOWEST_LIMITS[sensor]:
                    reached[sensor, _limited(axis, sign, extreme)] = True
    return reached.T


def _limited(axis: FloatArray, sign: int, extreme: float) -> IntArray:
    """Which samples of an axis (n,) stand at a limit upwards (1) or downwards (-1), where the axis is extreme."""
    floor = extreme * (1.0 - PLATEAU_FALL * PLATEAU_BAND)
    places = _beyond(axis, sign, floor)
    values = sign * axis[places]
    if _piled_up(axis, sign, extreme, values):
        return np.asarray(places[values >= extreme * (1.0 - 1e-3)])
    near = places[values >= extreme * (1.0 - PLATEAU_BAND)]
    return near if _plateaus(axis, sign, near, floor=floor) >= PLATEAUS else near[:0]


def _beyond(axis: FloatArray, sign: int, least: float) -> IntArray:
    return np.flatnonzero(axis >= least if sign > 0 else axis <= -least)


def _piled_up(axis: FloatArray, sign: int, extreme: float, values: FloatArray) -> bool:
    """Whether several samples share the extreme value, and few are just below it; values: those that come near it."""
    count = int(np.count_nonzero(values >= extreme * (1.0 - LIMIT_WIDTH)))
    if count < LIMIT_SAMPLES:
        return False
    wide = max(LIMIT_BAND * extreme, LIMIT_STEPS * _finest_step(axis, extreme))
    return count >= PILED_UP * (len(_beyond(axis, sign, extreme - wide)) - count)


def _finest_step(axis: FloatArray, extreme: float) -> float:
    """The sensor's own step, or one so fine that it does not count: most logs show that from their first samples on."""
    step = extreme
    for part in (axis[:FEW], axis):
        between = np.diff(np.unique(part))
        step = float(between[between > 1e-9 * extreme].min(initial=extreme))
        if LIMIT_STEPS * step <= LIMIT_BAND * extreme:
            break
    return step


def _plateaus(axis: FloatArray, sign: int, near: IntArray, *, floor: float) -> int:
    """How many runs of samples near the extreme end on both sides, within half their own length, below ``floor``."""
    count = 0
    for run in np.split(near, np.flatnonzero(np.diff(near) > 1) + 1) if len(near) else ():
        start, stop = int(run[0]), int(run[-1]) + 1
        aside = max(1, (stop - start) // 2)
        if stop - start < LIMIT_SAMPLES or start < aside or stop + aside > len(axis):
            continue
        before, after = sign * axis[start - aside : start], sign * axis[stop : stop + aside]
        count += max(before.min(), after.min()) < floor
    return count


def _limits(log: Log, reached: BoolArray) -> list[Finding]:
    found = []
    for sensor, name in enumerate(_SENSORS):
        count = int(reached[:, sensor].sum())
        if not count:
            continue
        signal = (log.acceleration, log.angular_velocity)[sensor][reached[:, sensor]]
        limit = float(np.abs(signal).max())
        shown = f"{limit / STANDARD_GRAVITY:.0f} g" if sensor == 0 else f"{np.degrees(limit):.0f} deg/s"
        times = log.time[reached[:, sensor]] - log.time[0]
        found.append(
            finding(
                log,
                f"the {name} stood at its limit of {shown} in {counted(count, 'sample')}; what was beyond is cut off; "
                f"{SPOILS[log.segment]}.",
                code="saturated",
                severity="warning",
                remedy=f"Set the {name} to a wider range before the next recording.",
                start_s=float(times[0]),
                end_s=float(times[-1]),
            )
        )
    return found


def _check_stuck(log: Log) -> None:
    stuck = [
        f"{name} {axis}"
        for name, signal in zip(_SENSORS, (log.acceleration, log.angular_velocity), strict=True)
        for axis, values in zip(_AXES, signal.T, strict=True)
        if values.min() == values.max()
    ]
    if stuck:
        several = len(stuck) > 1
        raise SignalError(
            f"The {' and '.join(stuck)} {'axes never change' if several else 'axis never changes'} throughout the log.",
            code="stuck-axis",
            where=log.source,
            remedy="Check in the logger profile that these are the right columns; if so, the sensor is broken.",
        )


def _check_acceleration(log: Log, rate_hz: float) -> list[Finding]:
    quiet = quiet_magnitude(log, rate_hz=rate_hz)
    ratio = quiet.magnitude / STANDARD_GRAVITY
    off = abs(ratio - 1.0)
    if off > (GAIN_REFUSED if quiet.still else GAIN_REFUSED_MOVING):
        mixed = confusion(ratio, METRES_PER_SECOND_SQUARED, tolerance=0.4)
        if ratio < 0.2 and not quiet.still:
            raise SignalError(
                f"The acceleration at rest is {quiet.magnitude:.2g} m/s^2 instead of 9.8: gravity has been taken off.",
                code="no-gravity",
                where=log.source,
                remedy="Export the acceleration as the sensor measured it, gravity included.",
            )
        if mixed is not None:
            declared, meant = mixed
            shown = quiet.magnitude / METRES_PER_SECOND_SQUARED[declared]
            raise SignalError(
                f"The acceleration at rest reads {shown:.3g}, which is gravity in {meant}; the logger profile says "
                f"{declared}.",
                code="wrong-unit",
                where=log.source,
                remedy=f"Write 'acceleration: {meant}' under 'units' in the logger profile.",
            )
        raise SignalError(
            f"The acceleration at rest is {quiet.magnitude:.3g} m/s^2 instead of 9.8, which no sound sensor reads.",
            code="accelerometer-unusable",
            where=log.source,
            remedy="Check unit and columns in the logger profile; if they are right, have the sensor calibrated.",
        )
    if off <= GAIN_NOTICED or not quiet.still:
        return []
    return [
        finding(
            log,
            f"the accelerometer reads {quiet.magnitude:.2f} m/s^2 at rest, {100 * off:.0f} % "
            f"{'more' if ratio > 1 else 'less'} than gravity; it is scaled to gravity.",
            code="accelerometer-gain",
            severity="info" if off < 0.1 else "warning",
            remedy="Have the sensor calibrated.",
        )
    ]


def _check_turning(log: Log, rate_hz: float) -> None:
    ratio = turning_ratio(log, rate_hz=rate_hz)
    if ratio is None or TURNING_BOUNDS[0] <= ratio <= TURNING_BOUNDS[1]:
        return
    fastest = float(np.percentile(np.linalg.norm(log.angular_velocity, axis=1), 99))
    declared, meant = ("deg/s", "rad/s") if ratio > 1 else ("rad/s", "deg/s")
    shown = fastest / RADIANS_PER_SECOND[declared]
    raise SignalError(
        f"The angular velocity does not fit how the sensor turned: its peaks read {shown:.3g}, in {declared} by the "
        f"logger profile, but must be in {meant}.",
        code="wrong-unit",
        where=log.source,
        remedy=f"Write 'angular_velocity: {meant}' under 'units' in the logger profile.",
    )


def _noise(log: Log, rate_hz: float) -> list[Finding]:
    found = []
    for name, signal, limit in zip(_SENSORS, (log.acceleration, log.angular_velocity), NOISE_NOTICED, strict=True):
        level = noise(signal, window=max(int(0.25 * rate_hz), 4))
        if level > limit:
            shown = f"{level:.2g} m/s^2" if name == "accelerometer" else f"{np.degrees(level):.2g} deg/s"
            found.append(
                finding(
                    log,
                    f"the {name} is noisy: {shown} from sample to sample even where nothing moved.",
                    code="noise",
                    severity="warning",
                    remedy="Check the sensor, its fastening and its supply.",
                )
            )
    return found


def noise(signal: FloatArray, *, window: int) -> float:
    """Standard deviation of what changes from sample to sample in the quietest tenth of a signal (n, 3).

    Third differences take slow movement away; for white noise of variance v theirs is 20 v.
    """
    if len(signal) < window + 3:
        return 0.0
    per_window = np.max([window_variances(np.diff(axis, n=3), window) for axis in signal.T], axis=0)
    return float(np.sqrt(np.percentile(per_window, 10) / 20.0))
