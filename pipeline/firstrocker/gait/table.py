"""Strides of one side of one walk as columns of strides.parquet and curves.parquet: degrees, millimetres, nulls."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from firstrocker import tables
from firstrocker.gait.bouts import Stride
from firstrocker.gait.errors import Errors
from firstrocker.gait.measures import Curves, loading, stance, swing, timing
from firstrocker.measures import BY_COLUMN
from firstrocker.model import Person, WalkInfo
from firstrocker.motion.integrate import at

FACTORS = {"deg": 180.0 / np.pi, "deg/s": 180.0 / np.pi, "mm": 1000.0, "%": 100.0}
"""From SI and radians to the unit of the table; others stay."""

Row = dict[str, object]
OVER_GROUND = (
    "toe_clearance_min_mm",
    "toe_clearance_min_mm_se",
    "toe_clearance_kind",
    "heel_clearance_max_mm",
    "heel_clearance_max_mm_se",
)
"""What cannot be had where edges may lie under the swinging foot."""
BELOW_MM, BELOW_SE = 5.0, 2.0
"""How far under the ground a clearance is impossible: floors, soles and toes give some millimetres, and its error."""


def walk_keys(person: Person, info: WalkInfo, side: str) -> Row:
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


def stride_rows(keys: Row, strides: list[Stride], data: Curves, errors: Errors) -> list[Row]:
    """One row per stride, in the table's units.

    Args:
        keys: of :func:`walk_keys`.
        strides: in order.
        data: the curves they are measured on.
        errors: gives each measure's standard error.
    """
    rate_hz = data.foot.rate_hz
    rows: list[Row] = []
    for stride in strides:
        in_swing, mid_swing = swing(stride, data)
        in_loading, contact = loading(stride, data)
        values = timing(stride, rate_hz) | in_swing | in_loading | stance(stride, data)
        deviations = errors.of(stride, values, mid_swing)
        row: Row = dict(keys)
        row |= {
            "bout": stride.bout,
            "stride": stride.number,
            "heel_strike_s": _second(stride.before.heel_strike, rate_hz),
            "foot_flat_s": _second(stride.before.foot_flat, rate_hz),
            "heel_off_s": _second(stride.swing.heel_off, rate_hz),
            "toe_off_s": _second(stride.swing.toe_off, rate_hz),
            "next_heel_strike_s": _second(stride.swing.heel_strike, rate_hz),
            "contact": contact,
            "toe_clearance_kind": None if mid_swing is None else mid_swing.kind,
            "steady": not stride.left_out,
            "left_out": stride.left_out,
            "ground": stride.ground,
        }
        for name, value in values.items():
            factor = FACTORS.get(BY_COLUMN[name].unit, 1.0)
            row[name] = _number(value * factor)
            if BY_COLUMN[name].has_se:
                deviation = deviations.get(name, float("nan")) * factor
                row[f"{name}_se"] = None if row[name] is None else _number(deviation)
        if not stride.floor_known:
            row |= dict.fromkeys(OVER_GROUND)
        _drop_impossible(row)
        rows.append(row)
    return rows


def _drop_impossible(row: Row) -> None:
    """A toe under the ground by more than its error allows is no measurement: the seat on the shoe must be wrong."""
    height, deviation = row["toe_clearance_min_mm"], row["toe_clearance_min_mm_se"]
    if isinstance(height, float) and isinstance(deviation, float) and height < -BELOW_MM - BELOW_SE * deviation:
        row["toe_clearance_min_mm"] = row["toe_clearance_min_mm_se"] = None


def curve_columns(keys: Row, strides: list[Stride], data: Curves) -> pa.Table:
    """101 rows per stride whose heel strikes are both known, at every percent of it."""
    degrees = 180.0 / np.pi
    foot, shank = data.foot, data.shank
    nothing = np.full(len(foot.pitch), np.nan)
    series = {
        "foot_pitch_deg": foot.pitch * degrees,
        "ankle_deg": nothing if data.ankle is None else data.ankle * degrees,
        "shank_deg": nothing if shank is None else shank.angle * degrees,
        "foot_pitch_rate_deg_s": data.pitch_rate * degrees,
        "ankle_rate_deg_s": nothing if data.ankle_rate is None else data.ankle_rate * degrees,
        "shank_rate_deg_s": nothing if data.shank_rate is None else data.shank_rate * degrees,
        "toe_height_mm": foot.toe_height * 1000.0,
    }
    whole = [s for s in strides if not np.isnan(s.before.heel_strike + s.swing.heel_strike)]
    percent = np.arange(101)
    if not whole:
        return tables.CURVES.empty_table()
    place = np.concatenate([np.linspace(s.before.heel_strike, s.swing.heel_strike, 101) for s in whole])
    columns: dict[str, object] = {
        name: pa.repeat(pa.scalar(value, tables.CURVES.field(name).type), len(place))
        for name, value in keys.items()
        if name in tables.CURVES.names
    }
    columns["bout"] = np.repeat([s.bout for s in whole], 101)
    columns["stride"] = np.repeat([s.number for s in whole], 101)
    columns["percent"] = np.tile(percent, len(whole))
    columns["steady"] = np.repeat([not s.left_out for s in whole], 101)
    unseen = np.repeat([not s.floor_known for s in whole], 101)
    for name, values in series.items():
        read = at(values, place)
        if name == "toe_height_mm":
            read[unseen] = np.nan
        columns[name] = pa.array(read, from_pandas=True)
    return pa.table({name: columns[name] for name in tables.CURVES.names}, schema=tables.CURVES)


def strides_table(rows: list[Row]) -> pa.Table:
    """Rows of :func:`stride_rows` as strides.parquet."""
    return pa.Table.from_pylist(rows, schema=tables.STRIDES)


def _second(sample: float, rate_hz: float) -> float | None:
    return _number(sample / rate_hz)


def _number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
