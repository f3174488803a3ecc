"""wear.parquet: how long each sensor of each walk recorded, was worn, and saw its person walk."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from firstrocker import tables
from firstrocker.model import Log, Person, Segment, Side, WalkLogs
from firstrocker.settings import Settings
from firstrocker.signals.digest import digest
from firstrocker.signals.restarts import Rows
from firstrocker.signals.uniform import GAP_STEPS
from firstrocker.signals.wear import worn_s

Worn = Mapping[tuple[Segment, Side], tuple[float, float | None]]
"""Seconds recorded, and of them worn, by sensor."""


def worn_of(walk: WalkLogs, *, settings: Settings) -> Worn:
    """How long each sensor of a walk that is held whole was worn; the section day of the settings is used."""
    return {(log.segment, log.side): _worn(log, settings.day.unworn_min_s) for log in walk.logs}


def wear_rows(person: Person, walk: str, worn: Worn, strides: pa.Table | None) -> pa.Table:
    """The rows of one walk.

    Args:
        person: whose it is.
        walk: its label.
        worn: of its sensors.
        strides: in the schema STRIDES, the walk's among them; walking is null for a side without any stride, for that a
            foot did not walk and that it could not be seen are not told apart.
    """
    walked: dict[str, float] = {}
    if strides is not None:
        mine = strides.filter(pc.equal(strides["walk"], walk))
        times = pc.subtract(mine["next_heel_strike_s"], mine["heel_strike_s"])
        for side, time in zip(mine["side"].to_pylist(), times.to_pylist(), strict=True):
            walked[side] = walked.get(side, 0.0) + (time or 0.0)
    rows = [
        {
            "subject": person.subject,
            "session": person.session,
            "walk": walk,
            "segment": segment,
            "side": side,
            "recorded_s": recorded,
            "worn_s": on,
            "walking_s": walked.get(side),
        }
        for (segment, side), (recorded, on) in worn.items()
    ]
    return pa.Table.from_pylist(rows, schema=tables.WEAR)


def _worn(log: Log, unworn_min_s: float) -> tuple[float, float | None]:
    steps = np.diff(log.time)
    usual = float(np.median(steps))
    recorded = float(np.sum(steps[steps < GAP_STEPS * usual]) + usual * np.sum(steps >= GAP_STEPS * usual) + usual)
    if log.time[-1] - log.time[0] < unworn_min_s:
        return recorded, recorded
    rows = Rows(log.time, np.column_stack([log.acceleration, log.angular_velocity]))
    brief = digest([rows], acceleration_scale=1.0, angular_velocity_scale=1.0, where=log.source)
    return recorded, min(worn_s(brief, unworn_min_s=unworn_min_s), recorded)
