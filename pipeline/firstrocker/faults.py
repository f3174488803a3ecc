"""Every fault of a log that is looked for: its code, from what size it is told, and what then becomes of the numbers.

The only place where this is written: the table in ``config/README.md`` is printed from here, thresholds are those of
the code, and a test holds that no code is missing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import degrees
from types import MappingProxyType
from typing import Literal

from firstrocker.gait import evidence, side
from firstrocker.motion import seat
from firstrocker.signals import checks, exchanged, match, recordings, samples, timing

Loss = Literal["nothing", "strides", "shank", "log", "walk", "session"]
"""What is not measured where a fault is found; the shank stands for the ankle too."""


@dataclass(frozen=True)
class Fault:
    """One row of the table.

    Attributes:
        code: of the finding in ``quality.json``.
        what: the fault.
        threshold: the size from which it is told.
        action: what becomes of the numbers.
        loses: what is not measured at the worst.
        measured: how often it was found and how often wrongly, where that was measured.
    """

    code: str
    what: str
    threshold: str
    action: str
    loses: Loss
    measured: str = ""


_SIGNALS = (
    Fault(
        "log-unreadable",
        "file missing, unreadable, no table of numbers, too short or too long",
        f"under {samples.MIN_DURATION_S:g} s; over {samples.MAX_DURATION_S / 3600:g} h; "
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
    Fault("gap", "gap", "over `max_bridge_s`", "strides that it touches do not count; flagged", "strides"),
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
        "strides that it touches do not count; flagged",
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
_SENSORS = (
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
    Fault("affected-side-missing", "no log of the affected side", "-", "measured as it is; flagged", "nothing"),
    Fault("clocks-aligned", "how the shank's clock was laid on the foot's", "-", "told", "nothing"),
    Fault("sides-not-aligned", "how the other foot's clock lies is not known", "-", "told", "nothing"),
)
_WALK = (
    Fault("no-foot-log", "no foot log", "-", "the walk is left out", "walk"),
    Fault("no-walking", "no step", "no step of 8 cm", "the side is left out", "walk"),
    Fault("no-steady-stride", "too little walking", "no stride that counts", "no summary; flagged", "nothing"),
    Fault(
        "strides-left-out",
        "strides spoilt by a fault",
        "one stride; flagged above 20 %",
        "they do not count",
        "strides",
    ),
    Fault(
        "no-rest",
        "no quiet standing of the foot",
        "`rest_min_s`, `rest_gyro_deg_s`",
        "the sole's level and the gyroscope's bias are taken from foot flat in walking; flagged",
        "nothing",
    ),
    Fault(
        "no-standing-shank",
        "no quiet standing of the shank",
        "`rest_min_s`, `rest_gyro_deg_s`",
        "its mean in walking counts as vertical; intervals of its angles widen; flagged",
        "nothing",
    ),
    Fault(
        "standing-not-flat",
        "foot not flat in standing",
        "`standing_tolerance_deg`",
        "foot flat in walking counts as level; flagged",
        "nothing",
    ),
    Fault(
        "sensor-slipped",
        "foot sensor that slipped during the walk",
        f"gravity on the flat foot from another side, by {degrees(seat.SLIPPED):.0f} deg; a turn about the vertical "
        "and a shank sensor that slips are not seen",
        "strides in the other seat do not count; flagged",
        "strides",
        "12 deg about random axes: 10 of 11, 25 deg: 11 of 11 simulated; none: 0 of 11 simulated, 1 of 59 recorded "
        "(12 deg, the next 5)",
    ),
    Fault(
        "sensor-fell-off",
        "foot sensor that fell off",
        f"the same by {degrees(seat.FELL):.0f} deg",
        "strides from then on do not count; flagged",
        "strides",
        "11 of 11 simulated; wrongly: 0 of 11 simulated, 0 of 59 recorded",
    ),
    Fault(
        "gyroscope-gain",
        "gain error of the foot's gyroscope, or a wrong rate without times",
        f"{100 * seat.GAIN_NOTICED:.0f} % by the velocity left after {seat.LEAST_SWINGS} swings or more",
        "flagged; rates may be off by as much",
        "nothing",
        "8 % either way: 22 of 22 simulated; wrongly: 0 of 11 simulated, 0 of 59 recorded",
    ),
    Fault(
        "gyroscope-gain-unusable",
        "the same",
        f"{100 * seat.GAIN_REFUSED:.0f} %",
        "the side is left out",
        "walk",
        "20 % either way: 22 of 22 simulated; wrongly: 0 of 11 simulated, 0 of 59 recorded",
    ),
    Fault(
        "side-doubtful",
        "left and right exchanged",
        f"foot swings inwards by {1000 * side.INWARD_M:.0f} mm (median) in {100 * side.INWARD_SHARE:.0f} % of the "
        "strides; cannot be known of a foot that swings straight",
        "flagged, for a person may cross over; only circumduction depends on it",
        "nothing",
        "24 of 33 simulated, 39 of 59 recorded; as published: 0 of 11 simulated, 4 of 59 recorded, both feet of two "
        "walks of one person, why is not known",
    ),
    Fault(
        "axes-unclear",
        "no sideways axis stands out in how a sensor turned",
        f"less than {100 * evidence.LEAST_PLANAR['foot']:.0f} % (foot) or {100 * evidence.LEAST_PLANAR['shank']:.0f} % "
        "(shank) of its turning about one axis",
        "flagged; angles, rates and clearance may be wrong",
        "nothing",
        "wrongly: 0 of 11 kinds simulated, 0 of 61 recorded",
    ),
    Fault(
        "foot-points-aside",
        "the foot went elsewhere than its axes point",
        f"{degrees(evidence.MOST_HEADING_OFF):.0f} deg over {evidence.LEAST_STRAIGHT} steady strides or more",
        "flagged; pitch, rates and clearance may be wrong",
        "nothing",
        "wrongly: 0 of 11 kinds simulated, 0 of 59 recorded",
    ),
    Fault(
        "toe-below-ground",
        "foot sensor sits elsewhere than said",
        "toe under the ground by more than 5 mm and 2 standard errors",
        "toe clearance is null; flagged",
        "nothing",
    ),
    Fault(
        "geometry-estimated",
        "ruler values missing",
        "-",
        "estimated, with wide standard errors; flagged where clearance needs them",
        "nothing",
    ),
    Fault("geometry-contradiction", "ruler values contradict the sole", "-", "to_toe_mm is used; flagged", "nothing"),
)
_SESSION = (
    Fault("session-file", "mistake in session.yaml", "one", "the session is rejected", "session"),
    Fault("yaml-unreadable", "YAML that cannot be read", "-", "the session is rejected", "session"),
    Fault("no-strides", "no stride in any walk", "-", "the session is rejected", "session"),
)
GROUPS: Mapping[str, tuple[Fault, ...]] = MappingProxyType(
    {
        "One log": _SIGNALS,
        "Which sensor is which": _SENSORS,
        "The walk": _WALK,
        "The session": _SESSION,
    }
)
BY_CODE: Mapping[str, Fault] = MappingProxyType({fault.code: fault for group in GROUPS.values() for fault in group})
