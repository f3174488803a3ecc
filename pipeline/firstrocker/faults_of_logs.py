"""The faults that show in one log, or between logs: see ``faults.py``."""

from __future__ import annotations

from math import degrees

from firstrocker.fault import Fault
from firstrocker.signals import checks, digest, exchanged, match, recordings, samples, timing

_SPOILS = "strides that it touches do not count; of a shank's log, ankle and shank are null in them"

SIGNALS = (
    Fault(
        "log-unreadable",
        "file missing, unreadable, no table of numbers, too short or too long",
        f"under {samples.MIN_DURATION_S:g} s; over {digest.MOST_HOURS - 1:g} h; "
        f"outside {samples.PLAUSIBLE_RATE_HZ[0]:g} to {samples.PLAUSIBLE_RATE_HZ[1]:g} samples per second",
        "the log is left out; without a foot log the walk is",
        "log",
    ),
    Fault(
        "time-runs-back",
        "time runs back",
        f"by over {samples.MAX_STEP_BACK_S:g} s, or in over {100 * samples.MAX_DISORDER:g} % of the samples",
        "the log is left out",
        "log",
    ),
    Fault(
        "time-out-of-order",
        "samples out of order",
        "one sample",
        "put back in the order of their times; flagged",
        "nothing",
    ),
    Fault("times-repeated", "samples that share a time", "one sample", "the later one is left out; flagged", "nothing"),
    Fault("rows-repeated", "rows given twice", "one row", "counted once; told", "nothing"),
    Fault(
        "rows-empty",
        "rows without a number in every column",
        "one row; flagged above 1 %",
        "taken for lost samples",
        "strides",
    ),
    Fault("rows-broken", "rows with too many or too few columns", "one row", "taken for lost samples", "strides"),
    Fault("cells-not-numbers", "cells that hold no number", "one cell", "taken for lost samples; flagged", "strides"),
    Fault(
        "sample-and-hold",
        "a logger that writes values again where the sensor had no new ones",
        "as a rule, in movement",
        "the repetitions are taken out; flagged",
        "nothing",
    ),
    Fault("samples-held", "values held now and then", "in movement; flagged above 2 %", "taken out", "strides"),
    Fault("counter-wraps", "a packet counter that begins anew", "once", "unrolled; told", "nothing"),
    Fault("counter-wraps-soon", "lost packets and a counter too short to tell how many", "-", "flagged", "nothing"),
    Fault(
        "samples-lost",
        "lost samples",
        f"one sample; flagged above {100 * timing.LOST_NOTICED:g} %",
        "gaps up to `max_bridge_s` are interpolated, the rest is unmeasured",
        "strides",
    ),
    Fault("gap", "gap", "over `max_bridge_s`", f"{_SPOILS}; flagged", "strides"),
    Fault(
        "jitter",
        "irregular times",
        f"one step in twenty off by {100 * timing.JITTER_NOTICED:g} % of a step",
        "the times are believed; flagged",
        "nothing",
    ),
    Fault(
        "rate-differs",
        "rate other than declared",
        f"{100 * timing.RATE_TOLERANCE:g} %",
        "the times are believed; flagged",
        "nothing",
    ),
    Fault(
        "rate-low",
        "too few samples per second",
        f"under {timing.LOW_RATE_HZ:g}",
        "errors of contact grow with the step; flagged",
        "nothing",
    ),
    Fault(
        "saturated",
        "accelerometer or gyroscope at its limit",
        f"{checks.LIMIT_SAMPLES} samples on one extreme value with few just below, or {checks.PLATEAUS} flat peaks",
        f"{_SPOILS}; flagged",
        "strides",
    ),
    Fault(
        "noise",
        "noise floor",
        f"{checks.NOISE_NOTICED[0]:g} m/s^2 or {degrees(checks.NOISE_NOTICED[1]):.1f} deg/s per sample at the quietest",
        "used; flagged",
        "nothing",
    ),
    Fault("stuck-axis", "axis that never changes", "throughout the log", "the log is left out", "log"),
    Fault(
        "wrong-unit",
        "wrong unit of time, acceleration or angular velocity",
        f"time: an impossible rate; acceleration: gravity off by {100 * checks.GAIN_REFUSED:g} %; angular velocity: "
        f"gravity turns less than {checks.TURNING_BOUNDS[0]:g} or more than {checks.TURNING_BOUNDS[1]:g} times as fast",
        "the log is left out; the unit that fits is named",
        "log",
    ),
    Fault("channels-missing", "channels of a Motion-BIDS sensor missing", "one", "the sensor is left out", "log"),
    Fault("channel-bad", "channel marked as bad in channels.tsv", "one", "the sensor is left out", "log"),
    Fault("no-gravity", "gravity taken off", "under 0.2 g at rest", "the log is left out", "log"),
    Fault(
        "accelerometer-gain",
        "gain error of the accelerometer",
        f"{100 * checks.GAIN_NOTICED:g} % of gravity at rest; flagged above 10 %",
        "scaled to gravity",
        "nothing",
    ),
    Fault(
        "accelerometer-unusable",
        "accelerometer that does not read gravity",
        f"{100 * checks.GAIN_REFUSED:g} % at rest, {100 * checks.GAIN_REFUSED_MOVING:g} % where it never rests",
        "the log is left out",
        "log",
    ),
)
SENSORS = (
    Fault(
        "same-recording",
        "one file given twice",
        f"the same bytes, or {100 * recordings.LEAST_ALIKE:g} % of the shorter log's samples alike to "
        f"{recordings.TOLERANCE[0]:g} m/s^2 and {recordings.TOLERANCE[1]:g} rad/s, under any name, cut, axes or unit",
        "both walks are left out; between two sessions `firstrocker check` tells it",
        "walk",
    ),
    Fault(
        "foot-shank-exchanged",
        "foot and shank exchanged",
        f"the shank's log {exchanged.EXCHANGED_RATIO:g} times stiller in stance than the foot's",
        "the walk is left out",
        "walk",
    ),
    Fault(
        "clocks-never-match",
        "clocks that never match: a log of another walk or leg",
        f"likeness of the ankle's motion under {match.LEAST_LIKENESS:g} at every lag, or a lag that wanders by over "
        f"{1000 * match.WORST_SCATTER_S:g} ms or {1e6 * match.MAX_DRIFT:g} ppm",
        "the shank log is left out; flagged",
        "shank",
    ),
    Fault(
        "shank-turns-as-foot",
        "both sensors on one segment",
        f"turning alike to {100 * exchanged.ONE_SEGMENT:g} %",
        "the shank log is left out; flagged",
        "shank",
    ),
    Fault("shank-without-foot", "shank log without its foot's", "-", "the shank log is left out; flagged", "shank"),
    Fault(
        "logger-restarted",
        "a logger that began anew within a log that lasts a day, and its clock with it",
        f"time runs back by over {samples.MAX_STEP_BACK_S:g} s (in a shorter log: see time-runs-back)",
        "the log goes on; its clock is found anew from the other logs, else what follows is dated too early; flagged",
        "nothing",
    ),
    Fault(
        "clock-jumped",
        "a stretch of a day in which the ankle contradicts how the clocks lie before and after",
        "by over 40 ms",
        "ankle and shank are not measured in it; flagged",
        "strides",
    ),
    Fault("affected-side-missing", "no log of the affected side", "-", "measured as it is; flagged", "nothing"),
    Fault("clocks-aligned", "how the shank's clock was laid on the foot's", "-", "told", "nothing"),
    Fault("sides-not-aligned", "how the other foot's clock lies is not known", "-", "told", "nothing"),
)
