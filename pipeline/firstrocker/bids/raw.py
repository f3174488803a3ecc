"""A study's logs as a Motion-BIDS dataset, which can be read as a study again.

Numbers are written so that they read back as the very same ones: SI units, as many digits as they hold. What the
standard has no place for (who is affected, what was worn, the ruler) stands in each session's ``session.yaml``.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from firstrocker.bids.dataset import TASK, file_stem
from firstrocker.files import replacing, write_json, write_text
from firstrocker.model import Log
from firstrocker.signals.motion_names import FOLDER, spatial_axes
from firstrocker.signals.read import SessionInput
from firstrocker.signals.session import SessionFile, Walk
from firstrocker.signals.uniform import sampling_rate

_COLUMNS = ("name", "component", "type", "tracked_point", "units", "placement", "reference_frame")


def write_session(out: Path, session: SessionFile, given: SessionInput) -> None:
    """One session's folder.

    Args:
        out: the dataset's folder.
        session: what the session file says; its logger profiles are not needed any more.
        given: the walks that could be read; the others are left out.
    """
    folder = out / f"sub-{session.subject}" / f"ses-{session.session}"
    read = {walk.info.walk: walk.logs for walk in given.walks}
    entries: list[dict[str, Any]] = []
    for walk in session.walks:
        if walk.walk not in read:
            continue
        labels = _labels(walk)
        start = min(float(log.time[0]) for log in read[walk.walk])
        for log in read[walk.walk]:
            stem = file_stem(session.subject, session.session, f"{log.side}{log.segment}", **labels)
            _write_log(folder / FOLDER / stem, log, start=start, task=labels["task"])
        entry = walk.model_dump(exclude={"logs", "motion"}, exclude_none=True, mode="json")
        entries.append(entry | {"motion": labels})
    head = session.model_dump(exclude={"walks", "loggers"}, exclude_none=True, mode="json")
    text = yaml.safe_dump(head | {"walks": entries}, sort_keys=False, allow_unicode=True)
    write_text(folder / "session.yaml", text)


def write_participants(out: Path, sides: Iterable[tuple[str, str]]) -> None:
    """participants.tsv and what its columns mean; ``sides`` are subjects with their affected side."""
    rows = ["participant_id\taffected_side", *(f"sub-{subject}\t{side}" for subject, side in sides)]
    write_text(out / "participants.tsv", "\n".join(rows) + "\n")
    levels = {"left": "the left leg", "right": "the right leg"}
    write_json(
        out / "participants.json", {"affected_side": {"Description": "Side with the drop foot", "Levels": levels}}
    )


def _labels(walk: Walk) -> dict[str, str]:
    """The entities that tell a walk's recording apart: those it came with, else its label as acq."""
    if walk.motion is None:
        return {"task": TASK, "acq": walk.walk}
    return {"task": TASK} | walk.motion.model_dump(exclude_none=True)


def _write_log(stem: Path, log: Log, *, start: float, task: str) -> None:
    import pyarrow as pa
    from pyarrow import csv

    point = f"{log.side}_{log.segment}"
    columns = [log.time - start, *log.acceleration.T, *log.angular_velocity.T]
    rows = [("latency", "n/a", "LATENCY", "n/a", "s", "n/a", "n/a")]
    for kind, name, unit in (("ACCEL", "acc", "m/s^2"), ("GYRO", "gyro", "rad/s")):
        for axis in "xyz":
            rows.append((f"{point}_{name}_{axis}", axis, kind, point, unit, f"{log.side} {log.segment}", "sensor"))
    table = pa.table({str(k): np.ascontiguousarray(column) for k, column in enumerate(columns)})
    with replacing(stem.with_name(f"{stem.name}_motion.tsv")) as temporary:
        csv.write_csv(table, temporary, csv.WriteOptions(include_header=False, delimiter="\t"))
    lines = ["\t".join(row) for row in (_COLUMNS, *rows)]
    write_text(stem.with_name(f"{stem.name}_channels.tsv"), "\n".join(lines) + "\n")
    write_json(stem.with_name(f"{stem.name}_channels.json"), {"reference_frame": {"Levels": {"sensor": _frame(log)}}})
    write_json(stem.with_name(f"{stem.name}_motion.json"), _sidecar(log, task))


def _frame(log: Log) -> dict[str, str]:
    axes = None if log.mounting is None else spatial_axes(log.mounting)
    if axes is None:
        return {"Description": "The sensor's own axes; how they lie on the segment is not known."}
    return {"SpatialAxes": axes, "Description": "The sensor's own axes, as they lie on the segment."}


def _sidecar(log: Log, task: str) -> dict[str, Any]:
    effective = sampling_rate(log.time)
    return {
        "TaskName": task,
        "TaskDescription": "Standing still, then walking.",
        "SamplingFrequency": log.declared_rate_hz or effective,
        "SamplingFrequencyEffective": effective,
        "TrackingSystemName": f"{log.side} {log.segment}",
        "MotionChannelCount": 7,
        "ACCELChannelCount": 3,
        "GYROChannelCount": 3,
        "LATENCYChannelCount": 1,
        "TrackedPointsCount": 1,
        "MissingValues": "n/a",
    }
