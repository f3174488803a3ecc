"""Whether a log's samples came when they should: rate, jitter, lost samples."""

from __future__ import annotations

import numpy as np

from firstrocker.model import Finding, Log
from firstrocker.signals.noticed import counted, finding
from firstrocker.signals.uniform import GAP_STEPS

RATE_TOLERANCE = 0.02
"""Share by which the rate may differ from the declared one; clocks are off by a ten-thousandth."""
LOW_RATE_HZ = 45.0
"""Below, an event cannot be told to 10 ms."""
JITTER_NOTICED = 0.25
"""Share of a usual step by which one step in twenty may be off; more blurs the angular velocity's integral."""
LOST_NOTICED = 0.02
MAX_LISTED = 3


SPOILS = {
    "foot": "strides that it touches do not count",
    "shank": "in strides that it touches ankle and shank are not measured",
}
"""What a stretch in which nothing was measured, or a sensor stood at its limit, does, by segment."""


def check_times(log: Log, rate: float, *, max_bridge_s: float) -> list[Finding]:
    """Findings about rate (Hz), jitter and lost samples; gaps longer than ``max_bridge_s`` each with their place."""
    found = []
    steps = np.diff(log.time)
    usual = float(np.median(steps))
    declared = log.declared_rate_hz
    if declared is not None and abs(rate / declared - 1.0) > RATE_TOLERANCE:
        found.append(
            finding(
                log,
                f"the samples come at {rate:.4g} per second by their times, the logger profile says {declared:.4g}; "
                "the times were believed.",
                code="rate-differs",
                severity="warning",
                remedy="Correct 'sampling_rate_hz', or the unit of time.",
            )
        )
    if rate < LOW_RATE_HZ:
        found.append(
            finding(
                log,
                f"{rate:.3g} samples per second are few: events are uncertain by {1000 / rate:.0f} ms.",
                code="rate-low",
                severity="warning",
                remedy="Record with 100 samples per second or more.",
            )
        )
    regular = steps < GAP_STEPS * usual
    jitter = float(np.percentile(np.abs(steps[regular] / usual - 1.0), 95))
    if jitter > JITTER_NOTICED:
        found.append(
            finding(
                log,
                f"the samples' times are irregular: one step in twenty is off by {100 * jitter:.0f} % or more.",
                code="jitter",
                severity="warning",
                remedy="Use the sensor's own times rather than those of their arrival, if the logger has them.",
            )
        )
    gaps = np.flatnonzero(~regular)
    lost = int(np.sum(np.round(steps[gaps] / usual) - 1))
    long = gaps[steps[gaps] > max_bridge_s]
    if lost:
        share = lost / (lost + len(log.time))
        bridged = f"gaps of up to {1000 * max_bridge_s:.0f} ms were interpolated"
        rest = f", {counted(len(long), 'longer gap')} left unmeasured" if len(long) else ""
        found.append(
            finding(
                log,
                f"{lost} samples ({100 * share:.2g} %) are missing; {bridged}{rest}.",
                code="samples-lost",
                severity="warning" if share > LOST_NOTICED else "info",
                remedy="Keep the logger close and its battery charged.",
            )
        )
    for gap in long[np.argsort(-steps[long], kind="stable")][:MAX_LISTED]:
        found.append(
            finding(
                log,
                f"there is a gap of {steps[gap]:.2g} s, one of the longest; {SPOILS[log.segment]}.",
                code="gap",
                severity="warning",
                start_s=float(log.time[gap] - log.time[0]),
                end_s=float(log.time[gap + 1] - log.time[0]),
            )
        )
    return found
