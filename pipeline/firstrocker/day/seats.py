"""How sensors sat from stretch to stretch of a day, and where they were put on anew.

Every stretch is measured with its own seat, so that nothing is wrong with its angles; but a foot's sensor that was put
on anew may sit elsewhere on the shoe, and sensors that were put on anew may have been exchanged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from firstrocker.day.clocks import Sensor
from firstrocker.day.findings import clock_time
from firstrocker.day.looked import Look, changed_ways
from firstrocker.day.stretches import Piece
from firstrocker.gait.evidence import SideEvidence
from firstrocker.model import Finding, FloatArray, Side
from firstrocker.motion.remounted import BETWEEN_STRETCHES, LEAST_STRETCHES, middle, part_by_seat

LEAST_FLAT = 4
"""Steps that a stretch needs to tell of seats."""


@dataclass(frozen=True)
class Sat:
    """How a sensor sat in one stretch: (3, 3) sensor to segment, and the stretch's ends, s of the walk."""

    first: float
    last: float
    matrix: FloatArray


@dataclass(frozen=True)
class Change:
    """A sensor that was put on anew between two times of the walk, s.

    angle: rad by which it is turned. turned: (3, 3) segment axes, from before to after; None where only the
    shank's mean direction in walking tells of it.
    """

    sensor: Sensor
    after: float
    before: float
    angle: float
    turned: FloatArray | None


class Seats:
    """The seats of a day, gathered stretch by stretch."""

    def __init__(self) -> None:
        self._sat: dict[Sensor, list[Sat]] = {}

    def add(self, piece: Piece, sides: Sequence[SideEvidence]) -> None:
        """Keep what a stretch's sides rest on."""
        for side in sides:
            for seat in side.seats:
                if side.flat >= LEAST_FLAT:
                    sensor = (seat.segment, side.side)
                    self._sat.setdefault(sensor, []).append(Sat(*piece.span, seat.mounting.matrix))

    def changes(self, pieces: Sequence[Piece], looks: Mapping[Side, Sequence[Look]]) -> list[Change]:
        """Where sensors were put on anew, in order of time.

        Args:
            pieces: of the day.
            looks: at each side's shank, whose standing may not be known after a change.
        """
        found = [change for sensor, sat in self._sat.items() for change in _changes(sensor, sat)]
        for side, seen in looks.items():
            known = [change for change in found if change.sensor == ("shank", side)]
            told = [look for look in seen if np.isfinite(look.way).all()]
            for cut, angle in changed_ways(told):
                after, before = pieces[told[cut - 1].piece].span[1], pieces[told[cut].piece].span[0]
                if not any(one.after <= before and one.before >= after for one in known):
                    found.append(Change(("shank", side), after, before, angle, None))
        return sorted(found, key=lambda change: (change.before, change.sensor))


def _changes(sensor: Sensor, sat: Sequence[Sat]) -> list[Change]:
    seats = np.array([one.matrix for one in sat])
    cuts = part_by_seat(seats, least=BETWEEN_STRETCHES[sensor[0]], least_part=LEAST_STRETCHES)
    if not cuts:
        return []
    ends = [0, *(cut for cut, _ in cuts), len(sat)]
    middles = [middle(seats[first:stop]) for first, stop in pairwise(ends)]
    return [
        Change(sensor, sat[cut - 1].last, sat[cut].first, angle, middles[number] @ middles[number + 1].T)
        for number, (cut, angle) in enumerate(cuts)
    ]


def told(change: Change, sources: Mapping[Sensor, str]) -> Finding:
    """The finding of a sensor that was put on anew."""
    segment, side = change.sensor
    text = (
        f"{sources[change.sensor]}: this sensor was put on anew between {clock_time(change.after)} and "
        f"{clock_time(change.before)}: from then on it sits turned by {np.degrees(change.angle):.0f} deg, "
        f"{_about(change.turned)}. Each stretch of walking is measured as the sensor sat in it"
    )
    if segment == "foot":
        text += "; toe clearance takes it to lie at the same place on the shoe as before, which nobody has measured."
        remedy = "Put it back to its mark on the shoe, and see that left and right, foot and shank were not exchanged."
    else:
        text += ", its angles against the standing of its own time."
        remedy = "See that left and right, foot and shank were not exchanged; let the person stand still for a moment."
    return Finding("sensor-put-on-anew", "warning", text, remedy, None, segment, side, change.after, change.before)


def _about(turned: FloatArray | None) -> str:
    """The axis of a rotation (3, 3) in words."""
    if turned is None:
        return "as far as its mean direction in walking tells"
    values, vectors = np.linalg.eigh(turned + turned.T)
    axis = np.abs(vectors[:, int(np.argmax(values))])
    words = ("mostly about the line forward", "mostly about the sideways line", "mostly about the upright")
    return words[int(np.argmax(axis))] if axis.max() > 0.8 else "about a slanting line"
