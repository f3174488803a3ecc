"""Strides of one side of one walk as columns of strides.parquet and curves.parquet: degrees, millimetres, nulls."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from firstrocker import tables
from firstrocker.gait.bouts import Strides
from firstrocker.gait.errors import standard_errors
from firstrocker.gait.measures import BY_SHANK, Columns, Curves, loading, stance, swing, timing, unseen_shank
from firstrocker.measures import BY_COLUMN
from firstrocker.model import BoolArray, FloatArray, Person, TextArray, WalkInfo
from firstrocker.motion.integrate import between

FACTORS = {"deg": 180.0 / np.pi, "deg/s": 180.0 / np.pi, "mm": 1000.0, "%": 100.0}
"""From SI and radians to the unit of the table; others stay."""

TOGETHER = 200
"""Strides whose curves are read at once: the places between samples of many would take more room than the curves."""

Keys = dict[str, object]
OVER_GROUND = ("toe_clearance_min_mm", "heel_clearance_max_mm")
"""What cannot be had where edges may lie under the swinging foot."""
BELOW_MM, BELOW_SE = 5.0, 2.0
"""How far under the ground a clearance is impossible: floors, soles and toes give some millimetres, and its error."""


def walk_keys(person: Person, info: WalkInfo, side: str) -> Keys:
    """What every row of a walk's side begins with."""
    return {
        "subject": person.subject,
        "session": person.session,
        "walk": info.walk,
        "condition": info.condition,
        "setting": info.setting.label if info.setting else None,
        "resistance": info.setting.resistance if info.setting else None,
        "side": side,
    }


def strides_table(keys: Keys, strides: Strides, data: Curves) -> pa.Table:
    """Strides as strides.parquet: one row each.

    Args:
        keys: of :func:`walk_keys`.
        strides: in order.
        data: the curves they are measured on.
    """
    data = replace(data)  # what it works out on the way is needed here alone, and goes with it
    in_swing, mid_swing = swing(strides, data)
    in_loading, contact = loading(strides, data)
    values = timing(strides, data.foot.rate_hz) | in_swing | in_loading | stance(strides, data)
    unseen = unseen_shank(strides, data)
    values |= {name: np.where(unseen, np.nan, values[name]) for name in BY_SHANK}
    measured = _in_units(values, standard_errors(data, strides, values, mid_swing), strides)
    events = {
        "heel_strike_s": strides.before.heel_strike,
        "foot_flat_s": strides.before.foot_flat,
        "heel_off_s": strides.swing.heel_off,
        "toe_off_s": strides.swing.toe_off,
        "next_heel_strike_s": strides.swing.heel_strike,
    }
    numbers = measured | {name: places / data.foot.rate_hz for name, places in events.items()}
    columns = _repeated(keys, len(strides), tables.STRIDES)
    columns |= {name: pa.array(column, from_pandas=True) for name, column in numbers.items()}
    columns |= {
        "bout": pa.array(strides.bout),
        "stride": pa.array(strides.number),
        "contact": _text(contact),
        "toe_clearance_kind": _text(np.where(strides.floor_known, mid_swing.kind, "")),
        "steady": pa.array(strides.steady),
        "left_out": pa.array(strides.left_out),
        "ground": pa.array(strides.ground),
    }
    return pa.table({name: columns[name] for name in tables.STRIDES.names}, schema=tables.STRIDES)


def _in_units(values: Columns, deviations: Columns, strides: Strides) -> Columns:
    """Measures and their standard errors in the table's units; what cannot be had is NaN, its standard error too."""
    columns: Columns = {}
    for name, value in values.items():
        factor = FACTORS.get(BY_COLUMN[name].unit, 1.0)
        columns[name] = value * factor
        if name in OVER_GROUND:
            columns[name][~strides.floor_known] = np.nan
        if BY_COLUMN[name].has_se:
            deviation = deviations[name] * factor if name in deviations else np.nan
            columns[f"{name}_se"] = np.where(np.isnan(columns[name]), np.nan, deviation)
    # A toe under the ground by more than its error allows is no measurement: the seat on the shoe must be wrong.
    toe, error = columns["toe_clearance_min_mm"], columns["toe_clearance_min_mm_se"]
    toe[toe < -BELOW_MM - BELOW_SE * error] = np.nan
    error[np.isnan(toe)] = np.nan
    return columns


