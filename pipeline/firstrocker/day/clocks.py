"""Every log of a long walk on the walk's clock: that of its first foot log, from that log's first sample."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from firstrocker.model import ClockFit, FloatArray, Segment, Side
from firstrocker.signals.day_clock import ClockCourse, lag_at, rough_course, together
from firstrocker.signals.digest import Digest
from firstrocker.signals.screen import Span

Sensor = tuple[Segment, Side]


@dataclass(frozen=True)
class Clocks:
    """first: the sensor whose clock is the walk's. starts: first sample of each log on its own clock, s.

    courses: a foot's after the first foot's clock, a shank's after that of its side's foot. told: sensors of which
    movement told how their clocks lie; of the others their logs' own times did.
    """

    first: Sensor
    starts: Mapping[Sensor, float]
    courses: Mapping[Sensor, ClockCourse]
    told: frozenset[Sensor]

    def since_start(self, sensor: Sensor, time: float) -> float:
        """What a sensor's clock shows at a time of the walk, s since its first sample; NaN where nobody knows."""
        if sensor == self.first:
            return time
        foot: Sensor = ("foot", sensor[1])
        if sensor[0] == "shank":
            time = self.since_start(foot, time)
        return time + lag_at(self.courses[sensor], time)[0]

    def own_span(self, sensor: Sensor, span: Span) -> Span:
        """A span of the walk on a sensor's own clock."""
        return (
            self.starts[sensor] + self.since_start(sensor, span[0]),
            self.starts[sensor] + self.since_start(sensor, span[1]),
        )

    def on_walk(self, sensor: Sensor, own: FloatArray, span: Span) -> FloatArray:
        """Times (n,) of a sensor's own clock within a span of the walk, on the walk's clock."""
        first, stop = self.own_span(sensor, span)
        return np.asarray(span[0] + (own - first) * ((span[1] - span[0]) / (stop - first)))

    def breaks(self) -> list[float]:
        """Times of the walk at which a logger began anew, s; about, for a shank's."""
        return sorted({time for course in self.courses.values() for time in course.breaks})

    def fits(self, span: Span) -> tuple[ClockFit, ...]:
        """How each clock lies in the middle of a span."""
        found = []
        middle = 0.5 * (span[0] + span[1])
        for sensor, start in self.starts.items():
            if sensor == self.first:
                found.append(ClockFit(*sensor, -start, 0.0, 0.0, matched=True))
                continue
            own = start + self.since_start(sensor, middle)
            drift = -1e-6 * self.courses[sensor].drift_ppm()
            _, se = lag_at(self.courses[sensor], middle)
            matched = sensor in self.told and bool(np.isfinite(own))
            offset = middle - (1.0 + drift) * own if np.isfinite(own) else 0.0
            found.append(ClockFit(*sensor, float(offset), 1e6 * drift, se, matched=matched))
        return tuple(found)


def rough_clocks(digests: Mapping[Sensor, Digest]) -> Clocks:
    """Clocks as far as it tells when sensors moved at all.

    Args:
        digests: of every log; the first foot's clock is the walk's.
    """
    first = next(sensor for sensor in digests if sensor[0] == "foot")
    courses: dict[Sensor, ClockCourse] = {first: _nothing(digests[first])}
    told = {first}
    for sensor in sorted(digests, key=lambda one: one[0]):
        if sensor == first:
            continue
        after = first if sensor[0] == "foot" else ("foot", sensor[1])
        if after not in digests:
            continue
        course = rough_course(digests[after], digests[sensor])
        if course.known:
            told.add(sensor)
        else:
            lag = together(digests[after], digests[sensor])
            # By their own times, as long as no logger begins anew: nobody knows how long it had stopped.
            breaks = [time - digests[after].start for time in digests[after].restarts]
            breaks += [time - digests[sensor].start - lag for time in digests[sensor].restarts]
            course = ClockCourse(np.zeros(1), np.array([lag]), np.ones(1), tuple(sorted(breaks)))
        courses[sensor] = course
    starts = {sensor: digests[sensor].start for sensor in courses}
    return Clocks(first, starts, courses, frozenset(told))


def _nothing(log: Digest) -> ClockCourse:
    """The first foot's own breaks are everyone's."""
    none = np.empty(0)
    return ClockCourse(none, none, none, tuple(time - log.start for time in log.restarts))
