"""What passes between the legs: frozen dataclasses of arrays in SI units and radians.

Frames and signs are stated in :mod:`firstrocker.motion.frames`; in short, every segment and the world have x forward,
y left, z up, and ``acceleration`` is always the specific force an accelerometer reads (+9.8 m/s^2 upwards at rest).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]
TextArray = NDArray[np.str_]

Side = Literal["left", "right"]
Segment = Literal["foot", "shank"]
Condition = Literal["unbraced", "braced"]
Severity = Literal["info", "warning", "error"]
Status = Literal["ok", "flagged", "rejected"]
FilterName = Literal["vqf", "madgwick", "mahony", "aqua"]

SIDES: tuple[Side, Side] = ("left", "right")

STANDARD_GRAVITY = 9.80665
"""m/s^2, exact by definition (3rd CGPM, 1901; ISO 80000-3)."""


@dataclass(frozen=True)
class Finding:
    """One thing noticed about the input, in plain words.

    ``info`` is told and changes nothing; ``warning`` flags the session; ``error`` means that the walk, or where
    ``walk`` is empty the session, could not be analysed.
    """

    code: str
    severity: Severity
    message: str
    remedy: str = ""
    walk: str | None = None
    segment: Segment | None = None
    side: Side | None = None
    start_s: float | None = None
    end_s: float | None = None


@dataclass(frozen=True)
class Log:
    """One sensor's log as read: SI units, its own clock, sensor axes.

    time: (n,) s, strictly increasing. acceleration: (n, 3) m/s^2, specific force. angular_velocity: (n, 3) rad/s.
    mounting: (3, 3) rotation taking sensor coordinates to segment coordinates, None where it is to be found.
    """

    segment: Segment
    side: Side
    time: FloatArray
    acceleration: FloatArray
    angular_velocity: FloatArray
    mounting: FloatArray | None = None
    declared_rate_hz: float | None = None
    source: str = ""


@dataclass(frozen=True)
class Signal:
    """One sensor on the walk's uniform clock, still in sensor axes.

    acceleration: (n, 3) m/s^2. angular_velocity: (n, 3) rad/s. Both are finite everywhere: gaps are bridged by straight
    lines so that no filter is poisoned, and ``valid`` (n,) is False wherever a value was not measured (gap, before the
    first or after the last sample). saturated: (n,) True where either sensor stood at its limit. bridged: (n,) True
    where a gap short enough to count as measured was interpolated; None: nowhere.
    """

    segment: Segment
    side: Side
    acceleration: FloatArray
    angular_velocity: FloatArray
    valid: BoolArray
    saturated: BoolArray
    mounting: FloatArray | None = None
    source: str = ""
    bridged: BoolArray | None = None

    @property
    def interpolated(self) -> BoolArray:
        """(n,) True where a few lost samples were interpolated."""
        return np.zeros(len(self.valid), dtype=np.bool_) if self.bridged is None else self.bridged

    @property
    def lost(self) -> BoolArray:
        """(n,) True where nothing was measured."""
        return np.asarray(self.interpolated | ~self.valid)


@dataclass(frozen=True)
class ClockFit:
    """How a log's clock was laid on the walk's clock: walk time = offset_s + (1 + drift_ppm / 1e6) * log time."""

    segment: Segment
    side: Side
    offset_s: float
    drift_ppm: float
    offset_se_s: float
    matched: bool


@dataclass(frozen=True)
class WalkSignals:
    """Every sensor of one walk on one uniform clock.

    time: (n,) s since the first sample of the walk's first foot log, on that log's clock; step exactly 1 / rate_hz.
    """

    walk: str
    time: FloatArray
    rate_hz: float
    signals: tuple[Signal, ...]
    clocks: tuple[ClockFit, ...] = ()
    findings: tuple[Finding, ...] = ()

    def find(self, segment: Segment, side: Side) -> Signal | None:
        """The signal of that segment and side, None where the walk has none."""
        return next((s for s in self.signals if s.segment == segment and s.side == side), None)

    def by_side(self) -> dict[Side, WalkSignals]:
        """Each side that has a foot log, with what is of that side alone."""
        return {
            side: replace(self, signals=tuple(one for one in self.signals if one.side == side))
            for side in SIDES
            if self.find("foot", side) is not None
        }


@dataclass(frozen=True)
class FootGeometry:
    """Where the foot sensor's centre sits on the shoe, in metres, foot flat; each with its standard error.

    to_toe: forward to the tip of the outsole. to_heel: back to the heel's lower rear edge. above_ground: height over
    the floor. measured: False where these were estimated from the shoe size or from nothing.
    """

    to_toe: float
    to_heel: float
    above_ground: float
    to_toe_se: float = 0.003
    to_heel_se: float = 0.005
    above_ground_se: float = 0.003
    measured: bool = True


@dataclass(frozen=True)
class Setting:
    """How much the brace resists plantarflexion, as the session file says it."""

    label: str
    resistance: float | None = None
    unit: str = ""


@dataclass(frozen=True)
class WalkInfo:
    """What the session file says of a walk."""

    walk: str
    condition: Condition
    setting: Setting | None = None


@dataclass(frozen=True)
class Person:
    """What the session file says of the person and how the sensors sat."""

    subject: str
    session: str
    affected_side: Side
    foot: FootGeometry
    standing_shank_angle: float | None = None  # rad, + forward; None: quiet standing counts as 0


@dataclass(frozen=True)
class WalkLogs:
    """A walk's logs, ready to be analysed."""

    info: WalkInfo
    logs: tuple[Log, ...]
    findings: tuple[Finding, ...] = field(default=())