@dataclass(frozen=True)
class Traces:
    """What curves.parquet is read from and nothing else, for a motion takes as much room as the table itself.

    (n,) rad, rad/s, m; without a shank None. unseen: (k,) strides within which the shank is not to be trusted.
    """

    pitch: FloatArray
    pitch_rate: FloatArray
    toe_height: FloatArray
    shank_angle: FloatArray | None
    shank_rate: FloatArray | None
    unseen: BoolArray


def traces(strides: Strides, data: Curves) -> Traces:
    """What :func:`curves_table` reads of a motion."""
    return Traces(
        pitch=data.foot.pitch,
        pitch_rate=data.pitch_rate,
        toe_height=data.foot.toe_height,
        shank_angle=None if data.shank is None else data.shank.angle,
        shank_rate=data.shank_rate,
        unseen=unseen_shank(strides, data),
    )


def curves_table(keys: Keys, strides: Strides, drawn: Traces) -> pa.Table:
    """101 rows per stride whose heel strikes are both known, at every percent of it."""
    first, last = strides.before.heel_strike, strides.swing.heel_strike
    known = np.flatnonzero(~np.isnan(first + last))
    hidden = {"toe_height_mm": ~strides.floor_known}
    hidden |= dict.fromkeys(("ankle_deg", "shank_deg", "ankle_rate_deg_s", "shank_rate_deg_s"), drawn.unseen)
    # What is alike for all strides is held once, however many there are.
    same = _repeated(keys, 101 * TOGETHER, tables.CURVES)
    same["percent"] = pa.array(np.tile(np.arange(101), TOGETHER))
    parts = [tables.CURVES.empty_table()]
    for part in (known[begin : begin + TOGETHER] for begin in range(0, len(known), TOGETHER)):
        place = np.linspace(first[part], last[part], 101, axis=1)
        columns = {name: column[: place.size] for name, column in same.items()}
        for name, values in _read(place.ravel(), drawn).items():
            if name in hidden:
                values = np.where(np.repeat(hidden[name][part], 101), np.nan, values)
            columns[name] = pa.array(values, from_pandas=True)
        for name, told in (("bout", strides.bout), ("stride", strides.number), ("steady", strides.steady)):
            columns[name] = pa.array(np.repeat(told[part], 101))
        parts.append(pa.table({name: columns[name] for name in tables.CURVES.names}, schema=tables.CURVES))
    return pa.concat_tables(parts)


def _read(place: FloatArray, drawn: Traces) -> Columns:
    """Curves (k,) at places (k,) between samples, in the table's units; NaN without a shank."""
    nothing, degrees = np.full(len(place), np.nan), 180.0 / np.pi
    places = between(place, 0, len(drawn.pitch) - 1)
    pitch, pitch_rate = places.read(drawn.pitch) * degrees, places.read(drawn.pitch_rate) * degrees
    angle = nothing if drawn.shank_angle is None else places.read(drawn.shank_angle) * degrees
    rate = nothing if drawn.shank_rate is None else places.read(drawn.shank_rate) * degrees
    return {
        "foot_pitch_deg": pitch,
        "ankle_deg": pitch + angle,
        "shank_deg": angle,
        "foot_pitch_rate_deg_s": pitch_rate,
        "ankle_rate_deg_s": pitch_rate + rate,
        "shank_rate_deg_s": rate,
        "toe_height_mm": places.read(drawn.toe_height) * 1000.0,
    }


def _repeated(keys: Keys, count: int, schema: pa.Schema) -> dict[str, pa.Array]:
    """What every row begins with, as columns."""
    return {name: pa.repeat(pa.scalar(value, schema.field(name).type), count) for name, value in keys.items()}


def _text(words: TextArray) -> pa.Array:
    """A column of words, null where empty."""
    return pa.array(words, mask=words == "")
