"""Strides of one side of one walk as columns of strides.parquet and curves.parquet: degrees, millimetres, nulls."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from firstrocker import tables
from firstrocker.gait.bouts import Strides
from firstrocker.gait.errors import standard_errors
from firstrocker.gait.measures import Columns, Curves, loading, stance, swing, timing
from firstrocker.measures import BY_COLUMN
from firstrocker.model import Person, TextArray, WalkInfo
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
    in_swing, mid_swing = swing(strides, data)
    in_loading, contact = loading(strides, data)
    values = timing(strides, data.foot.rate_hz) | in_swing | in_loading | stance(strides, data)
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


def curves_table(keys: Keys, strides: Strides, data: Curves) -> pa.Table:
    """101 rows per stride whose heel strikes are both known, at every percent of it."""
    degrees = 180.0 / np.pi
    foot, shank = data.foot, data.shank
    series = {
        "foot_pitch_deg": (foot.pitch, degrees),
        "ankle_deg": (data.ankle, degrees),
        "shank_deg": (None if shank is None else shank.angle, degrees),
        "foot_pitch_rate_deg_s": (data.pitch_rate, degrees),
        "ankle_rate_deg_s": (data.ankle_rate, degrees),
        "shank_rate_deg_s": (data.shank_rate, degrees),
        "toe_height_mm": (foot.toe_height, 1000.0),
    }
    first, last = strides.before.heel_strike, strides.swing.heel_strike
    known = np.flatnonzero(~np.isnan(first + last))
    read = {name: np.full((len(known), 101), np.nan) for name in series}
    for part in np.split(np.arange(len(known)), range(TOGETHER, len(known), TOGETHER)):
        place = np.linspace(first[known[part]], last[known[part]], 101, axis=1)
        places = between(place, 0, len(foot.pitch) - 1)
        for name, (curve, factor) in series.items():
            if curve is not None:
                read[name][part] = places.read(curve) * factor
    read["toe_height_mm"][~strides.floor_known[known]] = np.nan
    columns = _repeated(keys, 101 * len(known), tables.CURVES)
    columns |= {name: pa.array(values.ravel(), from_pandas=True) for name, values in read.items()}
    columns["bout"] = np.repeat(strides.bout[known], 101)
    columns["stride"] = np.repeat(strides.number[known], 101)
    columns["percent"] = np.tile(np.arange(101), len(known))
    columns["steady"] = np.repeat(strides.steady[known], 101)
    return pa.table({name: columns[name] for name in tables.CURVES.names}, schema=tables.CURVES)


def _repeated(keys: Keys, count: int, schema: pa.Schema) -> dict[str, object]:
    """What every row begins with, as columns."""
    return {name: pa.repeat(pa.scalar(value, schema.field(name).type), count) for name, value in keys.items()}


def _text(words: TextArray) -> pa.Array:
    """A column of words, null where empty."""
    return pa.array(words, mask=words == "")
