"""The logs of an invented day, written part by part as Parquet or as text."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq

from firstrocker.model import FloatArray, Segment, Side
from firstrocker.synth.day import HEADER, SENSORS, Clock, Day, Faults, Stroll, readings
from firstrocker.synth.pastimes import RATE_HZ, Pair
from firstrocker.synth.sensors import random_seat

SCHEMA = pa.schema([pa.field("t", pa.float64()), *(pa.field(name, pa.float32()) for name in HEADER[1:])])
SESSION = """\
# Invented: no such person.
subject: {subject}
session: "{session}"
affected_side: left
foot_sensor: {{to_toe_mm: 145, above_ground_mm: 75}}
shoe: {{outsole_mm: 285}}
loggers:
  home:
    columns: {{time: t, acceleration: [ax, ay, az], angular_velocity: [gx, gy, gz]}}
    units: {{time: s, acceleration: m/s^2, angular_velocity: rad/s}}
    axes: unknown
walks:
  - walk: day
    condition: braced
    logs:
"""


def write_day(
    folder: Path, day: Day, walks: Sequence[Stroll], faults: Faults, *, seed: int, suffix: str = "parquet"
) -> None:
    """Write a session folder whose one walk is a day.

    Args:
        folder: ``sub-<label>/ses-<label>``; made.
        day: what happens.
        walks: the walks that it is made of.
        faults: of the sensors.
        seed: of seats and noise.
        suffix: parquet or csv.
    """
    folder.mkdir(parents=True, exist_ok=True)
    text = SESSION.format(subject=folder.parent.name.removeprefix("sub-"), session=folder.name.removeprefix("ses-"))
    for segment, side in SENSORS:
        text += f"      - {{segment: {segment}, side: {side}, file: {segment}_{side}.{suffix}, logger: home}}\n"
    (folder / "session.yaml").write_text(text, encoding="utf-8")
    rng = np.random.default_rng(seed)
    with ExitStack() as stack:
        sensors = {
            sensor: _Sensor(
                sensor, faults, np.random.default_rng([seed, number]), _writer(folder, sensor, suffix, stack)
            )
            for number, sensor in enumerate(SENSORS)
        }
        at = 0
        for part in readings(day, walks, seed=int(rng.integers(2**31))):
            for sensor in part:
                sensors[sensor].log(part[_place(sensor, faults, at / RATE_HZ)], at)
            at += len(next(iter(part.values()))[0])


def _writer(folder: Path, sensor: tuple[Segment, Side], suffix: str, stack: ExitStack) -> Any:
    path = folder / f"{sensor[0]}_{sensor[1]}.{suffix}"
    writer = (
        pq.ParquetWriter(path, SCHEMA, compression="zstd") if suffix == "parquet" else pa_csv.CSVWriter(path, SCHEMA)
    )
    return stack.enter_context(writer)


def _place(sensor: tuple[Segment, Side], faults: Faults, time: float) -> tuple[Segment, Side]:
    """Where a sensor sits at a time, s."""
    for remount in faults.remounts:
        if time >= remount.at:
            sensor = remount.place_of(sensor)
    return sensor


class _Sensor:
    """One sensor with its logger through a day."""

    def __init__(self, sensor: tuple[Segment, Side], faults: Faults, rng: np.random.Generator, writer: Any) -> None:
        self._sensor, self._faults, self._rng, self._writer = sensor, faults, rng, writer
        self._seats = random_seat(rng), random_seat(rng)
        self._bias = faults.gyro_bias * rng.standard_normal(3), faults.bias_wander * rng.standard_normal(3)
        self._clock = faults.clocks.get(sensor, Clock())
        restart = faults.restart if faults.restart is not None and faults.restart[0] == sensor else None
        self._restart = None if restart is None else restart[1:]

    def log(self, pair: Pair, first: int) -> None:
        faults, rng = self._faults, self._rng
        force, rate = pair
        time = (first + np.arange(len(force))) / RATE_HZ
        again = faults.remount_at is not None and time[0] >= faults.remount_at
        seat = self._seats[1 if again else 0]
        for remount in faults.remounts:
            if time[0] >= remount.at and self._sensor in remount.turned:
                seat = seat @ remount.turned[self._sensor]
        wandering = np.sin(2.0 * np.pi * time[:, None] / 43200.0)
        turned = rate @ seat.T + self._bias[0] + self._bias[1] * wandering
        values = np.column_stack(
            [
                force @ seat.T + faults.accel_noise * rng.standard_normal(force.shape),
                turned + faults.gyro_noise * rng.standard_normal(rate.shape),
            ]
        )
        kept = rng.random(len(time)) >= faults.lost
        shown = self._shown(time)
        kept &= np.isfinite(shown)
        arrays = [pa.array(np.round(shown[kept], 4)), *(pa.array(np.round(v, 5), pa.float32()) for v in values[kept].T)]
        self._writer.write_table(pa.table(arrays, schema=SCHEMA))

    def _shown(self, time: FloatArray) -> FloatArray:
        shown = self._clock.shows(time)
        if self._restart is None:
            return shown
        at, lasted = self._restart
        back = np.array([at + lasted])
        after = shown - float(self._clock.shows(back)[0])
        return np.where(time < at, shown, np.where(time < at + lasted, np.nan, after))
